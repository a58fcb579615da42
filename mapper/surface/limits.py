"""Regions that are bounded in the part's own terms: by station and % chord, or by a plan circle.

Their outlines are curves on the flat map. They are solved for on the exact surface and followed
until the straight pieces are within 2e-5 mm of them, so such a region's area is right to 1e-6.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from mapper.errors import MapperError
from mapper.surface.clip import EMPTY, clean, clip, rims, union
from mapper.surface.edges import CLOSE, follow, run_breaks
from mapper.surface.skin import Skin
from meshes.body import BodyPatch
from meshes.folded import FoldedPatch
from meshes.mirror import MirroredPatch
from meshes.patch import Patch
from meshes.plane import PlanePatch
from meshes.planform import PlanformPatch
from meshes.ruled import RuledPatch
from meshes.stationed import Stationed

Array = NDArray[np.float64]
# A curve of (s, t) parameters: (K,) -> (K,) s and (K,) t.
Run = Callable[[Array], tuple[Array, Array]]

SIDES = ("upper", "lower", "both")


def own_patch(patch: Patch) -> tuple[Patch, float]:
    """The patch behind a mirror, and -1.0 if there was one, else 1.0."""
    sign = 1.0
    while isinstance(patch, MirroredPatch):
        patch, sign = patch.of, -sign
    return patch, sign


def _span(name: str, unit: str, given: Sequence[float] | None) -> tuple[float, float] | None:
    if given is None:
        return None
    values = tuple(float(v) for v in given)
    if len(values) != 2 or not np.all(np.isfinite(values)) or not values[0] < values[1]:
        shown = ", ".join(f"{v:g}" for v in values)
        raise MapperError(
            f"The {name} {shown} were given.",
            f"Two numbers in {unit}, the smaller first, are allowed.",
        )
    return values[0], values[1]


def _known_side(side: str) -> str:
    if side not in SIDES:
        raise MapperError(
            f"The side {side!r} was given.", "upper, lower or both (for all there is) are allowed."
        )
    return side


def box(
    skin: Skin,
    *,
    stations: Sequence[float] | None = None,
    chord: Sequence[float] | None = None,
    side: str = "both",
) -> MultiPolygon:
    """The region between two stations (mm) and two % chord on one side or both; None is no limit.

    0 and 100 % chord are the leading and the trailing edge; on "both", a box from 0 % runs round
    the nose in one piece. What reaches beyond the skin counts as far as the skin goes; empty where
    it does not reach at all. Raises MapperError for limits that are no numbers or out of order, for
    a % chord on a skin that has none, and for the lower side of a skin with one side only.
    """
    station_span = _span("stations", "mm", stations)
    chord_span = _span("% chord limits", "% chord", chord)
    _known_side(side)
    pieces = []
    for number, chart in enumerate(skin.charts):
        patch, _ = own_patch(chart.patch)
        if isinstance(patch, PlanePatch):
            pieces.append(_plane_box(skin, number, patch, station_span, chord_span, side))
        elif isinstance(patch, Stationed):
            pieces += _ruled_boxes(skin, number, patch, station_span, chord_span, side)
        else:
            raise MapperError(
                f"Skin {skin.name!r} is a {chart.patch.kind} without lines of equal station.",
                "Flat pieces and lofts have stations.",
            )
    return clip(skin, union(*(clean(p) for p in pieces)))


def _no_chord(skin: Skin) -> MapperError:
    return MapperError(
        f"A % chord was given, but skin {skin.name!r} has none.",
        "Stations are allowed there.",
        "Leave the % chord limits out.",
    )


def _one_side(skin: Skin, side: str) -> None:
    if side == "lower":
        raise MapperError(
            f"The lower side of skin {skin.name!r} was asked for.",
            "It has one side only: both or upper.",
        )


def _plane_box(
    skin: Skin,
    number: int,
    patch: PlanePatch,
    stations: tuple[float, float] | None,
    chord: tuple[float, float] | None,
    side: str,
) -> Polygon:
    """Half planes of a flat piece's parameters, and those on the flat map."""
    _one_side(skin, side)
    s0, s1, t0, t1 = patch.bounds
    corners = np.array([[s0 - 1, t0 - 1], [s1 + 1, t0 - 1], [s1 + 1, t1 + 1], [s0 - 1, t1 + 1]])
    if stations is not None:
        corners = _between(corners, patch.stations, *stations)
    if chord is not None:
        if patch.chords is None:
            raise _no_chord(skin)
        low = -np.inf if chord[0] <= 0.0 else chord[0]
        high = np.inf if chord[1] >= 100.0 else chord[1]
        corners = _between(corners, patch.chords, low, high)
    if len(corners) < 3:
        return Polygon()
    return Polygon(skin.charts[number].flat_map.to_flat(corners))


