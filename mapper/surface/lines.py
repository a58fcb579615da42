"""Lines of constant station and constant % chord on the flat map.

Their corners lie on the true line and no piece is further than `SAGITTA` from it (a few times that
at the kinks where a line of % chord crosses a diagonal of the mesh), so that boxes bounded by them
are right to a millionth of their area.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiLineString

from mapper.errors import MapperError
from mapper.late import Late
from mapper.surface.flatmap import mesh_map_of
from mapper.surface.skin import Chart, Skin
from meshes.facets import FacetPatch
from meshes.mirror import unmirrored
from meshes.plane import PlanePatch
from meshes.sampling import parameters
from meshes.stationed import Stationed

if TYPE_CHECKING:
    from scipy import interpolate
else:
    interpolate = Late("scipy.interpolate")

Array = NDArray[np.float64]

SAGITTA = 1e-5
SIDES = ("upper", "lower", "both")


# Even points along a line of one % chord on a mesh, besides those where it bends: s(t) is smooth,
# so a spline through them is good to rounding.
_ROW = 513


def _check_side(side: str) -> None:
    if side not in SIDES:
        raise MapperError(f"The side {side!r} was given.", f"Allowed are {', '.join(SIDES)}.")


def station_line(skin: Skin, station: float, side: str = "both") -> MultiLineString:
    """The line of a station (mm) across a skin, from lower to upper trailing edge.

    On "both" it runs in one piece round the leading edge. Where two charts meet at that station
    each has its own line. Empty where the station is off the skin, or all of it has one station.
    MapperError for another word for the side.
    """
    _check_side(side)
    found: list[LineString] = []
    for chart in skin.charts:
        patch = unmirrored(chart.patch)
        if isinstance(patch, PlanePatch):
            found += _plane_line(chart, patch.stations, station)
            continue
        if isinstance(patch, FacetPatch):
            found += _facet_line(chart, patch, station)
            continue
        if not isinstance(patch, Stationed):
            continue
        t = float(patch.t_at_station(station))
        low, high = patch.low, patch.high
        if patch.chorded and side == "upper":
            low = max(low, 0.0)
        if patch.chorded and side == "lower":
            high = min(high, 0.0)
        if 0.0 <= t <= 1.0 and low < high:
            found.append(_along_s(chart, patch, t, low, high))
    return MultiLineString([line for line in found if not line.is_empty])


def chord_line(
    skin: Skin, chord: float, side: str = "both", stations: tuple[float, float] | None = None
) -> MultiLineString:
    """The line of a % chord along a skin, on a side or both, between two stations (None: all).

    Empty where the part has no chord, the line is off it, or the stations are. 0 and 100 % are the
    leading and the trailing edge; 0 gives one line on "both". MapperError for another word for the
    side, a chord outside 0 to 100, stations out of order.
    """
    _check_side(side)
    if not 0.0 <= chord <= 100.0:
        raise MapperError(f"{chord:g} % chord was given.", "0 to 100 % is allowed.")
    if stations is not None and not stations[0] < stations[1]:
        raise MapperError(
            f"Stations {stations[0]:g} to {stations[1]:g} mm were given.",
            "The second must lie outboard of the first.",
        )
    sides = ("upper", "lower") if side == "both" and chord > 0.0 else (side,)
    found: list[LineString] = []
    for chart in skin.charts:
        patch = unmirrored(chart.patch)
        if isinstance(patch, PlanePatch) and patch.chords is not None:
            found += _plane_line(chart, patch.chords, chord)
        if not isinstance(patch, Stationed) or not patch.chorded:
            continue
        t0, t1 = 0.0, 1.0
        if stations is not None:
            t0, t1 = np.clip(patch.t_at_station(stations), 0.0, 1.0)
        if t0 < t1:
            for one in sides:
                found += _along_t(chart, patch, chord, one != "lower", float(t0), float(t1))
    return MultiLineString([line for line in found if not line.is_empty])


def _plane_line(chart: Chart, law: Sequence[float], value: float) -> list[LineString]:
    """Pieces of the straight line law[0] + law[1] s + law[2] t = value inside a flat piece."""
    slope = np.array(law[1:], dtype=np.float64)
    size = float(np.hypot(*slope))
    if size == 0.0:
        return []
    foot = (value - law[0]) / size**2 * slope
    along = np.array([-slope[1], slope[0]]) / size
    if along[1] < 0.0 or (along[1] == 0.0 and along[0] < 0.0):
        along = -along
    reach = float(np.abs(chart.rim).max()) * 2.0 + float(np.hypot(*foot)) + 1.0
    ends = chart.flat_map.to_flat(np.stack([foot - reach * along, foot + reach * along]))
    cut = shapely.intersection(chart.outline, LineString(ends))
    return [piece for piece in shapely.get_parts(cut) if isinstance(piece, LineString)]


def _facet_line(chart: Chart, patch: FacetPatch, station: float) -> list[LineString]:
    """Where a piece of mesh is cut by the plane of a station: straight in each triangle."""
    height = patch.points[:, patch.axis] + patch.datum - station
    # A corner exactly on the plane counts as beyond it, so that no piece is found twice.
    over = height >= 0.0
    corners = patch.corners[over[patch.corners].any(axis=1) & ~over[patch.corners].all(axis=1)]
    if len(corners) == 0:
        return []
    flat = chart.flat_map.to_flat(patch.flat)
    ends = []
    for k in range(3):
        a, b = corners[:, k], corners[:, (k + 1) % 3]
        cut = over[a] != over[b]
        share = np.where(cut, height[a] / np.where(cut, height[a] - height[b], 1.0), np.nan)
        ends.append(flat[a] + share[:, None] * (flat[b] - flat[a]))
    both = np.stack(ends, axis=1)
    pairs = both[np.isfinite(both[..., 0])].reshape(-1, 2, 2)
    merged = shapely.line_merge(MultiLineString(list(pairs)))
    return [p for p in shapely.get_parts(merged) if isinstance(p, LineString)]


def _along_s(chart: Chart, patch: Stationed, t: float, low: float, high: float) -> LineString:
    def flat(s: Array) -> Array:
        return chart.flat_map.to_flat(np.stack([s, np.full_like(s, t)], axis=-1))

    mesh = mesh_map_of(chart.flat_map)
    if mesh is not None:
        # Straight between the mesh lines and their diagonals: these corners are the whole line.
        cell = int(np.clip(np.searchsorted(mesh.t, t, side="right") - 1, 0, len(mesh.t) - 2))
        share = (t - mesh.t[cell]) / (mesh.t[cell + 1] - mesh.t[cell])
        marks = np.union1d(mesh.s, mesh.s[:-1] + share * np.diff(mesh.s))
        # On a mesh line the diagonals' corners are the mesh's own up to rounding: once is enough,
        # or the line would begin with a piece too short to have a direction.
        least = 1e-12 * (high - low)
        marks = marks[(marks > low + least) & (marks < high - least)]
        marks = marks[np.concatenate([[True], np.diff(marks) > least])] if len(marks) else marks
        at = np.concatenate([[low], marks, [high]])
    else:
        lines = np.union1d(chart.patch.s_lines, [0.0])
        breaks = np.concatenate([[low], lines[(lines > low) & (lines < high)], [high]])
        at = parameters(flat, breaks, SAGITTA)
    return LineString(flat(at))


def _along_t(
    chart: Chart, patch: Stationed, chord: float, upper: bool, t0: float, t1: float
) -> list[LineString]:
    ends = patch.s_at_chord(np.array([t0, t1]), chord, upper)
    if not np.isfinite(ends).all():
        return []

    def flat(t: Array) -> Array:
        s = patch.s_at_chord(t, chord, upper)
        return chart.flat_map.to_flat(np.stack([s, t], axis=-1))

    mesh = mesh_map_of(chart.flat_map)
    if mesh is None:
        # One section throughout: the same s everywhere, a straight line of the surface.
        return [LineString(flat(np.array([t0, t1])))]
    # s(t) is smooth, so a spline through one solve finds where the line changes triangle, and so
    # bends on the map; those points and the even row are then solved for exactly, in one go.
    even = np.linspace(t0, t1, _ROW)
    guide = interpolate.CubicSpline(even, patch.s_at_chord(even, chord, upper))

    def triangle(t: Array) -> NDArray[np.int64]:
        return mesh.triangle_of(np.stack([guide(t), t], axis=-1))

    marks = mesh.t[(mesh.t > t0) & (mesh.t < t1)]
    row = LineString(flat(_crossings(triangle, np.union1d(even, marks))))
    return [shapely.simplify(row, SAGITTA)]


def _crossings(triangle: Callable[[Array], NDArray[np.int64]], breaks: Array) -> Array:
    """The breaks and, between them, the parameters where the triangle changes, by halving.

    Each pass finds one change in every interval that has any; four passes find up to 15.
    """
    for _ in range(4):
        left, right = breaks[:-1], breaks[1:]
        inset = 1e-9 * (right - left)
        low, high = left + inset, right - inset
        start = triangle(low)
        rows = np.flatnonzero(start != triangle(high))
        if len(rows) == 0:
            break
        low, high, start = low[rows], high[rows], start[rows]
        for _ in range(40):
            middle = 0.5 * (low + high)
            same = triangle(middle) == start
            low, high = np.where(same, middle, low), np.where(same, high, middle)
        breaks = np.union1d(breaks, 0.5 * (low + high))
    return breaks
