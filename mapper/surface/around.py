"""Discs and bands on charts that lie flat: what is near a point or a line, over glued chart edges.

`mapper.surface.region.disc` is the one way to a disc; it takes `flat_disc` where that is exact.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import LineString, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.surface.clip import EMPTY, clean, clip, finite, rims, union
from mapper.surface.edges import TOUCH, ChartEdge, glued_edges
from mapper.surface.skin import Skin

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

RAYS = 720
TURNS = 64  # chart edges a ray may cross
BACK = 1.0  # mm that a piece is let out behind the edge it came over, before the edge cuts it


def directed_edges(skin: Skin) -> tuple[ChartEdge, ...]:
    """The glued edges of a skin as seen from either side: entry 2 g and 2 g + 1 are edge g."""
    return tuple(e for edge in glued_edges(skin) for e in (edge, edge.turned()))


def flat_disc(skin: Skin, centre: ArrayLike, radius: float) -> MultiPolygon:
    """The points of a skin within a distance of one: a fan of straight lines on the flat map.

    centre: (2,) flat mm on the skin; radius: mm. Lines that meet a glued chart edge go on in the
    next chart at the same angle to the edge; those that meet the sheet's own edge end there. Exact
    where the charts lie flat without stretch and their outline has no notch within the radius
    (what lies behind a notch counts by its straight distance); elsewhere as good as the flat map.
    The outline is a polygon of 720 corners or more with the area of the circle. Raises MapperError
    for a centre off the skin, values that are no numbers and a radius that is not positive.
    """
    middle = np.asarray(centre, np.float64)
    if middle.shape != (2,) or not np.all(np.isfinite([*middle, radius])) or radius <= 0:
        raise MapperError(
            f"A disc about {centre!r} of radius {radius:g} mm was given.",
            "A flat point x, y and a radius above 0 are allowed.",
        )
    outlines = rims(skin)
    home = [k for k, rim in enumerate(outlines) if rim.distance(Point(middle)) <= TOUCH]
    if not home:
        raise MapperError(
            f"The disc's centre ({middle[0]:g}, {middle[1]:g}) mm is off skin {skin.name!r}.",
            "A point on the skin's flat map is allowed.",
        )
    edges = [e for e in directed_edges(skin) if e.chart_here == home[0]]
    if any(LineString(e.here).distance(Point(middle)) <= 2 * TOUCH for e in edges):
        # A ray that starts on an edge could not tell which side it is on: .002 mm inward it can.
        inner = outlines[home[0]].buffer(-4 * TOUCH)
        middle = shapely.get_coordinates(shapely.shortest_line(inner, Point(middle)))[0]
    angles = np.linspace(-np.pi, np.pi, RAYS + 1)[:-1]
    ring = middle + _reach(angles, radius)[:, None] * _towards(angles)
    pieces: list[BaseGeometry] = []
    near = shapely.intersection(Polygon(ring), outlines[home[0]])
    pieces += [p for p in shapely.get_parts(near) if p.distance(Point(middle)) <= 2 * TOUCH]
    if edges and not outlines[home[0]].contains(Polygon(ring)):
        pieces += _carried(skin, directed_edges(skin), home[0], middle, angles, radius)
    return clip(skin, union(*(clean(p) for p in pieces))) if pieces else EMPTY


def _towards(angles: Array) -> Array:
    return np.stack([np.cos(angles), np.sin(angles)], axis=-1)


def _reach(angles: Array, radius: float) -> Array:
    """Distance to the regular polygon that has the circle's area, in each direction."""
    step = 2 * np.pi / RAYS
    corner = radius * np.sqrt(step / np.sin(step))
    beside = np.mod(angles + np.pi, step) - 0.5 * step
    return np.asarray(corner * np.cos(0.5 * step) / np.cos(beside))


@dataclass(frozen=True, eq=False)
class _Legs:
    """One leg of each of K rays. chart (K,), -1 for a ray that has ended; start, end (K, 2) flat
    mm; angle (K,); edge (K,): the directed edge it leaves over, -1 for none; path (K,): a number
    that tells over which edges it came."""

    chart: Ints
    start: Array
    end: Array
    angle: Array
    edge: Ints
    path: Ints


