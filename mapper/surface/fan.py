"""A fan of straight lines from one point of a sheet, and the pieces of the flat map it covers.

The ends of the lines are the outline of a disc. Where neighbouring lines part (over different chart
edges, past a corner of the sheet's own edge, about a hill) the turns at which they do are closed in
on, so that nothing is lost between them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.late import Late
from mapper.surface.clip import GRID, only_polygons, rims
from mapper.surface.hub import Hub
from mapper.surface.intrinsic import LOST, MET_AN_EDGE, Net
from mapper.surface.skin import Skin

if TYPE_CHECKING:
    from mapper.surface import trace
else:
    # numba is slow to load, and sheets that lie flat need none of it.
    trace = Late("mapper.surface.trace")

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

SAGITTA = 0.02  # mm that the straight pieces of an outline may leave the circle by
FEWEST, MOST = 96, 1440  # lines of a fan
BEND = 0.1  # rad: closed sides that differ by more lie either side of a corner
ROUNDS = 64  # pairs of partings between two neighbouring lines that are told apart
FINEST = 2e-8  # rad: as close as two lines come to where their ways part
SAMPLES = 16  # pieces that the outermost lines of a piece are cut up in where the map is stretched
MOST_BACK = 1.0  # mm that a piece is let out over an edge at most
JUMP = 8.0  # times as far apart as expected: neighbours' ends lie on different sides of something


def rays_for(radius: float) -> int:
    """How many lines keep an outline's straight pieces within SAGITTA of the circle."""
    wanted = np.pi / np.sqrt(2.0 * SAGITTA / max(radius, SAGITTA))
    return int(np.clip(4 * np.ceil(wanted / 4), FEWEST, MOST))


def reach_of(count: int) -> float:
    """How far out the corners of a regular polygon lie that has the area of the circle of radius 1,
    count: its corners."""
    step = 2.0 * np.pi / count
    return float(np.sqrt(step / np.sin(step)))


def jump(net: Net, triangle: int, radius: float, gap: Any) -> Any:
    """How far apart (flat mm) the ends of neighbouring lines, gap rad apart, mostly are not."""
    a, b, c, d = net.to_flat[triangle].ravel().tolist()
    return JUMP * radius * float(np.hypot(np.hypot(a, b), np.hypot(c, d))) * gap + 1e-3


@dataclass(frozen=True, eq=False)
class _Ways:
    """Which way K lines went: path (K,), whether they met a closed edge (K,), end (K, 2) and the
    direction (K, 2) of the side met, 0 for none."""

    path: Ints
    met: NDArray[np.bool_]
    end: Array
    side: Array

    def at(self, rows: NDArray[Any]) -> _Ways:
        return _Ways(self.path[rows], self.met[rows], self.end[rows], self.side[rows])

    def like(self, other: _Ways) -> NDArray[np.bool_]:
        turned = np.linalg.norm(self.side - other.side, axis=1) > BEND
        return np.asarray((self.path == other.path) & (self.met == other.met) & ~turned)

    def off(self, other: _Ways) -> Array:
        return np.asarray(np.linalg.norm(self.end - other.end, axis=1))

    def instead(self, other: _Ways, where: NDArray[np.bool_]) -> _Ways:
        """These where asked, the others elsewhere."""
        return _Ways(
            np.where(where, self.path, other.path),
            np.where(where, self.met, other.met),
            np.where(where[:, None], self.end, other.end),
            np.where(where[:, None], self.side, other.side),
        )


@dataclass(frozen=True, eq=False)
class _Lines:
    """The lines of a fan in ascending turn, and their legs; see `trace.trace`."""

    turn: Array
    status: NDArray[np.int32]
    closed: NDArray[np.int32]
    gone: Array
    path: Ints
    ray: NDArray[np.int32]
    leg_path: Ints
    legs: Array

    def ways(self, net: Net) -> _Ways:
        met = self.status == MET_AN_EDGE
        m, k = np.divmod(self.closed, 3)
        side = _unit(net.flat[m, (k + 2) % 3] - net.flat[m, (k + 1) % 3])
        return _Ways(self.path, met, self.ends(), np.where(met[:, None], side, 0.0))

    def ends(self) -> Array:
        """(N, 2) flat mm of each line's last point."""
        last = np.searchsorted(self.ray, np.arange(len(self.turn)), side="right") - 1
        return self.legs[last, 3:5]