def _between(corners: Array, law: tuple[float, float, float], low: float, high: float) -> Array:
    """The part (J, 2) of a convex polygon where low <= law <= high; law is affine."""
    for sign, limit in ((1.0, low), (-1.0, -high)):
        if not np.isfinite(limit) or len(corners) < 3:
            continue
        value = sign * (law[0] + corners @ np.array(law[1:])) - limit
        # A thousandth of a millionth: a flat piece that lies at one station lies in its own box.
        value = np.where(np.abs(value) < 1e-9, 0.0, value)
        kept = []
        for k in range(len(corners)):
            nxt = (k + 1) % len(corners)
            if value[k] >= 0:
                kept.append(corners[k])
            if value[k] * value[nxt] < 0:
                share = value[k] / (value[k] - value[nxt])
                kept.append(corners[k] + share * (corners[nxt] - corners[k]))
        corners = np.array(kept).reshape(-1, 2)
    return corners


def _ruled_boxes(
    skin: Skin,
    number: int,
    patch: Stationed,
    stations: tuple[float, float] | None,
    chord: tuple[float, float] | None,
    side: str,
) -> list[Polygon]:
    if not patch.chorded:
        _one_side(skin, side)
        if chord is not None:
            raise _no_chord(skin)
    t0, t1 = 0.0, 1.0
    if stations is not None:
        t0, t1 = (float(t) for t in np.clip(patch.t_at_station(np.array(stations)), 0.0, 1.0))
    if t0 >= t1:
        return []
    low, high = (0.0, 100.0) if chord is None else chord
    if high <= 0.0 or low >= 100.0:
        return []
    full: Stationed = patch
    if isinstance(patch, RuledPatch | PlanformPatch):
        full = replace(patch, low=-1.0, high=1.0)

    def at_chord(value: float, upper: bool) -> Callable[[Array], Array]:
        value = min(max(value, 0.0), 100.0)

        def s_of(t: Array) -> Array:
            s = full.s_at_chord(t, np.full_like(t, value), np.full(t.shape, upper))
            return np.clip(s, patch.low, patch.high)

        return s_of

    def end(value: float) -> Callable[[Array], Array]:
        return lambda t: np.full_like(t, value)

    if not patch.chorded:
        strips = [(end(patch.low), end(patch.high))]
    elif side == "both" and low <= 0.0:
        strips = [(at_chord(high, False), at_chord(high, True))]
    else:
        strips = []
        if side in ("both", "upper"):
            strips.append((at_chord(low, True), at_chord(high, True)))
        if side in ("both", "lower"):
            strips.append((at_chord(high, False), at_chord(low, False)))
    return [strip(skin, number, lambda u: u, a, b, (t0, t1)) for a, b in strips]


