"""Openings of a part: what is taken off each skin, as regions of its flat map."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiPolygon, Point, Polygon
from shapely.affinity import affine_transform

from mapper.job.partfile.partsheet import PartSheet, at_key
from mapper.job.partfile.sheets import form_ring
from mapper.job.partfile.spec import HoleSpec, OpeningSpec, PartSpec
from mapper.surface.edges import glued_edges
from mapper.surface.geometry import Opening
from mapper.surface.measure import area
from mapper.surface.place import flat_at_space, flat_of, place_of
from mapper.surface.region import clean, disc, intersection, union, whole
from mapper.surface.round import flat_at_angle
from mapper.surface.skin import Skin
from mapper.surface.stretch import worst_stretch
from meshes.loft import LoftPlan

Array = NDArray[np.float64]

# Share of an opening that may hang over the edge unnoticed: more than the stretch of a flat map.
_OVER = 2e-3
_ASIDE = 2e-3  # mm


def openings_of(
    spec: PartSpec,
    sheets: tuple[PartSheet, ...],
    skins: tuple[Skin, ...],
    plan: LoftPlan | None,
) -> tuple[Opening, ...]:
    """Every opening and lightening hole; PartFileError for one that leaves its sheet."""
    found: list[Opening] = []
    for sheet, skin in zip(sheets, skins):
        found.extend(_holes(spec, sheet, skin, plan))
    for row in spec.opening:
        skin = skin_named(spec, row.path, row.skin, skins)
        found.append(Opening(row.name, skin.name, _opening(spec, row, skin)))
    return tuple(found)


def skin_named(
    spec: PartSpec, path: tuple[str | int, ...], name: str, skins: tuple[Skin, ...]
) -> Skin:
    """The skin of a name, the first one for ""; PartFileError naming those there are."""
    if not name:
        return skins[0]
    for skin in skins:
        if skin.name == name:
            return skin
    listed = ", ".join(f'"{s.name}"' for s in skins)
    raise spec.error((*path, "skin"), f'there is no skin "{name}";', f"allowed are {listed}.")


def _holes(
    spec: PartSpec, sheet: PartSheet, skin: Skin, plan: LoftPlan | None
) -> Iterator[Opening]:
    for i, ring in enumerate(sheet.sheet.holes):
        flat = skin.charts[0].flat_map.to_flat(np.asarray(ring))
        yield Opening(f"{skin.name}, {sheet.hole} {i + 1}", skin.name, clean(Polygon(flat)))
    for i, hole in enumerate(sheet.station_holes):
        if plan is None:
            continue
        name = f"{skin.name}, lightening hole {i + 1}"
        yield Opening(name, skin.name, _web_hole(spec, hole, sheet, skin, plan))


def _web_hole(
    spec: PartSpec, hole: HoleSpec, sheet: PartSheet, skin: Skin, plan: LoftPlan
) -> MultiPolygon:
    """A round hole of a spar's web: at mid height of its station, `height` above that."""
    chord = spec.chord if sheet.row is None else getattr(sheet.row, "chord", None)
    station = float(hole.station or 0.0)
    with at_key(spec, hole.path):
        ends = [plan.point(station, float(chord or 0.0), upper) for upper in (False, True)]
    flip = np.array([1.0, -1.0 if spec.mirrored else 1.0, 1.0])
    points = [(0.5 * (ends[0] + ends[1])) * flip, ends[1] * flip]
    flat, distance = flat_at_space(skin, np.array(points))
    low, high = skin.station.min(), skin.station.max()
    if not low <= station <= high or distance[0] > 1.0 or not np.isfinite(flat).all():
        raise spec.error(
            (*hole.path, "station"),
            "the hole lies off the web;",
            f"station {low:g} to {high:g} mm is allowed.",
        )
    up = flat[1] - flat[0]
    centre = flat[0] + (hole.height or 0.0) * up / np.linalg.norm(up)
    region = disc(skin, centre, 0.5 * hole.diameter)
    return _on_sheet(spec, (*hole.path, "diameter"), skin, region, np.pi * hole.diameter**2 / 4.0)


def _opening(spec: PartSpec, row: OpeningSpec, skin: Skin) -> MultiPolygon:
    """The region of an opening: a form about its place, turned; a polygon's corners from it."""
    centre, outboard, aft = _frame(spec, row, skin)
    if row.form == "round":
        if not np.isfinite(place_of(skin, centre[None, :]).station).all():
            raise _off(spec, row)
        size = np.pi * float(row.diameter or 0.0) ** 2 / 4.0
        region = disc(skin, _aside(skin, centre), 0.5 * float(row.diameter or 0.0))
        return _on_sheet(spec, row.path, skin, region, size)
    with at_key(spec, row.path):
        ring = form_ring(
            row.form,
            diameter=row.diameter,
            length=row.length,
            width=row.width,
            corner_radius=row.corner_radius,
            corners=row.corners,
        )
    turn = np.radians(row.turned)
    one = np.cos(turn) * outboard + np.sin(turn) * aft
    two = -np.sin(turn) * outboard + np.cos(turn) * aft
    shape = affine_transform(Polygon(ring), [one[0], two[0], one[1], two[1], centre[0], centre[1]])
    return _on_sheet(spec, row.path, skin, _laid(skin, shape, centre), shape.area)