@dataclass(frozen=True, eq=False)
class Fan:
    """Lines from a hub over a net, as long as a radius (mm); `step` rad from corner to corner of
    the regular polygon that has the circle's area."""

    skin: Skin
    net: Net
    hub: Hub
    radius: float

    @property
    def step(self) -> float:
        """rad between two corners of the outline; the same all over what is swept."""
        span = self.hub.high - self.hub.low
        return float(span / np.ceil(span / (2.0 * np.pi / rays_for(self.radius)) - 1e-9))

    def pieces(self) -> tuple[list[BaseGeometry], NDArray[np.int32]]:
        """The pieces of the flat map that the lines pass over, and the closed sides they met, 3 m +
        k each. Raises MapperError for lines that find no end."""
        hub, step = self.hub, self.step
        if hub.ring:
            turns = np.asarray(np.arange(round(2.0 * np.pi / step)) * step - np.pi)
        else:
            turns = np.linspace(hub.low, hub.high, 1 + round((hub.high - hub.low) / step))
        lines = self._follow(turns)
        if hub.ring and len(lines.ray) == len(turns) and not lines.status.any():
            # All on one chart and nothing met: mostly a plain ring.
            ends = lines.legs[:, 3:5]
            apart = np.hypot(*(np.concatenate([ends[1:], ends[:1]]) - ends).T)
            plain = Polygon(ends)
            if apart.max() <= self._jump(step) and plain.is_valid and plain.exterior.is_ccw:
                return [plain], np.zeros(0, np.int32)
        more = self._partings(lines)
        if len(more):
            lines = self._follow(np.union1d(lines.turn, more))
        return list(self._assembled(lines)), np.unique(lines.closed[lines.closed >= 0])

    def _follow(self, turns: Array, reach: Array | None = None) -> _Lines:
        net, hub, step = self.net, self.hub, self.step
        beside = np.mod(turns - hub.low + 1e-9, step) - 1e-9 - 0.5 * step
        if reach is None:
            corner = self.radius * np.sqrt(step / np.sin(step))
            reach = corner * np.cos(0.5 * step) / np.cos(beside)
        inside = turns
        if hub.ring:
            inside = np.mod(turns - hub.start[0], 2.0 * np.pi) + hub.start[0]
        part = np.clip(np.searchsorted(hub.start, inside, "right") - 1, 0, len(hub.start) - 1)
        status, closed, gone, path, ray, leg_path, legs = trace.trace(
            net.lay, net.flat, net.to_flat, net.chart, net.opp, net.back, net.seam,
            hub.triangle[part], hub.place[part], hub.base[part] + inside - hub.start[part], reach,
        )  # fmt: skip
        if np.any(status == LOST):
            raise MapperError(
                f"A disc of radius {self.radius:g} mm goes round skin {self.skin.name!r} too many "
                "times.",
                "A line over it may cross two million triangles.",
                "Mark the whole skin, or use a smaller radius.",
            )
        return _Lines(turns, status, closed, gone, path, ray, leg_path, legs)

    def _jump(self, gap: Any) -> Any:
        return jump(self.net, int(self.hub.triangle[0]), self.radius, gap)

    def _gaps(self, turns: Array) -> Array:
        """(N,) from each line to the next, rad; inf after the last where there is no next."""
        gap = np.roll(turns, -1) - turns
        gap[-1] = np.mod(gap[-1], 2.0 * np.pi) if self.hub.ring else np.inf
        return gap

    def _partings(self, lines: _Lines) -> Array:
        """Turns just before and just after ways part between neighbouring lines, all of them.

        Ways part where they go over other edges, end at a closed edge or not or at another, or end
        far apart. Of several partings between two lines the first and the last are closed in on,
        then what is left between those, and so on.
        """
        net = self.net
        low, gap = lines.turn, self._gaps(lines.turn)
        left = lines.ways(net)
        right = left.at(np.roll(np.arange(len(low)), -1))
        there = np.flatnonzero(np.isfinite(gap))
        low, high, left, right = low[there], (low + gap)[there], left.at(there), right.at(there)
        found: list[Array] = []
        for _ in range(ROUNDS):
            jumped = left.off(right) > self._jump(high - low)
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
                new = self._follow(middle).ways(net)
                like_first, like_last = new.like(first), new.like(last)
                nearer = new.off(first) <= new.off(last)
                lower = np.where(
                    from_left,
                    like_first & (~like_last | nearer),
                    ~like_last | (like_first & nearer),
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
        turns = np.concatenate(found)
        if self.hub.ring:
            turns = np.mod(turns + np.pi, 2.0 * np.pi) - np.pi
        return np.asarray(turns)

    def _assembled(self, lines: _Lines) -> Iterator[BaseGeometry]:
        """The pieces of the flat map that lines pass through, chart by chart."""
        count = len(lines.turn)
        ends = lines.ends()
        # As close as lines get and their ends still apart: they pass either side of something.
        gap = self._gaps(lines.turn)
        split = gap <= 3.0 * FINEST
        split &= np.linalg.norm(np.roll(ends, -1, axis=0) - ends, axis=1) > 1e-3
        first = np.searchsorted(lines.ray, np.arange(count))
        # A corner on a glued edge has a place on the map for each of its charts.
        begins = lines.legs[first, 1:3]
        moved = np.linalg.norm(np.roll(begins, -1, axis=0) - begins, axis=1) > 1e-6
        level_of = np.arange(len(lines.ray)) - first[lines.ray]
        last = np.append(lines.ray[1:] != lines.ray[:-1], True)
        # Over an edge the piece is let out a little, to be cut by the exact edge below.
        # Lines may meet it at a grazing angle: 20 times as far along as across.
        back = np.minimum(20.0 * self.net.bulge[lines.legs[:, 0].astype(np.intp)], MOST_BACK)
        out = np.where(last & (lines.status[lines.ray] != MET_AN_EDGE), 0.0, back)
        exits = lines.legs[:, 3:5] + out[:, None] * _unit(lines.legs[:, 7:9])
        entries = lines.legs[:, 1:3] - back[:, None] * _unit(lines.legs[:, 5:7])
        for level in range(int(level_of.max(initial=-1)) + 1):
            leg = np.full(count, -1)
            here = np.flatnonzero(level_of == level)
            leg[lines.ray[here]] = here
            path = np.where(leg < 0, -1, lines.leg_path[leg])
            there = leg >= 0
            cut = (path != np.roll(path, -1)) | (there != np.roll(there, -1))
            cut |= np.isinf(gap) & there
            cut |= moved if level == 0 else False
            cut |= split & there & (lines.path == np.roll(lines.path, -1))
            for run in _runs(there, cut):
                rows = leg[run]
                chart = int(lines.legs[rows[0], 0])
                start = begins[run[:1]] if level == 0 else entries[rows][::-1]
                whole = level == 0 and len(run) == count and not cut.any()
                ring = exits[rows]
                if not whole:
                    sides = [self._side(lines, rows[k]) for k in (0, -1)]
                    ring = np.concatenate([sides[0], ring, sides[1][::-1], start])
                piece: BaseGeometry = Polygon(ring)
                if not piece.is_valid or not shapely.is_ccw(Polygon(ring).exterior):
                    # Lines cross each other, or nothing: all that lies between any two of them.
                    around = np.append(rows, rows[0]) if whole else rows
                    inner = self._between_ends(lines, around)
                    first = np.broadcast_to(start[::-1], exits[rows].shape)
                    first = first[np.arange(len(around)) % len(rows)]
                    piece = _cells(np.stack([first, *inner, exits[around]]))
                if np.any(out[rows] > 0.0) or level > 0:
                    piece = piece.intersection(rims(self.skin)[chart])
                if not piece.is_empty:
                    yield piece

    def _side(self, lines: _Lines, leg: int) -> Array:
        """(K, 2) points between the ends of a leg: on a stretched map it is no straight line."""
        return np.asarray(self._between_ends(lines, np.array([leg]))[:, 0])

    def _between_ends(self, lines: _Lines, legs: NDArray[np.intp]) -> Array:
        """(K, L, 2) K points between the ends of each of L legs of one chart; none where the chart
        is flat without stretch."""
        chart = int(lines.legs[legs[0], 0])
        if self.skin.charts[chart].flat_map.isometric:
            return np.zeros((0, len(legs), 2))
        line = lines.ray[legs]
        begin = lines.legs[legs, 9]
        after = np.minimum(legs + 1, len(lines.ray) - 1)
        more = (lines.ray[after] == line) & (after > legs)
        end = np.where(more, lines.legs[after, 9], lines.gone[line])
        share = (np.arange(1, SAMPLES) / SAMPLES)[:, None]
        turns = np.tile(lines.turn[line], SAMPLES - 1)
        found = self._follow(turns, np.ravel(begin + share * (end - begin)))
        return found.ends().reshape(SAMPLES - 1, len(legs), 2)


def _cells(grid: Array) -> BaseGeometry:
    """The union of the cells of a grid (J, K, 2) of points: J along lines, K lines."""
    corners = [grid[:-1, :-1], grid[1:, :-1], grid[1:, 1:], grid[:-1, 1:]]
    cells = shapely.polygons(np.stack(corners, axis=2).reshape(-1, 4, 2))
    cells = shapely.make_valid(cells, method="structure", keep_collapsed=False)
    return only_polygons(shapely.union_all(cells, grid_size=GRID))


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
