"""Finding places: flat mm <-> parameters <-> station, % chord and side <-> points in space.

All functions take and give arrays of K points; K = 0 gives empty arrays. A point that is on no
chart gives NaN (and chart -1), never a neighbour's place; `EDGE` mm beside a chart still count as
on its edge.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from mapper.errors import MapperError
from mapper.late import Late
from mapper.surface.skin import EDGE, Chart, Skin
from meshes.body import BodyPatch
from meshes.facets import FacetPatch
from meshes.folded import FoldedPatch
from meshes.mirror import unmirrored
from meshes.patch import Patch
from meshes.plane import PlanePatch
from meshes.stationed import Stationed
from meshes.turned import TurnedPatch

if TYPE_CHECKING:
    import igl
else:
    igl = Late("igl")

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Numbers = NDArray[np.intp]

ROUNDS = 60


@dataclass(frozen=True, eq=False)
class Places:
    """Where K points lie. station (K,) mm along the part's axis; across it chord (K,) %, NaN on
    parts without chord, with upper (K,), or on a closed body angle (K,), degrees round from the top
    about the middle of its own cross-section, outboard first, NaN on all other parts; chart (K,):
    number of the chart, -1 (with NaN station, chord and angle) for points off the skin."""

    station: Array
    chord: Array
    upper: Flags
    chart: Numbers
    angle: Array


def points_of(values: ArrayLike, width: int = 2) -> Array:
    """The values as (K, width) floats; one point becomes (1, width). MapperError otherwise."""
    points = np.asarray(values, dtype=np.float64)
    if points.ndim == 1 and points.shape[0] == width:
        points = points[None]
    if points.size == 0:
        return np.zeros((0, width))
    if points.ndim != 2 or points.shape[1] != width:
        raise MapperError(
            f"An array of shape {points.shape} was given.",
            f"Points of {width} coordinates in mm are allowed.",
        )
    return points


def param_of_flat(skin: Skin, flat: ArrayLike) -> tuple[Numbers, Array, Array]:
    """Chart number, s and t, each (K,), of flat points (K, 2) mm; -1 and NaN off the skin."""
    points = points_of(flat)
    chart = np.full(len(points), -1, dtype=np.intp)
    param = np.full((len(points), 2), np.nan)
    for number, piece in enumerate(skin.charts):
        low, high = piece.rim.min(axis=0) - EDGE, piece.rim.max(axis=0) + EDGE
        near = (chart < 0) & np.all((points >= low) & (points <= high), axis=1)
        rows = np.flatnonzero(near)
        if len(rows) == 0:
            continue
        found = piece.flat_map.to_param(points[rows])
        good = np.isfinite(found).all(axis=1)
        if isinstance(unmirrored(piece.patch), PlanePatch | FacetPatch):
            good &= shapely.dwithin(piece.outline, shapely.points(points[rows]), EDGE)
        chart[rows[good]] = number
        param[rows[good]] = found[good]
    return chart, param[:, 0], param[:, 1]


def flat_of_param(skin: Skin, chart: ArrayLike, s: ArrayLike, t: ArrayLike) -> Array:
    """Flat points (K, 2) mm of parameters s, t (K,) on charts (K,); NaN where the chart is -1."""
    numbers, first, second = np.broadcast_arrays(
        np.atleast_1d(np.asarray(chart, dtype=np.intp)),
        np.atleast_1d(np.asarray(s, dtype=np.float64)),
        np.atleast_1d(np.asarray(t, dtype=np.float64)),
    )
    result = np.full((len(numbers), 2), np.nan)
    for number, piece in enumerate(skin.charts):
        rows = numbers == number
        if rows.any():
            param = np.stack([first[rows], second[rows]], axis=-1)
            result[rows] = piece.flat_map.to_flat(param)
    return result


def _by_chart(skin: Skin, flat: ArrayLike, what: str, width: int) -> Array:
    chart, s, t = param_of_flat(skin, flat)
    result = np.full((len(chart), width), np.nan)
    for number, piece in enumerate(skin.charts):
        rows = chart == number
        if rows.any():
            result[rows] = getattr(piece.patch, what)(s[rows], t[rows])
    return result


def space_of(skin: Skin, flat: ArrayLike) -> Array:
    """Points (K, 3) mm of the exact surface, in the part's frame, at flat points (K, 2)."""
    return _by_chart(skin, flat, "at", 3)


