"""From a shape on the flat map to an entry: the one way for command line, demo and page.

outline = outline_of(geometry, "skin", "outer", region)
entry = new_entry(book, part_id, "finding", outline=outline, values={"what": "dent"})
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.job import check
from mapper.job.book import Book
from mapper.job.entry import Entry, Outline, PhotoUse, Place, kind_of
from mapper.job.pieces import keep_sort, pieces_of
from mapper.job.records import EMPTY, new_id
from mapper.job.remembered import Kept, remembered
from mapper.job.sense import check_sense
from mapper.surface.clip import GRID, clean, finite, rims, whole
from mapper.surface.geometry import Geometry
from mapper.surface.measure import area
from mapper.surface.near import nearest_kinds
from mapper.surface.place import place_of
from mapper.surface.region import on_sheet
from mapper.surface.skin import Skin
from mapper.units import Units

_MEASURED: Kept[tuple[float, NDArray[np.float64]]] = WeakKeyDictionary()


def outline_of(geometry: Geometry, skin_name: str, face: str, shape: BaseGeometry) -> Outline:
    """The outline that a shape in the skin's flat plane (mm) makes on the sheet.

    Polygons, lines or points, one sort at a time. Made valid, cut at the skin's edges, openings
    taken off; with the place of each corner (station, % chord, side) and its true area. Raises
    MapperError for an unknown skin or face, mixed sorts, and where nothing lies on the sheet.
    """
    skin = geometry.skin(skin_name)
    if face not in skin.face_names:
        raise MapperError(
            f"No face {face!r} on the {skin.name!r} of {geometry.part}.",
            f"It has {check.listed(skin.face_names)}.",
        )
    finite(shape)
    region = _sort(shape)
    if region == "area":
        kept: BaseGeometry = on_sheet(geometry, skin_name, clean(shape))
    else:
        sheet = shapely.union_all(list(rims(skin)))
        holes = [o.flat for o in geometry.openings if o.skin == skin_name]
        kept = keep_sort(shapely.intersection(shape, sheet, grid_size=GRID), region)
        if holes:
            hole = shapely.union_all(holes)
            kept = keep_sort(shapely.difference(kept, hole, grid_size=GRID), region)
    if kept.is_empty:
        openings = [o for o in geometry.openings if o.skin == skin_name]
        inside = " and ".join(repr(o.name) for o in openings if o.flat.intersects(shape))
        raise MapperError(
            f"Nothing of the outline lies on the {skin_name!r} of {geometry.part}"
            + (f": it is in the opening {inside}." if inside else "."),
            "An outline lies within the sheet's edges and beside its openings.",
            "Draw it beside the opening, or say in words where it is (--place)."
            if inside
            else "Check the measures, or the part's shape.",
        )
    size, anchors = remembered(
        _MEASURED, geometry, (skin_name, kept.wkb), lambda: _measured(skin, kept, region)
    )
    return Outline(skin_name, face, kept, size, anchors)


def _measured(skin: Skin, kept: BaseGeometry, region: str) -> tuple[float, NDArray[np.float64]]:
    """The true area mm2 of an outline, and station, % chord and side (K, 3) of its corners."""
    where = place_of(skin, shapely.get_coordinates(kept))
    side = np.where(where.upper, 1.0, -1.0)
    side[~np.isfinite(where.station)] = np.nan
    anchors = np.column_stack([where.station, where.chord, side])
    return area(skin, kept) if region == "area" else 0.0, anchors


def _sort(shape: BaseGeometry) -> str:
    sorts = {int(d) for d in shapely.get_dimensions(shapely.get_parts(shape))}
    if shape.is_empty or len(sorts) != 1:
        raise MapperError(
            f"The outline is {'empty' if shape.is_empty else 'of several sorts'}.",
            "Allowed: polygons, lines or points, one sort at a time.",
        )
    return ("point", "line", "area")[sorts.pop()]


def new_entry(
    book: Book,
    part_id: str,
    kind: str,
    *,
    outline: Outline | None = None,
    place: Place | None = None,
    values: Mapping[str, Any] = EMPTY,
    when: date | datetime | None = None,
    entry_id: str = "",
    by: str = "",
    device_time: datetime | None = None,
    state: str = "open",
    deferred_to: date | None = None,
    note: str = "",
    photos: tuple[PhotoUse, ...] = (),
) -> Entry:
    """A new entry (version 0) on a part of the book, cut into one piece per sheet of the day.

    when: the day whose sheets it lies on (None: that of device_time, else today). What the program
    works out itself (fields marked computed) is filled in where an outline gives it. Raises
    MapperError as `Entry`, `pieces_of`, `check_sense`, and for an outline on a part without a
    shape.
    """
    part = book.part(part_id)
    kind_of(kind)
    made = Entry(
        id=entry_id or new_id(),
        job_id=book.job.id,
        part_id=part_id,
        kind=kind,
        outline=outline,
        place=place,
        geometry=_geometry_of(book, part_id)[0] if outline is not None else part.geometry,
        by=by,
        device_time=device_time,
        state=state,
        deferred_to=deferred_to,
        note=note,
        photos=photos,
        values=values,
    )
    made = cut(book, made, when)
    checked_sense(book, made)
    return made


def checked_sense(book: Book, entry: Entry) -> None:
    """`check_sense` of an entry on the shape it was drawn on, in the shop's units."""
    geometry = None if entry.outline is None else book.geometries[entry.geometry]
    check_sense(entry, geometry, Units(book.shop.units))


def cut(book: Book, entry: Entry, when: date | datetime | None = None) -> Entry:
    """The entry with its pieces (and computed values) made again from its outline.

    when: as in `new_entry`. An entry with a place in words only comes back as it is.
    """
    if entry.outline is None:
        return replace(entry, pieces=())
    geometry = book.geometries[entry.geometry]
    positions = [p for p in book.positions if p.part_id == entry.part_id]
    ids = {p.id for p in positions}
    items = [i for i in book.items if i.position_id in ids]
    day = when or entry.device_time or date.today()
    return replace(
        entry,
        pieces=pieces_of(geometry, positions, items, entry.outline, day),
        values={**entry.values, **worked_out(geometry, entry)},
    )


def _geometry_of(book: Book, part_id: str) -> tuple[str, Geometry]:
    part = book.part(part_id)
    if not part.geometry:
        raise MapperError(
            f"The part {part.name!r} has no shape.",
            "An outline is drawn on a part with a shape.",
            "Say in words where it is, or give the part a part file first.",
        )
    return part.geometry, book.geometries[part.geometry]


def worked_out(geometry: Geometry, entry: Entry) -> dict[str, float]:
    """The computed values of an entry: distances mm along the sheet from its outline to the nearest
    rivet row, rib and edge (openings count), as far as its kind has such fields and the skin has
    such lines. The way goes over chart edges and round openings."""
    outline = entry.outline
    suffix = "_distance"
    wanted = {f.name for f in kind_of(entry.kind).fields if f.computed}
    if outline is None or not wanted:
        return {}
    kinds = [name.removesuffix(suffix).replace("_", " ") for name in wanted]
    found = nearest_kinds(geometry, outline.skin, outline.shape, kinds)
    return {f"{kind.replace(' ', '_')}{suffix}": away for kind, away in found.items()}


def sheet_area(geometry: Geometry, skin_name: str) -> float:
    """True area (mm2) of one face of a skin, openings taken off."""
    skin = geometry.skin(skin_name)
    return area(skin, on_sheet(geometry, skin_name, whole(skin)))
