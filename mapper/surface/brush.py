"""The brush: what lies within a distance of a point, measured along the sheet.

A fan of straight lines over the net of the sheet (`trace`): their ends are the disc's outline. They
go on over glued chart edges and end at closed ones. Where a closed edge sticks into the disc, such
as an opening's, what lies in its shadow is reached by ways that bend about the edge's corners: from
each of them another fan goes out, as long as what is left there of the radius, the distance to the
corner being exact (`windows`). Lines that meet again behind a tube or a nose count once: the pieces
are united on each chart.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.surface.clip import EMPTY, clean, clip, difference, only_polygons, rims, union
from mapper.surface.edges import TOUCH
from mapper.surface.intrinsic import Net, net_of
from mapper.surface.skin import Skin
from mapper.surface.trace import INSIDE, LOST, MET_AN_EDGE, locate, trace
from mapper.surface.windows import spread

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

SAGITTA = 0.01  # mm that the straight pieces of an outline may leave the circle by
FEWEST, MOST = 96, 1440  # lines of a fan
BACK = 1.0  # mm that a piece is let out over the edge it came or left by, before the edge cuts it
ROUNDS = 64  # pairs of partings between two neighbouring lines that are told apart
FINEST = 2e-8  # rad: as close as two lines come to where their ways part
JUMP = 8.0  # times as far apart as expected: neighbours' ends lie on different sides of something
SHADOW = 3e-4  # rad of corners sticking into a disc below which the shadow behind them is nothing
NO_PIECES = np.zeros((0, 4)), np.zeros(0, np.int32), np.zeros(0)


@dataclass(frozen=True, eq=False)
class Stand:
    """A point of the sheet: triangle of the net, place (2,) in its frame, flat (2,) mm."""

    triangle: int
    place: Array
    flat: Array


def stand(skin: Skin, net: Net, point: ArrayLike, what: str = "point") -> Stand:
    """Where a flat point (2,) mm is on the net, kept a hair inside its triangle.

    Raises MapperError for what is no point, off the skin, or in an opening of the net.
    """
    at = np.asarray(point, np.float64)
    if at.shape != (2,) or not np.isfinite(at).all():
        raise MapperError(f"A {what} {point!r} was given.", "A flat point x, y in mm is allowed.")
    if not any(rim.distance(Point(at)) <= TOUCH for rim in rims(skin)):
        raise MapperError(
            f"The {what} ({at[0]:g}, {at[1]:g}) mm is off skin {skin.name!r}.",
            "A point on the skin's flat map is allowed.",
        )
    found, shares = locate(net.flat, net.start, net.cells, net.low, net.size, at[None])
    m = int(found[0])
    # A rim bulges out between corners; an opening is a hole as wide as itself.
    if m < 0 or shares[0].min() < -0.5:
        raise MapperError(
            f"The {what} ({at[0]:g}, {at[1]:g}) mm lies where skin {skin.name!r} has no sheet.",
            "A point on the sheet, outside its openings, is allowed.",
        )
    return inside(net, m, shares[0])


def inside(net: Net, triangle: int, shares: Array) -> Stand:
    """The point of a triangle with these shares of its corners, kept a hair off its sides."""
    weight = np.maximum(shares, INSIDE)
    weight = weight / weight.sum()
    return Stand(triangle, weight @ net.lay[triangle], weight @ net.flat[triangle])


def fan_disc(
    skin: Skin, centre: ArrayLike, radius: float, openings: BaseGeometry | None = None
) -> MultiPolygon:
    """The points of a skin within a distance of one along the sheet, on any skin.

    centre: (2,) flat mm on the sheet; radius: mm; openings: region of the flat plane without sheet,
    which ways go round. The fan's chord polygon has the area of the circle. Raises MapperError for
    a centre off the sheet, values that are no numbers, and a radius that is not positive.
    """
    if not np.isfinite(radius) or radius <= 0:
        raise MapperError(
            f"A disc about {centre!r} of radius {radius:g} mm was given.",
            "A flat point x, y and a radius above 0 are allowed.",
        )
    net = net_of(skin, openings)
    place = stand(skin, net, centre, "disc's centre")
    pieces, met = fan(skin, net, place, radius)
    if met.size:
        pieces += _behind(skin, net, place, radius, met)
    region = _united(skin, pieces)
    if met.size and openings is not None and not openings.is_empty:
        region = difference(region, openings)
    return region


def shadowed(skin: Skin, centre: ArrayLike, radius: float) -> bool:
    """Whether a corner of the sheet's own edge sticks into a disc: something lies behind it.

    Not of a disc well inside one chart; a centre off the sheet has no shadow.
    """
    at = Point(np.asarray(centre, np.float64))
    if any(rim.contains(at) and rim.exterior.distance(at) > radius for rim in rims(skin)):
        return False
    if not any(rim.distance(at) <= TOUCH for rim in rims(skin)):
        return False
    net = net_of(skin)
    met = fan(skin, net, stand(skin, net, centre, "disc's centre"), radius)[1]
    return _sticking_in(net, met) > SHADOW


def _sticking_in(net: Net, met: NDArray[np.int32]) -> float:
    """By how much (rad) the corners of closed sides that were met turn into the sheet, in all."""
    sides = net.vertex[met // 3]
    rows = np.arange(len(met))
    corners = np.unique([sides[rows, (met % 3 + turn) % 3] for turn in (1, 2)])
    return float(np.maximum(net.turning[corners], 0.0).sum())


def _united(skin: Skin, pieces: list[BaseGeometry]) -> MultiPolygon:
    if not pieces:
        return EMPTY
    if len(pieces) == 1:
        return clip(skin, clean(pieces[0]))
    return clip(skin, union(*pieces))


def _behind(
    skin: Skin, net: Net, place: Stand, radius: float, met: NDArray[np.int32]
) -> list[BaseGeometry]:
    """What lies behind the corners of closed edges that stick into a disc."""
    if _sticking_in(net, met) <= SHADOW:
        return []
    distance = from_point(net, place, radius)
    rounds = np.flatnonzero((distance < radius) & (net.turning > 1e-6) & net.at_edge)
    pieces: list[BaseGeometry] = []
    for v in rounds.tolist():
        m, k = divmod(int(net.corner[v]), 3)
        shares = np.zeros(3)
        shares[k] = 1.0
        pieces += fan(skin, net, inside(net, m, shares), radius - float(distance[v]))[0]
    return pieces


def from_point(net: Net, place: Stand, limit: float) -> Array:
    """Exact distances (N,) mm of the net's corners from a point; inf beyond the limit."""
    distance, _ = spread(
        net.vertex, net.lay, net.opp, net.back, net.turning, net.corner,
        np.array([place.triangle], np.int32), place.place[None], limit,
        np.zeros(len(net.vertex) + 1, np.int32), *NO_PIECES, 1e-9,
    )  # fmt: skip
    return distance