def normal_of(skin: Skin, flat: ArrayLike) -> Array:
    """Unit normals (K, 3) at flat points (K, 2), pointing outward (to the first face)."""
    return _by_chart(skin, flat, "outward", 3)


def place_of(skin: Skin, flat: ArrayLike) -> Places:
    """Station, % chord and side at flat points (K, 2) mm; NaN off the skin."""
    chart, s, t = param_of_flat(skin, flat)
    station, chord = np.full(len(chart), np.nan), np.full(len(chart), np.nan)
    upper = np.zeros(len(chart), dtype=np.bool_)
    angle = np.full(len(chart), np.nan)
    for number, piece in enumerate(skin.charts):
        rows = chart == number
        if rows.any():
            station[rows] = piece.patch.station(s[rows], t[rows])
            chord[rows] = piece.patch.chord(s[rows], t[rows])
            upper[rows] = piece.patch.upper(s[rows], t[rows])
            patch = unmirrored(piece.patch)
            if isinstance(patch, BodyPatch | TurnedPatch):
                angle[rows] = patch.angle(s[rows], t[rows])
    return Places(station, chord, upper, chart, angle)


def flat_of(skin: Skin, station: ArrayLike, chord: ArrayLike, upper: ArrayLike) -> Array:
    """Flat points (K, 2) mm of stations mm, % chord and sides (True upper), broadcast together.

    NaN where the skin has no such place, and everywhere on parts without a chord. A station where
    two charts meet is taken on the inboard one.
    """
    stations, chords, sides = np.broadcast_arrays(
        np.atleast_1d(np.asarray(station, dtype=np.float64)),
        np.atleast_1d(np.asarray(chord, dtype=np.float64)),
        np.atleast_1d(np.asarray(upper, dtype=np.bool_)),
    )
    result = np.full((len(stations), 2), np.nan)
    for piece in skin.charts:
        patch = unmirrored(piece.patch)
        if not isinstance(patch, Stationed) or not patch.chorded:
            continue
        t = patch.t_at_station(stations)
        rows = np.flatnonzero((t >= 0.0) & (t <= 1.0) & np.isnan(result[:, 0]))
        if len(rows) == 0:
            continue
        s = patch.s_at_chord(t[rows], chords[rows], sides[rows])
        good = np.isfinite(s)
        param = np.stack([s[good], t[rows][good]], axis=-1)
        result[rows[good]] = piece.flat_map.to_flat(param)
    return result


def flat_at_space(skin: Skin, xyz: ArrayLike) -> tuple[Array, Array]:
    """The skin's nearest point to each of (K, 3) mm: flat (K, 2), and the distance (K,) mm to it.

    Starts from the nearest triangle and closes in on the exact surface, so points of the surface
    come back with distance 0 to rounding.
    """
    points = points_of(xyz, 3)
    flat, distance = np.full((len(points), 2), np.nan), np.full(len(points), np.nan)
    rows = np.flatnonzero(np.isfinite(points).all(axis=1))
    if len(rows) == 0:
        return flat, distance
    _, hit, near = igl.point_mesh_squared_distance(
        np.ascontiguousarray(points[rows]),
        np.ascontiguousarray(skin.points),
        skin.triangles.astype(np.int64),
    )
    hit = np.asarray(hit, dtype=np.intp).reshape(-1)
    for number, piece in enumerate(skin.charts):
        here = skin.chart_of[hit] == number
        if not here.any():
            continue
        wanted = points[rows[here]]
        if _is_flat(piece):
            param = _on_plane(piece, wanted)
        else:
            corners = skin.triangles[hit[here]]
            start = _blend(skin.points[corners], skin.param[corners], np.asarray(near)[here])
            # The nearest point of the mesh is the answer where the mesh is the surface.
            facets = isinstance(unmirrored(piece.patch), FacetPatch)
            param = start if facets else _closest(piece.patch, wanted, start)
        flat[rows[here]] = piece.flat_map.to_flat(param)
        found = piece.patch.at(param[:, 0], param[:, 1])
        distance[rows[here]] = np.linalg.norm(found - wanted, axis=1)
    return flat, distance