def strip(
    skin: Skin,
    number: int,
    t_of: Callable[[Array], Array],
    s_low: Callable[[Array], Array],
    s_high: Callable[[Array], Array],
    ends: tuple[float, float],
    close: float = CLOSE,
) -> Polygon:
    """The flat outline of a chart's points with s_low(u) <= s <= s_high(u), t = t_of(u).

    u runs between `ends`; t_of rises. close: mm, how near the outline's straight pieces lie.
    """
    flat_map = skin.charts[number].flat_map
    t_breaks = run_breaks(skin, number, 1)
    s_breaks = run_breaks(skin, number, 0)
    u = np.linspace(ends[0], ends[1], 33)
    crossed = np.interp(t_breaks, t_of(u), u)
    u_breaks = np.union1d(u, crossed[(crossed > ends[0]) & (crossed < ends[1])])

    def flat(s: Array, t: Array) -> Array:
        return flat_map.to_flat(np.stack([s, t], axis=1))

    def side_run(s_of: Callable[[Array], Array]) -> Array:
        def curve(v: Array) -> Array:
            return flat(s_of(v), t_of(v))

        return follow(curve, u_breaks, close)[1]

    def end_run(at: float) -> Array:
        t, s0, s1 = (float(f(np.array([at]))[0]) for f in (t_of, s_low, s_high))
        inner = s_breaks[(s_breaks > min(s0, s1)) & (s_breaks < max(s0, s1))]
        breaks = np.concatenate([[s0], inner, [s1]])
        points = follow(lambda s: flat(s, np.full_like(s, t)), breaks, close)[1]
        return points if s0 <= s1 else points[::-1]

    low, high = side_run(s_low), side_run(s_high)
    return Polygon(np.concatenate([end_run(ends[0]), high, end_run(ends[1])[::-1], low[::-1]]))


def plan_circle(skin: Skin, x: float, y: float, radius: float, side: str = "upper") -> MultiPolygon:
    """The region of one side of a skin that a circle in plan covers, looking along z.

    x, y, radius: mm in the part's frame (y negative on a left-hand part). side: "upper" or "lower";
    on a tube and the like the half that looks up or down; a flat piece has one side. As far as the
    skin goes; empty where the circle misses it. Raises MapperError for values that are no numbers,
    a radius that is not positive, and for a flat piece that stands on edge.
    """
    if not np.all(np.isfinite([x, y, radius])) or radius <= 0:
        raise MapperError(
            f"The plan circle x {x:g}, y {y:g}, radius {radius:g} mm was given.",
            "Numbers are allowed, the radius above 0.",
        )
    if _known_side(side) == "both":
        raise MapperError(
            "A plan circle on both sides was asked for.",
            "It lies on one side: upper or lower.",
            "Mark each side by itself.",
        )
    pieces = []
    for number, chart in enumerate(skin.charts):
        patch, sign = own_patch(chart.patch)
        if isinstance(patch, PlanePatch) and not isinstance(patch, FoldedPatch):
            pieces.append(_plane_circle(skin, number, patch, (x, sign * y), radius, side))
        elif isinstance(patch, RuledPatch) and not isinstance(patch, BodyPatch):
            pieces += _ruled_circle(skin, number, patch, (x, sign * y), radius, side)
        else:
            raise MapperError(
                f"Skin {skin.name!r} cannot take a plan circle.", "Lofts can.", "Use a disc."
            )
    return clip(skin, union(*(clean(p) for p in pieces))) if pieces else EMPTY


def _plane_circle(
    skin: Skin,
    number: int,
    patch: PlanePatch,
    centre: tuple[float, float],
    radius: float,
    side: str,
) -> Polygon:
    _one_side(skin, side)
    frame = np.stack([patch.e1[:2], patch.e2[:2]], axis=1)
    if abs(np.linalg.det(frame)) < 1e-6:
        raise MapperError(
            f"Skin {skin.name!r} stands on edge in plan.",
            "A plan circle needs a surface that can be seen from above.",
            "Use a disc or a polygon on the flat map.",
        )
    back = np.linalg.inv(frame)

    def curve(angle: Array) -> Array:
        around = np.stack([np.cos(angle), np.sin(angle)], axis=1)
        param = (np.array(centre) + radius * around - patch.origin[:2]) @ back.T
        return skin.charts[number].flat_map.to_flat(param)

    return Polygon(follow(curve, np.linspace(0.0, 2.0 * np.pi, 9), max(CLOSE, 1e-6 * radius))[1])