def _carried(
    skin: Skin,
    edges: tuple[ChartEdge, ...],
    home: int,
    centre: Array,
    angles: Array,
    radius: float,
) -> list[BaseGeometry]:
    """The pieces of a disc beyond the glued edges of the chart that its centre is on."""

    def fan(at: Array) -> list[_Legs]:
        return _trace(skin, edges, home, centre, at, radius)

    # Between neighbours that cross other edges, close in on the change from both sides.
    paths = fan(angles)[-1].path
    changed = np.flatnonzero(paths != np.roll(paths, -1))
    low, high = angles[changed], angles[changed] + 2 * np.pi / RAYS
    for _ in range(36 if len(low) else 0):
        middle = 0.5 * (low + high)
        same = fan(middle)[-1].path == paths[changed]
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    pieces: list[BaseGeometry] = []
    for legs in fan(np.unique(np.concatenate([angles, low, high])))[1:]:
        for group in _runs(np.where(legs.chart < 0, -1, legs.path)):
            back = legs.start[group] - min(BACK, radius) * _towards(legs.angle[group])
            outline = clean(Polygon(np.concatenate([legs.end[group], back[::-1]])))
            pieces.append(outline.intersection(rims(skin)[int(legs.chart[group[0]])]))
    return [p for p in pieces if not p.is_empty]


def _runs(path: Ints) -> list[Ints]:
    """Neighbours (in a ring) on the same path, two or more together; -1 is no path."""
    count = len(path)
    starts = np.flatnonzero(path != np.roll(path, 1))
    if not len(starts):
        return [] if path[0] < 0 else [np.append(np.arange(count), 0)]
    stops = np.append(starts[1:], starts[0] + count)
    runs = [np.arange(a, b) % count for a, b in zip(starts, stops)]
    return [r for r in runs if path[r[0]] >= 0 and len(r) > 1]


def _trace(
    skin: Skin,
    edges: tuple[ChartEdge, ...],
    home: int,
    centre: Array,
    angles: Array,
    radius: float,
) -> list[_Legs]:
    """Follow rays from a point over glued edges until they are used up or meet the sheet's edge."""
    count = len(angles)
    chart = np.full(count, home)
    start, angle, left = np.tile(centre, (count, 1)), angles.copy(), _reach(angles, radius)
    path = np.zeros(count, np.int64)
    levels: list[_Legs] = []
    while np.any(chart >= 0):
        if len(levels) == TURNS:
            raise MapperError(
                f"A disc of radius {radius:g} mm goes round skin {skin.name!r} too many times.",
                f"It may cross {TURNS} chart edges.",
                "Mark the whole skin, or use a smaller radius.",
            )
        edge = np.full(count, -1)
        gone = left.copy()
        turn = np.zeros(count)
        entry = np.zeros((count, 2))
        for number in np.unique(chart[chart >= 0]):
            rays = np.flatnonzero(chart == number)
            stop = _first(start[rays], angle[rays], left[rays], _ring(skin, int(number)))[0]
            for k, seam in enumerate(edges):
                if seam.chart_here != number:
                    continue
                far, piece, share = _first(start[rays], angle[rays], left[rays], seam.here)
                over = (far < gone[rays]) & (far <= stop + 2 * TOUCH)
                hit, piece, share = rays[over], piece[over], share[over, None]
                edge[hit], gone[hit] = k, far[over]
                entry[hit] = (1 - share) * seam.there[piece] + share * seam.there[piece + 1]
                turn[hit] = _turn(seam, piece + share[:, 0])
            blocked = (edge[rays] < 0) & (stop < left[rays])
            gone[rays[blocked]] = stop[blocked]
        end = start + gone[:, None] * _towards(angle)
        levels.append(_Legs(chart, start, end, angle, edge, path))
        crossing = edge >= 0
        path = np.where(crossing, np.abs(path * (len(edges) + 1) + edge + 1), path)
        targets = np.array([e.chart_there for e in edges])
        chart = np.where(crossing, targets[edge], -1)
        start, angle = np.where(crossing[:, None], entry, end), angle + turn
        left = np.where(crossing, left - gone, 0.0)
    levels.append(_Legs(chart, start, start, angle, np.full(count, -1), path))
    return levels


def _ring(skin: Skin, number: int) -> Array:
    rim = skin.charts[number].rim
    return np.concatenate([rim, rim[:1]])