def _is_flat(piece: Chart) -> bool:
    """Whether a chart lies in one plane in space too: a bent-up pattern does not."""
    patch = unmirrored(piece.patch)
    return isinstance(patch, PlanePatch) and not isinstance(patch, FoldedPatch)


def _blend(corners: Array, params: Array, point: Array) -> Array:
    """Parameters (K, 2) of points in triangles (K, 3, 3), by their barycentric coordinates."""
    e1, e2, rest = (
        corners[:, 1] - corners[:, 0],
        corners[:, 2] - corners[:, 0],
        point - corners[:, 0],
    )
    a, b, c = (np.sum(p * q, axis=1) for p, q in ((e1, e1), (e1, e2), (e2, e2)))
    d, e = np.sum(rest * e1, axis=1), np.sum(rest * e2, axis=1)
    size = a * c - b * b
    u, v = (c * d - b * e) / size, (a * e - b * d) / size
    p0 = params[:, 0]
    return np.asarray(p0 + u[:, None] * (params[:, 1] - p0) + v[:, None] * (params[:, 2] - p0))


def _on_plane(piece: Chart, points: Array) -> Array:
    """Parameters of the nearest points of a flat piece inside its outline."""
    origin = piece.patch.at(0.0, 0.0)
    e1, e2 = piece.patch.partials(0.0, 0.0)
    param = np.stack([(points - origin) @ e1, (points - origin) @ e2], axis=-1)
    flat = piece.flat_map.to_flat(param)
    outside = ~shapely.intersects(piece.outline, shapely.points(flat))
    if outside.any():
        lines = shapely.shortest_line(piece.outline, shapely.points(flat[outside]))
        param[outside] = piece.flat_map.to_param(shapely.get_coordinates(lines)[::2])
    return param


def _closest(patch: Patch, points: Array, start: Array) -> Array:
    """Parameters of the patch's points nearest to (K, 3), from near starts, kept on the patch.

    Gauss and Newton's steps, halved until the distance falls; a parameter at its end that wants to
    go further is held there while the other moves.
    """
    low = np.array([patch.s_lines[0], patch.t_lines[0]])
    high = np.array([patch.s_lines[-1], patch.t_lines[-1]])
    param = np.clip(start, low, high)
    rest = points - patch.at(param[:, 0], param[:, 1])
    miss = np.sum(rest * rest, axis=1)
    pace = np.ones(len(points))
    for _ in range(ROUNDS):
        by_s, by_t = patch.partials(param[:, 0], param[:, 1])
        want_s, want_t = np.sum(rest * by_s, axis=1), np.sum(rest * by_t, axis=1)
        a, b, c = (np.sum(p * q, axis=1) for p, q in ((by_s, by_s), (by_s, by_t), (by_t, by_t)))
        size = np.maximum(a * c - b * b, 1e-300)
        step = np.stack([(c * want_s - b * want_t) / size, (a * want_t - b * want_s) / size], -1)
        held = ((param <= low) & (step < 0.0)) | ((param >= high) & (step > 0.0))
        alone = np.stack([want_s / a, want_t / c], axis=-1)
        step = np.where(held, 0.0, np.where(held[:, ::-1], alone, step))
        tried = np.clip(param + pace[:, None] * step, low, high)
        rest_tried = points - patch.at(tried[:, 0], tried[:, 1])
        miss_tried = np.sum(rest_tried * rest_tried, axis=1)
        better = miss_tried < miss
        moved = np.abs(tried - param).max(axis=1)
        param = np.where(better[:, None], tried, param)
        rest = np.where(better[:, None], rest_tried, rest)
        miss = np.where(better, miss_tried, miss)
        pace = np.where(better, np.minimum(1.0, 2.0 * pace), 0.25 * pace)
        if np.all((moved <= 1e-14) | (pace < 1e-6)):
            break
    return param
