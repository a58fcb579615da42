"""An outline cut at the seams: one piece per sheet that was there on the day.

An entry keeps its outline as drawn and these pieces; when a sheet is replaced its pieces stay with
the old one. The pieces of an outline add up to what of it lies on the sheet: nothing is lost
between two panels, and what is over an opening or beyond the rim belongs to no item.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date, datetime
from functools import lru_cache
from typing import Any
from weakref import WeakKeyDictionary

import shapely

from mapper.errors import MapperError
from mapper.job import check
from mapper.job.entry import Entry, Outline, Piece
from mapper.job.records import Item, Part, Position, new_id
from mapper.job.remembered import Kept, remembered
from mapper.surface.clip import GRID, rims
from mapper.surface.geometry import Geometry
from mapper.surface.measure import area as true_area
from mapper.surface.skin import Skin

Cuts = tuple[tuple[str, Any], ...]

_SLIVER = 1e-3  # mm: what is narrower than twice this came from rounding to the grid
_CUTS: Kept[Cuts] = WeakKeyDictionary()
_DIMENSION = {"area": 2, "line": 1, "point": 0}
_MULTI: dict[int, Callable[[list[Any]], Any]] = {
    2: shapely.MultiPolygon,
    1: shapely.MultiLineString,
    0: shapely.MultiPoint,
}


def pieces_of(
    geometry: Geometry,
    positions: Iterable[Position],
    items: Iterable[Item],
    outline: Outline,
    when: date | datetime,
    *,
    measured: Callable[[Skin, Any], float] = true_area,
) -> tuple[Piece, ...]:
    """The pieces of an outline, one for each item that was there on the day, in panel order.

    positions, items: those of the part. A panel without a position of its own belongs to the
    position of its skin or of the whole part. measured(skin, region) gives a piece's area in mm2.
    Raises MapperError where the outline lies off the sheet altogether, the face is not one of the
    skin's, or a sheet it lies on had no item that day.
    """
    skin = geometry.skin(outline.skin)
    if outline.face not in skin.face_names:
        raise MapperError(
            f"No face {outline.face!r} on the {skin.name!r} of {geometry.part}.",
            f"It has {check.listed(skin.face_names)}.",
        )
    day = when.date() if isinstance(when, datetime) else when
    positions, items = tuple(positions), tuple(items)
    of_item: dict[str, list[Any]] = {}
    for panel, shape in cut_at_seams(geometry, outline):
        item = _item_at(positions, items, skin.name, panel, day)
        of_item.setdefault(item.id, []).append(shape)
    pieces = []
    for item_id, shapes in of_item.items():
        shape = shapes[0] if len(shapes) == 1 else _joined(shapes, outline.region)
        size = measured(skin, shape) if outline.region == "area" else 0.0
        pieces.append(Piece(item_id, outline.skin, outline.face, shape, size))
    return tuple(pieces)


def cut_at_seams(geometry: Geometry, outline: Outline) -> Cuts:
    """The outline as (panel name, shape) pairs; "" where the skin has no panel there.

    The last few are kept: an entry asks for its pieces and for its panels, and the same zone is
    stripped, looked at and treated in turn. Raises MapperError where nothing of it lies on the
    sheet.
    """
    key = (outline.skin, outline.region, outline.shape.wkb)
    return remembered(_CUTS, geometry, key, lambda: _cut_at_seams(geometry, outline))


def _cut_at_seams(geometry: Geometry, outline: Outline) -> Cuts:
    panels = [p for p in geometry.panels if p.skin == outline.skin]
    for panel in panels:
        shapely.prepare(panel.flat)
        if panel.flat.covers(outline.shape):
            return ((panel.name, outline.shape),)
    region = outline.region
    rest = _overlay(shapely.intersection, outline.shape, _sheet(geometry, outline.skin), region)
    if rest.is_empty:
        raise MapperError(
            f"The outline lies off the {outline.skin!r} of {geometry.part}.",
            "An outline lies on the sheet, beside its openings and within its edges.",
            "Draw it again, or check the part's shape.",
        )
    found: list[tuple[str, Any]] = []
    slivers: list[tuple[str, Any]] = []
    for panel in panels:
        # An overlay with a panel that lies beyond the grid's reach gives nothing, and takes long.
        if not shapely.dwithin(panel.flat, outline.shape, 10 * GRID):
            continue
        shape = _overlay(shapely.intersection, rest, panel.flat, region)
        if shape.is_empty:
            continue
        rest = _overlay(shapely.difference, rest, panel.flat, region)
        wide, thin = _sorted_by_width(shape, region)
        slivers += [(panel.name, g) for g in thin]
        if wide:
            found.append((panel.name, shape if not thin else _MULTI[2](wide)))
    left, thin = _sorted_by_width(rest, region)
    if not found:
        # All of it is as narrow: each sheet has its own, and what is beside them is the part's.
        names = dict.fromkeys(name for name, _ in slivers)
        found = [(n, _MULTI[2]([g for of, g in slivers if of == n])) for n in names]
        left, slivers, thin = [*left, *thin], [], []
    # Slivers along a seam come from rounding to the grid, and from an outline drawn up to it: the
    # nearest sheet keeps them.
    for sliver in (*(g for _, g in slivers), *thin):
        near = min(range(len(found)), key=lambda i: found[i][1].distance(sliver))
        found[near] = (found[near][0], _joined([found[near][1], sliver], region))
    if left:
        found.append(("", _MULTI[_DIMENSION[region]](left)))
    return tuple(found)


def _sorted_by_width(shape: Any, region: str) -> tuple[list[Any], list[Any]]:
    """The parts of a shape that are wider than rounding, and those that are not."""
    parts = list(shapely.get_parts(shape))
    if region != "area":
        return parts, []
    return (
        [g for g in parts if g.area > _SLIVER * g.length],
        [g for g in parts if g.area <= _SLIVER * g.length],
    )


def new_positions(
    part: Part, geometry: Geometry | None, since: date | None = None
) -> tuple[tuple[Position, ...], tuple[Item, ...]]:
    """Positions and original items for a new part: the part itself, then one for each panel.

    since: the day they are known from (None: always). A part without a shape has one of each.
    """
    panels = geometry.panels if geometry is not None else ()
    positions = (
        Position(new_id(), part.id, part.name),
        *(Position(new_id(), part.id, f"{part.name}, {p.name}", p.skin, p.name) for p in panels),
    )
    return positions, tuple(Item(new_id(), p.id, p.name, since=since) for p in positions)


def pieces_there(entry: Entry, items: Iterable[Item], when: date) -> tuple[Piece, ...]:
    """The pieces of an entry whose sheets are still there on that day; those of replaced sheets
    are kept in the entry but not among these."""
    there = {item.id for item in items if item.there(when)}
    return tuple(p for p in entry.pieces if p.item_id in there)


@lru_cache(maxsize=64)
def _sheet(geometry: Geometry, skin_name: str) -> Any:
    sheet = shapely.multipolygons(list(rims(geometry.skin(skin_name))))
    openings = [o.flat for o in geometry.openings if o.skin == skin_name]
    if openings:
        sheet = shapely.difference(sheet, shapely.union_all(openings), grid_size=GRID)
    shapely.prepare(sheet)
    return sheet


def _overlay(operation: Callable[..., Any], one: Any, other: Any, region: str) -> Any:
    """An overlay on the grid, of which only parts of the outline's own sort are kept."""
    return keep_sort(operation(one, other, grid_size=GRID), region)