@dataclass(frozen=True, eq=False)
class _Ways:
    """Which way K lines went: path (K,), whether they met a closed edge (K,), end (K, 2)."""

    path: Ints
    met: NDArray[np.bool_]
    end: Array

    def at(self, rows: NDArray[Any]) -> _Ways:
        return _Ways(self.path[rows], self.met[rows], self.end[rows])

    def like(self, other: _Ways) -> NDArray[np.bool_]:
        return np.asarray((self.path == other.path) & (self.met == other.met))

    def off(self, other: _Ways) -> Array:
        return np.asarray(np.linalg.norm(self.end - other.end, axis=1))

    def instead(self, other: _Ways, where: NDArray[np.bool_]) -> _Ways:
        """These where asked, the others elsewhere."""
        return _Ways(
            np.where(where, self.path, other.path),
            np.where(where, self.met, other.met),
            np.where(where[:, None], self.end, other.end),
        )


@dataclass(frozen=True, eq=False)
class _Lines:
    """The lines of a fan in ascending turn, and their legs; see `trace.trace`."""

    turn: Array
    status: NDArray[np.int32]
    closed: NDArray[np.int32]
    path: Ints
    ray: NDArray[np.int32]
    leg_path: Ints
    legs: Array

    def ways(self) -> _Ways:
        return _Ways(self.path, self.status == MET_AN_EDGE, self.ends())

    def ends(self) -> Array:
        """(N, 2) flat mm of each line's last point."""
        last = np.searchsorted(self.ray, np.arange(len(self.turn)), side="right") - 1
        return self.legs[last, 3:5]