def _aside(skin: Skin, centre: Array) -> Array:
    """The centre, 2 um inside its chart where it lies on a chart edge: a disc needs a chart to
    begin on."""
    point = Point(centre)
    for chart in skin.charts:
        ring = chart.outline.exterior
        if ring.distance(point) < _ASIDE:
            inner = chart.outline.buffer(-_ASIDE)
            return np.array(shapely.shortest_line(inner, point).coords[0])
    return centre


def _laid(skin: Skin, shape: Polygon, centre: Array) -> MultiPolygon:
    """A shape about a centre as a region; what reaches over a glued chart edge goes on in the next
    chart, turned with the piece of the edge nearest to the centre."""
    point = Point(centre)
    home = int(np.argmin([chart.outline.distance(point) for chart in skin.charts]))
    pieces = [clean(shapely.intersection(shape, skin.charts[home].outline))]
    for edge in (e for one in glued_edges(skin) for e in (one, one.turned())):
        line = LineString(edge.here)
        if edge.chart_here != home or not line.intersects(shape):
            continue
        along = shapely.line_locate_point(line, point)
        lengths = np.cumsum(np.hypot(*np.diff(edge.here, axis=0).T))
        k = min(int(np.searchsorted(lengths, along)), len(lengths) - 1)
        here, there = edge.here[k : k + 2], edge.there[k : k + 2]
        (a, b), (c, d) = (one[1] - one[0] for one in (here, there))
        turn = np.arctan2(d, c) - np.arctan2(b, a)
        cos, sin = np.cos(turn), np.sin(turn)
        moved = there[0] - np.array([cos * here[0][0] - sin * here[0][1],
                                     sin * here[0][0] + cos * here[0][1]])  # fmt: skip
        over = affine_transform(shape, [cos, -sin, sin, cos, moved[0], moved[1]])
        pieces.append(clean(shapely.intersection(over, skin.charts[edge.chart_there].outline)))
    return union(*pieces)


def _frame(spec: PartSpec, row: OpeningSpec, skin: Skin) -> tuple[Array, Array, Array]:
    """Centre, and unit vectors outboard and aft there, flat mm (2,)."""
    x, y = np.array([1.0, 0.0]), np.array([0.0, -1.0 if skin.mirrored else 1.0])
    if row.station is not None and row.angle is not None:
        centre = flat_at_angle(skin, row.station, row.angle)[0]
        if not np.isfinite(centre).all():
            raise _off(spec, row)
        return centre, x, y
    if row.station is None or row.chord is None:
        # On the flat map; a left part is described as if it were the right one.
        at = row.at or (0.0, 0.0)
        return np.asarray(at[0] * x + at[1] * y), x, y
    upper = row.side != "lower"
    step = 1.0
    stations = np.array([row.station, row.station - step, row.station + step])
    flat = flat_of(skin, stations, np.full(3, row.chord), np.full(3, upper))
    if not np.isfinite(flat[0]).all():
        raise _off(spec, row)
    known = [p for p in flat[1:] if np.isfinite(p).all()]
    along: Array = flat[2] - flat[1] if len(known) == 2 else x
    # Two charts lie apart: then the axis of the flat map itself is as good a guide as any.
    if np.linalg.norm(along) > 4.0 * step or not np.isfinite(along).all():
        along = x
    along = along / np.linalg.norm(along)
    across = np.array([-along[1], along[0]])
    aft = across if across @ y > 0.0 else -across
    return flat[0], along, aft if upper else -aft


def _off(spec: PartSpec, row: OpeningSpec) -> Exception:
    key = "at" if row.at is not None else "station" if row.station is not None else "corners"
    return spec.error(
        (*row.path, key),
        "the opening lies off the sheet;",
        "a place on the sheet is allowed.",
        "Measure its place again.",
    )


def _stretch(skin: Skin) -> float:
    """Largest share by which the flat map changes an area: a form is laid on the map."""
    return 0.01 * worst_stretch(skin).area_percent


def _on_sheet(
    spec: PartSpec, path: tuple[str | int, ...], skin: Skin, region: MultiPolygon, size: float
) -> MultiPolygon:
    inside = intersection(region, whole(skin))
    # Within a cell of a coarse stretched map true areas are spread unevenly: an opening is on the
    # sheet when it is by either measure.
    on = float(inside.area)
    if on < (1.0 - _OVER) * size:
        on = max(on, area(skin, inside))
    if on < (1.0 - _OVER) * size and on < (1.0 - _OVER - _stretch(skin)) * size:
        row = path[:-1] if isinstance(path[-1], str) else path
        keys = (*path[len(row) :], "station", "at", "corners", "diameter", "length")
        key = next(((*row, k) for k in keys if spec.lines.exact((*row, k))), row)
        share = 100.0 * (1.0 - on / size)
        given = (
            "it lies off the sheet;" if share > 99.9 else f"{share:.3g} % of it lies off the sheet;"
        )
        raise spec.error(
            key,
            given,
            "an opening wholly on the sheet is allowed.",
            "Measure its place and size again; give a notch in an edge up to that edge.",
        )
    return inside