def _first(start: Array, angle: Array, left: Array, line: Array) -> tuple[Array, Ints, Array]:
    """Where rays first meet a polyline: distance (K,) (inf: within `left` mm they do not), number
    of the piece and share along it. The line a ray starts on does not count."""
    a, b = line[:-1], line[1:]
    middle = start.mean(axis=0)
    reach = float(np.max(left + np.hypot(*(start - middle).T)))
    low, high = np.minimum(a, b), np.maximum(a, b)
    near = np.flatnonzero(np.all((low <= middle + reach) & (high >= middle - reach), axis=1))
    none = np.full(len(start), np.inf), np.zeros(len(start), np.int64), np.zeros(len(start))
    if not len(near):
        return none
    d = _towards(angle)[:, None]
    e = (b - a)[near][None]
    r = a[near][None] - start[:, None]
    across = d[..., 0] * e[..., 1] - d[..., 1] * e[..., 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        far = (r[..., 0] * e[..., 1] - r[..., 1] * e[..., 0]) / across
        share = (r[..., 0] * d[..., 1] - r[..., 1] * d[..., 0]) / across
        met = (far > TOUCH) & (far < left[:, None]) & (share >= -1e-12) & (share <= 1 + 1e-12)
    far = np.where(met, far, np.inf)
    best = np.argmin(far, axis=1)
    rows = np.arange(len(start))
    shares = np.where(met[rows, best], share[rows, best], 0.0)
    return far[rows, best], near[best], np.clip(shares, 0.0, 1.0)


def _turn(edge: ChartEdge, place: Array) -> Array:
    """By how much a direction turns from here to there, at places counted in the edge's points."""
    here, there = np.diff(edge.here, axis=0), np.diff(edge.there, axis=0)
    cross = here[:, 0] * there[:, 1] - here[:, 1] * there[:, 0]
    turns = np.unwrap(np.arctan2(cross, np.sum(here * there, axis=1)))
    return np.asarray(np.interp(place, np.arange(len(turns)) + 0.5, turns))


def band(skin: Skin, line: BaseGeometry | ArrayLike, width: float) -> MultiPolygon:
    """The points of a skin within half a width of a line on the flat map; square ends.

    line: LineString, MultiLineString or (K, 2) flat mm; width: mm. What reaches over a glued chart
    edge goes on in the next chart (not farther), square to the edge. Empty for an empty line.
    Raises MapperError for values that are no numbers, for other shapes and for a width that is not
    positive.
    """
    if not np.isfinite(width) or width <= 0:
        raise MapperError(f"A width of {width:g} mm was given.", "A width above 0 is allowed.")
    path = line if isinstance(line, BaseGeometry) else LineString(np.asarray(line, np.float64))
    finite(path)
    if path.geom_type not in ("LineString", "LinearRing", "MultiLineString"):
        raise MapperError(f"A {path.geom_type} was given as a line.", "Lines are allowed.")
    pieces: list[BaseGeometry] = []
    for number, rim in enumerate(rims(skin)):
        here = shapely.intersection(rim.buffer(TOUCH), path)
        here = shapely.line_merge(here) if here.geom_type == "MultiLineString" else here
        grown = here.buffer(0.5 * width, cap_style="flat", join_style="round", quad_segs=32)
        if grown.is_empty:
            continue
        pieces.append(grown.intersection(rim))
        beyond = grown.difference(rim)
        for edge in directed_edges(skin):
            if edge.chart_here == number and not beyond.is_empty:
                pieces += _over(edge, beyond, width, rims(skin)[edge.chart_there])
    return clip(skin, union(*(clean(p) for p in pieces))) if pieces else EMPTY


def _over(edge: ChartEdge, beyond: BaseGeometry, width: float, rim: Polygon) -> list[BaseGeometry]:
    """What lies beyond an edge here, moved there with the piece of the edge nearest to it."""
    path = LineString(edge.here)
    corridor = path.buffer(0.5 * width + TOUCH, cap_style="flat")
    out: list[BaseGeometry] = []
    for part in shapely.get_parts(beyond.intersection(corridor)):
        if not isinstance(part, Polygon) or part.distance(path) > TOUCH:
            continue
        ring = shapely.get_coordinates(shapely.segmentize(part.exterior, max(1.0, width / 20)))
        reached = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(edge.here, axis=0).T))])
        where = shapely.line_locate_point(path, shapely.points(ring))
        place = np.interp(where, reached, np.arange(len(reached)))
        piece = np.minimum(place.astype(int), len(reached) - 2)
        share = (place - piece)[:, None]
        foot = (1 - share) * edge.here[piece] + share * edge.here[piece + 1]
        landed = (1 - share) * edge.there[piece] + share * edge.there[piece + 1]
        c, s = np.cos(_turn(edge, place)), np.sin(_turn(edge, place))
        off = ring - foot
        moved = np.stack([c * off[:, 0] - s * off[:, 1], s * off[:, 0] + c * off[:, 1]], axis=1)
        out.append(clean(Polygon(landed + moved)))
    return [p.intersection(rim) for p in out]