def rays_for(radius: float) -> int:
    """How many lines keep an outline's straight pieces within SAGITTA of the circle."""
    wanted = np.pi / np.sqrt(2.0 * SAGITTA / max(radius, SAGITTA))
    return int(np.clip(4 * np.ceil(wanted / 4), FEWEST, MOST))


def fan(
    skin: Skin, net: Net, place: Stand, radius: float, count: int | None = None
) -> tuple[list[BaseGeometry], NDArray[np.int32]]:
    """The pieces of the flat map that straight lines from a point reach within a radius, and the
    closed sides they met (3 m + k each).

    The polygon through the ends of `count` lines (as `rays_for` says) has the area of the circle.
    """
    n = rays_for(radius) if count is None else count
    step = 2.0 * np.pi / n
    lines = _follow(skin, net, place, radius, np.asarray(np.arange(n) * step - np.pi), step)
    stretch = float(np.linalg.norm(net.to_flat[place.triangle], 2))
    more = _partings(skin, net, place, radius, lines, JUMP * radius * stretch, step)
    if len(more):
        lines = _follow(skin, net, place, radius, np.union1d(lines.turn, more), step)
    out_by = max(BACK, 2.0 * step * radius)
    pieces = list(_assembled(skin, lines, place.flat, min(BACK, radius), out_by))
    met = np.unique(lines.closed[lines.closed >= 0])
    return pieces, met


def _follow(skin: Skin, net: Net, place: Stand, radius: float, turns: Array, step: float) -> _Lines:
    """Lines from a point to the regular polygon (corners every `step`) of the circle's area."""
    corner = radius * np.sqrt(step / np.sin(step))
    beside = np.mod(turns + np.pi + 1e-12, step) - 1e-12 - 0.5 * step
    reach = corner * np.cos(0.5 * step) / np.cos(beside)
    status, closed, _, path, ray, leg_path, legs = trace(
        net.lay, net.flat, net.to_flat, net.chart, net.opp, net.back, net.seam,
        place.triangle, place.place[0], place.place[1], turns, reach,
    )  # fmt: skip
    if np.any(status == LOST):
        raise MapperError(
            f"A disc of radius {radius:g} mm goes round skin {skin.name!r} too many times.",
            "It may cross two million triangles each way.",
            "Mark the whole skin, or use a smaller radius.",
        )
    return _Lines(turns, status, closed, path, ray, leg_path, legs)


def _partings(
    skin: Skin, net: Net, place: Stand, radius: float, lines: _Lines, jump: float, step: float
) -> Array:
    """Turns just before and just after ways part between neighbouring lines, all of them.

    Ways part where they go over other edges, end at a closed edge or not, or end far apart (by
    `jump` mm for each rad between them). Of several partings between two lines the first and the
    last are closed in on, then what is left between those, and so on.
    """
    low, high = lines.turn, lines.turn + np.mod(np.roll(lines.turn, -1) - lines.turn, 2.0 * np.pi)
    left = lines.ways()
    right = left.at(np.roll(np.arange(len(low)), -1))
    found: list[Array] = []
    for _ in range(ROUNDS):
        jumped = left.off(right) > jump * (high - low) + 1e-3
        wide = ~left.like(right) | (jumped & ~left.met & ~right.met)
        wide &= high - low > 2.0 * FINEST
        if not wide.any():
            break
        low, high, left, right = low[wide], high[wide], left.at(wide), right.at(wide)
        # Twice: closing in on the first parting, and on the last.
        count = len(low)
        twice = np.tile(np.arange(count), 2)
        a, b, first, last = low[twice], high[twice], left.at(twice), right.at(twice)
        from_left = np.arange(2 * count) < count
        for _ in range(int(np.ceil(np.log2(float(np.max(high - low)) / FINEST)))):
            middle = np.asarray(0.5 * (a + b))
            new = _follow(skin, net, place, radius, middle, step).ways()
            like_first, like_last = new.like(first), new.like(last)
            nearer = new.off(first) <= new.off(last)
            lower = np.where(
                from_left, like_first & (~like_last | nearer), ~like_last | (like_first & nearer)
            )
            a, b = np.where(lower, middle, a), np.where(lower, b, middle)
            first, last = new.instead(first, lower), new.instead(last, ~lower)
        found += [a, b]
        # What may still part lies between the first parting and the last.
        inner = np.flatnonzero(a[count:] > b[:count])
        low, high = b[inner], a[count + inner]
        left, right = last.at(inner), first.at(count + inner)
    if not found:
        return np.zeros(0)
    return np.asarray(np.mod(np.concatenate(found) + np.pi, 2.0 * np.pi) - np.pi)


