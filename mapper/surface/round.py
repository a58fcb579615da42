"""Places on fuselages, cowlings, nacelles and bodies of revolution: station and the angle round.

Such a body has no chord. Across its station a place is told by the angle round, in degrees from the
top about the middle of its own cross-section, outboard first: on a right-hand part seen from behind
clockwise. Heights above the part's zero (waterlines) are for lines only: most are met twice.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import LineString, MultiLineString, MultiPolygon

from mapper.errors import MapperError
from mapper.surface.clip import EMPTY, clean, clip, union
from mapper.surface.edges import CLOSE, follow, run_breaks
from mapper.surface.limits import strip
from mapper.surface.lines import SAGITTA
from mapper.surface.skin import Chart, Skin
from meshes.body import BodyPatch
from meshes.mirror import unmirrored
from meshes.turned import TurnedPatch

Array = NDArray[np.float64]

# Even steps along a chart, besides the mesh's own, from which a line is followed.
_STEPS = 129


RoundPatch = BodyPatch | TurnedPatch


def round_patch(chart: Chart) -> RoundPatch | None:
    """The patch behind a chart (and its mirror) that has an angle round; None for another."""
    patch = unmirrored(chart.patch)
    return patch if isinstance(patch, BodyPatch | TurnedPatch) and patch.round else None


def has_angles(skin: Skin) -> bool:
    """Whether places on a skin have an angle round."""
    return any(round_patch(chart) is not None for chart in skin.charts)


def flat_at_angle(skin: Skin, station: ArrayLike, angle: ArrayLike) -> Array:
    """Flat points (K, 2) mm of stations mm and angles round in degrees, broadcast together.

    NaN where the skin has no such place. A station where two charts meet is taken on the forward
    one, the bottom on its inboard side.
    """
    stations, angles = np.broadcast_arrays(
        np.atleast_1d(np.asarray(station, dtype=np.float64)),
        np.atleast_1d(np.asarray(angle, dtype=np.float64)),
    )
    result = np.full((len(stations), 2), np.nan)
    for chart in skin.charts:
        patch = round_patch(chart)
        if patch is None:
            continue
        t = patch.t_at_station(stations)
        rows = np.flatnonzero((t >= 0.0) & (t <= 1.0) & np.isnan(result[:, 0]))
        s = patch.s_at_angle(t[rows], angles[rows])
        good = np.isfinite(s)
        param = np.stack([s[good], t[rows][good]], axis=-1)
        result[rows[good]] = chart.flat_map.to_flat(param)
    return result


def angle_cuts(skin: Skin, start: float, end: float) -> list[float]:
    """Shares of the way from one angle round to another (degrees) where a chart ends: at the edges
    of gores and at the cut along the bottom. Empty where both are one, or the skin has no angles.
    """
    if start == end:
        return []
    edges: set[float] = set()
    for chart in skin.charts:
        patch = round_patch(chart)
        if patch is not None:
            edges |= {-180.0 * patch.low, -180.0 * patch.high}
    low, high = min(start, end), max(start, end)
    turns = range(int(np.floor(low / 360.0)) - 1, int(np.ceil(high / 360.0)) + 2)
    at = {edge + 360.0 * turn for edge in edges for turn in turns}
    return sorted((a - start) / (end - start) for a in at if low < a < high)


def angle_line(
    skin: Skin,
    angle: float,
    stations: tuple[float, float] | None = None,
    *,
    close: float = CLOSE,
) -> MultiLineString:
    """The line of one angle round (degrees) along a skin, between two stations (None: all), within
    `close` mm of the true line on the flat map.

    Empty where the skin has no angles. MapperError for an angle that is no number and for stations
    out of order.
    """
    if not np.isfinite(angle):
        raise MapperError(f"The angle {angle} was given.", "Degrees from the top are allowed.")

    def law(patch: RoundPatch) -> Callable[[Array], Array]:
        return lambda t: patch.s_at_angle(t, angle)

    return _lines(skin, law, stations, close)


def height_line(
    skin: Skin, height: float, side: str = "both", stations: tuple[float, float] | None = None
) -> MultiLineString:
    """The line where the surface is at one height (z mm in the part's frame), a waterline.

    side: "outboard", "inboard" or "both" halves. Empty where the surface does not reach it.
    MapperError for other words and for stations out of order.
    """
    if side not in ("outboard", "inboard", "both"):
        raise MapperError(f"The side {side!r} was given.", "outboard, inboard or both is allowed.")
    found: list[LineString] = []
    for outboard in {"outboard": (True,), "inboard": (False,), "both": (True, False)}[side]:

        def law(patch: RoundPatch, outboard: bool = outboard) -> Callable[[Array], Array]:
            return lambda t: patch.s_at_height(t, height, outboard)

        found += _lines(skin, law, stations).geoms
    return MultiLineString(found)


def _lines(
    skin: Skin,
    law: Callable[[RoundPatch], Callable[[Array], Array]],
    stations: tuple[float, float] | None,
    close: float = CLOSE,
) -> MultiLineString:
    if stations is not None and not stations[0] < stations[1]:
        raise MapperError(
            f"Stations {stations[0]:g} to {stations[1]:g} mm were given.",
            "The second must lie aft of the first.",
        )
    found = []
    for number, chart in enumerate(skin.charts):
        patch = round_patch(chart)
        if patch is None:
            continue
        t0, t1 = 0.0, 1.0
        if stations is not None:
            t0, t1 = np.clip(patch.t_at_station(np.array(stations)), 0.0, 1.0)
        if t0 < t1:
            found += _pieces(skin, number, law(patch), float(t0), float(t1), close)
    return MultiLineString(found)


def _pieces(
    skin: Skin, number: int, s_of: Callable[[Array], Array], t0: float, t1: float, close: float
) -> list[LineString]:
    """The flat pieces of s = s_of(t) on a chart, where s_of answers."""
    flat_map = skin.charts[number].flat_map
    marks = run_breaks(skin, number, 1)
    at = np.union1d(np.linspace(t0, t1, _STEPS), marks[(marks > t0) & (marks < t1)])
    known = np.isfinite(s_of(at))
    found = []
    for a, b in _runs(known):
        ends = [float(at[a]), float(at[b])]
        # The line comes in or goes out between two steps: there its end is halved in on.
        if a > 0:
            ends[0] = _last(s_of, float(at[a]), float(at[a - 1]))
        if b < len(at) - 1:
            ends[1] = _last(s_of, float(at[b]), float(at[b + 1]))
        inner = at[a : b + 1]
        breaks = np.unique(np.concatenate([ends[:1], inner, ends[1:]]))
        if len(breaks) < 2:
            continue

        def curve(t: Array) -> Array:
            s = np.asarray(s_of(t))
            return flat_map.to_flat(np.stack([s, t], axis=-1))

        found.append(shapely.simplify(LineString(follow(curve, breaks, close)[1]), SAGITTA))
    return found


def _runs(known: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """(first, last) of every run of True."""
    edge = np.diff(np.concatenate([[False], known, [False]]).astype(int))
    return list(zip(np.flatnonzero(edge == 1).tolist(), (np.flatnonzero(edge == -1) - 1).tolist()))


def _last(s_of: Callable[[Array], Array], inside: float, outside: float) -> float:
    for _ in range(50):
        middle = 0.5 * (inside + outside)
        if np.isfinite(s_of(np.array([middle]))).all():
            inside = middle
        else:
            outside = middle
    return inside


def angle_box(
    skin: Skin, *, angles: Sequence[float], stations: Sequence[float] | None = None
) -> MultiPolygon:
    """The region between two angles round, growing from the first to the second (300 to 60 runs
    over the top), and two stations (mm; None: all).

    MapperError for values that are no numbers, for one angle twice, for stations out of order, and
    for a skin without angles round.
    """
    values = np.asarray(angles, dtype=np.float64)
    usable = values.shape == (2,) and bool(np.isfinite(values).all())
    if not usable or np.mod(values[0] - values[1], 360.0) == 0.0:
        raise MapperError(
            f"The angles {' and '.join(f'{v:g}' for v in values.ravel())} were given.",
            "Two different angles in degrees from the top are allowed.",
        )
    if not has_angles(skin):
        raise MapperError(
            f"Angles round were given, but skin {skin.name!r} has none.",
            "Fuselages, cowlings, nacelles and round bodies have them.",
        )
    if stations is not None and not stations[0] < stations[1]:
        raise MapperError(
            f"Stations {stations[0]:g} to {stations[1]:g} mm were given.",
            "The second must lie aft of the first.",
        )
    # Signed angles fall from 180 at s = -1 to -180 at s = 1.
    first, last = (float(v) for v in np.mod(values + 180.0, 360.0) - 180.0)
    spans = [(first, last)] if first < last else [(first, 180.0), (-180.0, last)]
    pieces = []
    for number, chart in enumerate(skin.charts):
        patch = round_patch(chart)
        if patch is None:
            continue
        t0, t1 = 0.0, 1.0
        if stations is not None:
            t0, t1 = (float(t) for t in np.clip(patch.t_at_station(np.array(stations)), 0.0, 1.0))
        if t0 >= t1:
            continue
        for low, high in spans:
            if low < high:
                low_s, high_s = _limit(patch, high), _limit(patch, low)
                pieces.append(clean(strip(skin, number, lambda u: u, low_s, high_s, (t0, t1))))
    return clip(skin, union(*pieces)) if pieces else EMPTY


def _limit(patch: RoundPatch, signed: float) -> Callable[[Array], Array]:
    """s at a signed angle, kept on the patch."""

    def s_of(t: Array) -> Array:
        if abs(signed) == 180.0:
            return np.full_like(t, np.clip(-np.sign(signed), patch.low, patch.high))
        full = replace(patch, low=-1.0, high=1.0)
        return np.asarray(np.clip(full.s_at_angle(t, signed), patch.low, patch.high))

    return s_of