def _ruled_circle(
    skin: Skin,
    number: int,
    patch: RuledPatch,
    centre: tuple[float, float],
    radius: float,
    side: str,
) -> list[Polygon]:
    """At each y of the circle the two s where the section's x is the circle's; y rises with t."""
    y0 = float(patch.at(0.0, 0.0)[1])
    low, high = (np.clip((y0 + end * patch.length - centre[1]) / radius, -1, 1) for end in (0, 1))
    start, stop = float(np.arcsin(low)), float(np.arcsin(high))
    if start >= stop:
        return []
    sheet = rims(skin)[number]
    pieces = []
    for fore, aft in _branches(patch, side):

        def limit(turn: float, angle: Array, fore: Branch = fore, aft: Branch = aft) -> Array:
            t = t_of(angle)
            x = centre[0] + turn * radius * np.cos(angle)
            return _s_at_x(patch, t, x, fore(t), aft(t))

        def t_of(angle: Array) -> Array:
            return np.clip((centre[1] + radius * np.sin(angle) - y0) / patch.length, 0.0, 1.0)

        piece = strip(
            skin, number, t_of, lambda a: limit(-1.0, a), lambda a: limit(1.0, a),
            (start, stop), max(CLOSE, 1e-6 * radius),
        )  # fmt: skip
        pieces.append(clean(piece).intersection(sheet))
    return [p for p in pieces if not shapely.is_empty(p)]


Branch = Callable[[Array], Array]


def _branches(patch: RuledPatch, side: str) -> list[tuple[Branch, Branch]]:
    """The s where x is least and where it is greatest, of each run of one side along which x grows
    all the way; functions of t."""

    def fixed(s: float) -> Branch:
        return lambda t: np.full_like(t, np.clip(s, patch.low, patch.high))

    if patch.chorded:
        sign = 1.0 if side == "upper" else -1.0
        return [(lambda t: _foremost(patch, t, sign), fixed(sign))]
    # Round the y axis: s = 0 on top, .5 farthest aft, -1 and 1 at the bottom.
    if side == "upper":
        return [(fixed(-0.5), fixed(0.5))]
    return [(fixed(-0.5), fixed(-1.0)), (fixed(1.0), fixed(0.5))]


def _foremost(patch: RuledPatch, t: Array, sign: float) -> Array:
    """s on one side where the nose's x is least: where dx/ds passes through 0."""
    least, most = np.zeros_like(t), np.full_like(t, 0.7)
    # To 1e-6 of s: x is flat there, so that is 1e-12 of the chord, and only sets where runs begin.
    for _ in range(20):
        middle = 0.5 * (least + most)
        growing = sign * patch.along_s(sign * middle, t)[:, 0] > 0
        least = np.where(growing, least, middle)
        most = np.where(growing, middle, most)
    return np.clip(sign * 0.5 * (least + most), patch.low, patch.high)


def _s_at_x(patch: RuledPatch, t: Array, x: Array, fore: Array, aft: Array) -> Array:
    """s between fore and aft where the section at t has this x; the nearer end where it has none.

    Ahead of a wing's foremost point the answer is the leading edge, so that the little of this side
    that curls under it goes with the nose.
    """
    a, b = fore.copy(), aft.copy()
    ahead = x <= patch.at(fore, t)[:, 0]
    behind = x >= patch.at(aft, t)[:, 0]
    s = 0.5 * (a + b)
    for _ in range(60):
        miss = patch.at(s, t)[:, 0] - x
        slope = patch.along_s(s, t)[:, 0]
        a = np.where(miss < 0, s, a)
        b = np.where(miss >= 0, s, b)
        with np.errstate(divide="ignore", invalid="ignore"):
            step = s - miss / slope
        inside = (step - a) * (step - b) < 0
        following = np.where(inside, step, 0.5 * (a + b))
        if np.all((np.abs(miss) <= 1e-9) | ahead | behind):
            break
        s = following
    nose = np.zeros_like(s) if patch.chorded else fore
    return np.where(ahead, np.clip(nose, patch.low, patch.high), np.where(behind, aft, s))