def _joined(shapes: list[Any], region: str) -> Any:
    return keep_sort(shapely.union_all(shapes, grid_size=GRID), region)


def keep_sort(found: Any, region: str) -> Any:
    """Of what an overlay gave, the parts of one sort ("area", "line" or "point"), as a multi."""
    dimension = _DIMENSION[region]
    parts = shapely.get_parts(shapely.get_parts(found))
    kept = [g for g in parts if not g.is_empty and shapely.get_dimensions(g) == dimension]
    return _MULTI[dimension](kept)


def _item_at(
    positions: tuple[Position, ...], items: tuple[Item, ...], skin: str, panel: str, day: date
) -> Item:
    ways = [(skin, panel)] if panel else []
    for wanted in (*ways, (skin, ""), ("", "")):
        for position in positions:
            if (position.skin, position.panel) != wanted:
                continue
            for item in items:
                if item.position_id == position.id and item.there(day):
                    return item
            raise MapperError(
                f"Nothing was in the position {position.name!r} on {day.isoformat()}.",
                "An outline is recorded on the sheet that was there that day.",
                "Record the item with its dates first.",
            )
    raise MapperError(
        f"There is no position for {panel or skin!r}.",
        "Every sheet has a position on the airframe.",
        "Add the position and what was in it first.",
    )
