"""From what was drawn on the page to an outline: by the functions the command line uses.

Pieces are taken together in their order: "add" unites, "wipe" takes off. One outline is of one
sort, areas, lines or points; an area wiped off a line shortens it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import shapely
from shapely import LineString, MultiLineString, MultiPoint
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.job.entry import Outline
from mapper.job.outlines import outline_of
from mapper.job.partfile.select import Selection, selected
from mapper.job.pieces import keep_sort
from mapper.job.sense import longest_on
from mapper.surface import region
from mapper.surface.clip import GRID, finite, whole
from mapper.surface.geometry import Geometry
from mapper.surface.skin import Skin
from mapper.surface.stroke import spacing
from mapper.surface.tape import by_tape
from mapper.units import Units
from mapper.viewer.server.drawn import (
    BayShape,
    BoxShape,
    DiscShape,
    LineShape,
    PanelShape,
    PointShape,
    PolygonShape,
    Shape,
    StrokeShape,
    TapeShape,
    Where,
    WholeShape,
)

# A stroke is made of discs so closely set: more of them than this would take minutes.
MOST_DISCS = 20_000
_DIMENSION = {2: "area", 1: "line", 0: "point"}

# What stands for the outline of another entry: (its outline's shape on this skin).
Kept = Callable[[Any], BaseGeometry]


def outline_from(geometry: Geometry, where: Where, kept: Kept, units: Units) -> Outline:
    """The outline that was drawn on a part's shape.

    kept: gives the shape that a "kept" or "mirror" piece stands for. units: of messages. Raises
    MapperError for names, places and sizes that the shape does not have, for sorts that do not go
    together, and where nothing of it lies on the sheet.
    """
    skin = geometry.skin(where.skin)
    if where.face not in skin.face_names:
        outline_of(geometry, skin.name, where.face, shapely.MultiPolygon())  # names the faces
    drawn: BaseGeometry = shapely.MultiPolygon()
    for op, shapes in _runs(where.shapes):
        pieces = [_shape_of(geometry, skin, shape, kept, units) for shape in shapes]
        pieces = [p for p in pieces if not p.is_empty]
        if pieces:
            drawn = _added(drawn, pieces) if op == "add" else _wiped(drawn, pieces)
    if drawn.is_empty:
        raise MapperError(
            f"Nothing of the {skin.name!r} of {geometry.part} is drawn.",
            "An outline lies on the sheet, beside its openings and within its edges.",
            "Paint it, or say where it is.",
        )
    return outline_of(geometry, skin.name, where.face, drawn)


def _runs(shapes: Sequence[Shape]) -> list[tuple[str, list[Shape]]]:
    """Pieces one after the other that do the same, together: they are overlaid at once."""
    runs: list[tuple[str, list[Shape]]] = []
    for shape in shapes:
        if not runs or runs[-1][0] != shape.op:
            runs.append((shape.op, []))
        runs[-1][1].append(shape)
    return runs


def _sort(shape: BaseGeometry) -> str:
    return _DIMENSION[int(shapely.get_dimensions(shape))]


def _added(drawn: BaseGeometry, pieces: list[BaseGeometry]) -> BaseGeometry:
    every = [*pieces] if drawn.is_empty else [drawn, *pieces]
    sorts = {_sort(p) for p in every}
    if len(sorts) > 1:
        raise MapperError(
            f"{' and '.join(sorted(sorts))} were drawn at once.",
            "An entry has one outline: areas, lines or points.",
            "Record the others as entries of their own.",
        )
    (sort,) = sorts
    if sort == "area":
        return region.union(*every)
    return keep_sort(shapely.union_all(every, grid_size=GRID), sort)


def _wiped(drawn: BaseGeometry, pieces: list[BaseGeometry]) -> BaseGeometry:
    if drawn.is_empty:
        return drawn
    sort = _sort(drawn)
    areas = [p for p in pieces if _sort(p) == "area"]
    if len(areas) < len(pieces):
        raise MapperError(
            "A line or a point was given to wipe with.",
            "Areas wipe: a brush, a polygon, a box, a panel.",
            "Give the line a width.",
        )
    rest = shapely.difference(drawn, region.union(*areas), grid_size=GRID)
    return keep_sort(rest, sort)


def _shape_of(
    geometry: Geometry, skin: Skin, shape: Shape, kept: Kept, units: Units
) -> BaseGeometry:
    maker = _MAKERS.get(shape.type)
    return kept(shape) if maker is None else maker(geometry, skin, shape, units)


def _stroke(geometry: Geometry, skin: Skin, shape: StrokeShape, units: Units) -> BaseGeometry:
    _fits(geometry, skin, shape.radius, units)
    path = _line(shape.points)
    if path.length / spacing(shape.radius) > MOST_DISCS:
        raise MapperError(
            f"A stroke {units.show(path.length, 'mm')} long with a brush of radius "
            f"{units.show(shape.radius, 'mm')} was given.",
            f"At most {MOST_DISCS} times as long as the brush's steps is allowed.",
            "Take a larger brush, a line, or several strokes.",
        )
    return region.stroke(skin, path, shape.radius, region.openings_of(geometry, skin.name))


def _line(points: Sequence[tuple[float, float]]) -> BaseGeometry:
    xy = np.array(points, dtype=np.float64)
    line = shapely.points(xy[0]) if len(xy) == 1 else LineString(xy)
    finite(line)
    return line


def _polygon(geometry: Geometry, skin: Skin, shape: PolygonShape, units: Units) -> BaseGeometry:
    finite(shapely.multipoints(shape.ring))
    return region.polygon(skin, shape.ring)


def _disc(geometry: Geometry, skin: Skin, shape: DiscShape, units: Units) -> BaseGeometry:
    _fits(geometry, skin, shape.radius, units)
    holes = region.openings_of(geometry, skin.name)
    return region.disc(skin, shape.at, shape.radius, holes)


def _box(geometry: Geometry, skin: Skin, shape: BoxShape, units: Units) -> BaseGeometry:
    for name, span in (("stations", shape.stations), ("% chord", shape.chord)):
        if span is not None and not span[0] < span[1]:
            raise MapperError(
                f"{name} {_told(span, name, units)} were given.",
                "The second number must be greater than the first.",
                "Exchange them, or check the unit.",
            )
    if shape.chord is not None and not 0.0 <= shape.chord[0] < shape.chord[1] <= 100.0:
        raise MapperError(
            f"{shape.chord[0]:g} to {shape.chord[1]:g} % chord was given.",
            "0 to 100 is allowed.",
            "0 is the leading edge, 100 the trailing edge.",
        )
    return selected(
        geometry,
        Selection(
            skin=skin.name,
            stations=shape.stations,
            chord=shape.chord,
            angles=shape.angles,
            side=shape.side,
        ),
    )


def _told(span: tuple[float, float], name: str, units: Units) -> str:
    if name == "% chord":
        return f"{span[0]:g} and {span[1]:g}"
    return " and ".join(units.told(v, "mm") for v in span)


def _panel(
    geometry: Geometry, skin: Skin, shape: PanelShape | BayShape, units: Units
) -> BaseGeometry:
    pieces: Sequence[Any] = geometry.panels if shape.type == "panel" else geometry.bays
    rows = [p for p in pieces if p.skin == skin.name]
    found = [p.flat for p in rows if p.name == shape.name]
    if not found:
        raise MapperError(
            f"The skin {skin.name!r} has no {shape.type} {shape.name!r}.",
            f"It has {'; '.join(p.name for p in rows[:12]) or 'none'}.",
        )
    return region.intersection(found[0], whole(skin))


def _whole(geometry: Geometry, skin: Skin, shape: WholeShape, units: Units) -> BaseGeometry:
    return whole(skin)


def _point(geometry: Geometry, skin: Skin, shape: PointShape, units: Units) -> BaseGeometry:
    return MultiPoint([shape.at])


def _tape(geometry: Geometry, skin: Skin, shape: TapeShape, units: Units) -> BaseGeometry:
    at = by_tape(
        geometry,
        skin.name,
        rib=shape.rib,
        outboard=shape.outboard,
        spar=shape.spar,
        aft=shape.aft,
        upper=shape.upper,
    )
    if shape.radius is None:
        return MultiPoint([at])
    _fits(geometry, skin, shape.radius, units)
    return region.disc(skin, at, shape.radius, region.openings_of(geometry, skin.name))


def _lines(geometry: Geometry, skin: Skin, shape: LineShape, units: Units) -> BaseGeometry:
    path = _line(shape.points)
    if not path.length:
        raise MapperError(
            "A line of one place was given.", "A line has two places or more.", "Place a point."
        )
    if shape.width is None:
        return MultiLineString([path])
    _fits(geometry, skin, shape.width / 2, units)
    return region.band(skin, path, shape.width)


def _fits(geometry: Geometry, skin: Skin, radius: float, units: Units) -> None:
    most = longest_on(geometry, skin.name)
    if 2 * radius > most:
        raise MapperError(
            f"A radius of {units.told(radius, 'mm')} was given.",
            f"At most {units.show(most / 2, 'mm')}: the {skin.name!r} of {geometry.part} is "
            f"{units.show(most, 'mm')} from corner to corner.",
            "Check the number and its unit; the whole panel or part may be taken by its name.",
        )


_MAKERS: dict[str, Callable[[Geometry, Skin, Any, Units], BaseGeometry]] = {
    "stroke": _stroke,
    "polygon": _polygon,
    "disc": _disc,
    "box": _box,
    "panel": _panel,
    "bay": _panel,
    "whole": _whole,
    "point": _point,
    "tape": _tape,
    "line": _lines,
}