def _assembled(
    skin: Skin, lines: _Lines, centre: Array, back: float, out_by: float
) -> Iterator[BaseGeometry]:
    """The pieces of the flat map that lines pass through, chart by chart."""
    count = len(lines.turn)
    ends = lines.ends()
    # As close as lines get and their ends still apart: they pass either side of something.
    split = np.mod(np.roll(lines.turn, -1) - lines.turn, 2.0 * np.pi) <= 3.0 * FINEST
    split &= np.linalg.norm(np.roll(ends, -1, axis=0) - ends, axis=1) > 1e-3
    first = np.searchsorted(lines.ray, np.arange(count))
    level_of = np.arange(len(lines.ray)) - first[lines.ray]
    last = np.append(lines.ray[1:] != lines.ray[:-1], True)
    # Over an edge the piece is let out a little, to be cut by the exact edge below.
    out = np.where(lines.status[lines.ray] == MET_AN_EDGE, out_by, 0.0)
    out = np.where(last, out, back)
    exits = lines.legs[:, 3:5] + out[:, None] * _unit(lines.legs[:, 7:9])
    entries = lines.legs[:, 1:3] - back * _unit(lines.legs[:, 5:7])
    for level in range(int(level_of.max(initial=-1)) + 1):
        leg = np.full(count, -1)
        here = np.flatnonzero(level_of == level)
        leg[lines.ray[here]] = here
        path = np.where(leg < 0, -1, lines.leg_path[leg])
        there = leg >= 0
        cut = (path != np.roll(path, -1)) | (there != np.roll(there, -1))
        cut |= split & there & (lines.path == np.roll(lines.path, -1))
        for run in _runs(there, cut):
            rows = leg[run]
            chart = int(lines.legs[rows[0], 0])
            start = centre[None] if level == 0 else entries[rows][::-1]
            whole = level == 0 and len(run) == count and not cut.any()
            ring = exits[rows] if whole else np.concatenate([exits[rows], start])
            piece = _piece(ring, exits[rows], start)
            if np.any(out[rows] > 0.0) or level > 0:
                piece = piece.intersection(rims(skin)[chart])
            if not piece.is_empty:
                yield piece


def _unit(direction: Array) -> Array:
    size = np.linalg.norm(direction, axis=1, keepdims=True)
    return np.asarray(direction / np.where(size > 0.0, size, 1.0))


def _runs(there: NDArray[np.bool_], cut: NDArray[np.bool_]) -> Iterator[NDArray[np.intp]]:
    """Neighbouring lines (in a ring) between cuts, two or more together."""
    count = len(there)
    if not cut.any():
        if there.all():
            yield np.arange(count)
        return
    stops = np.flatnonzero(cut)
    for a, b in zip(np.roll(stops, 1), stops):
        run = np.arange(a + 1, b + 1 + (count if b <= a else 0)) % count
        if len(run) > 1 and there[run[0]]:
            yield run


def _piece(ring: Array, ends: Array, start: Array) -> BaseGeometry:
    """The area inside a ring of a fan; lines that cross each other make it the union of the
    sectors between neighbours."""
    polygon = Polygon(ring)
    if polygon.is_valid and shapely.is_ccw(polygon.exterior):
        return polygon
    back = np.broadcast_to(start, ends.shape) if len(start) == 1 else start[::-1]
    near = np.roll(np.arange(len(ends)), -1) if len(start) == 1 and len(ring) == len(ends) else None
    if near is None:
        a, b, c, d = ends[:-1], ends[1:], back[1:], back[:-1]
    else:
        a, b, c, d = ends, ends[near], back[near], back
    sectors = shapely.polygons(np.stack([a, b, c, d], axis=1))
    sectors = shapely.make_valid(sectors, method="structure", keep_collapsed=False)
    return only_polygons(shapely.union_all(sectors, grid_size=1e-4))
