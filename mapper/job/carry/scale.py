"""What stays put when numbers are corrected: ribs, seams, sections and ends along the span, spars
and edges across it. Between two of them everything keeps its share of the way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mapper.surface.geometry import Geometry, MapLine
from mapper.surface.place import place_of
from mapper.surface.skin import Skin
from meshes.mirror import unmirrored
from meshes.patch import Patch
from meshes.stationed import Stationed

Array = NDArray[np.float64]

STRAIGHT = 0.5  # mm: a line whose stations differ by more runs along the span, not across it
APART = 0.5  # mm: marks nearer than that to one another are one place
CHORD_APART = 0.05  # % chord: likewise
GRID = 60  # stations at which spars are compared
ACROSS = ("rib", "frame", "seam")  # lines that are marks along the span, what counts more first
ALONG = ("spar", "longeron", "seam")  # lines that are marks across it

Mark = tuple[tuple[str, str], float]


@dataclass(frozen=True, eq=False)
class Scale:
    """Old to new along one measure: straight between marks, shifted beyond the outer ones.

    old, new: (M,) places of the same marks, both rising; without any nothing moves.
    """

    old: Array
    new: Array

    def forward(self, value: Array) -> Array:
        """New places (K,) of old ones."""
        return _along(self.old, self.new, value)

    def back(self, value: Array) -> Array:
        """Old places (K,) of new ones."""
        return _along(self.new, self.old, value)


NOTHING = Scale(np.zeros(0), np.zeros(0))


def _along(one: Array, other: Array, value: Array) -> Array:
    if len(one) == 0:
        return np.asarray(value, dtype=np.float64)
    inside = np.interp(value, one, other)
    below, above = np.minimum(value - one[0], 0.0), np.maximum(value - one[-1], 0.0)
    return np.asarray(inside + below + above)


def scale_of(old: Sequence[Mark], new: Sequence[Mark], apart: float = APART) -> Scale:
    """The scale on which marks of one name meet. Both lists: what counts more first.

    A mark that would lie on another, or on its other side, in either shape is left out, so that the
    scale of a correction and of its taking back are the same.
    """
    there = dict(new)
    kept: list[tuple[float, float]] = []
    for key, place in old:
        target = there.get(key)
        if target is None:
            continue
        fits = all(
            (place - a) * (target - b) > 0 and min(abs(place - a), abs(target - b)) >= apart
            for a, b in kept
        )
        if fits:
            kept.append((place, target))
    kept.sort()
    return Scale(np.array([a for a, _ in kept]), np.array([b for _, b in kept]))


def station_marks(geometry: Geometry, skin: Skin) -> list[Mark]:
    """Ends, ribs, frames, seams and sections of a skin with their stations (mm)."""
    ends = [e for chart in skin.charts for e in _chart_ends(chart.patch)]
    if not ends:
        return []
    found: list[Mark] = [(("end", "first"), min(ends)), (("end", "last"), max(ends))]
    for kind in ACROSS:
        for line in geometry.lines:
            if line.kind == kind and line.skin == skin.name and not line.flat.is_empty:
                stations = _places(skin, line)[0]
                if len(stations) and float(np.ptp(stations)) <= STRAIGHT:
                    found.append(((kind, line.name), float(stations.mean())))
    inner = _distinct(ends)[1:-1]
    # Sections have no names: they are the same ones only where there are as many.
    found += [(("section", f"{n} of {len(inner)}"), s) for n, s in enumerate(inner, 1)]
    return found


def _chart_ends(patch: Patch) -> tuple[float, ...]:
    plain = unmirrored(patch)
    if not isinstance(plain, Stationed):
        return ()
    middle = 0.5 * (plain.low + plain.high)
    ends = plain.station(middle, np.array([0.0, 1.0]))
    return float(ends[0]), float(ends[1])


def _distinct(values: Sequence[float]) -> list[float]:
    rising = sorted(values)
    return [v for i, v in enumerate(rising) if i == 0 or v - rising[i - 1] > 1e-6]


def _places(skin: Skin, line: MapLine) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Station, % chord and side of the corners of a line that lie on the skin."""
    corners = np.concatenate([np.asarray(part.coords)[:, :2] for part in line.flat.geoms])
    where = place_of(skin, corners)
    good = np.isfinite(where.station)
    return where.station[good], where.chord[good], where.upper[good]


Run = tuple[Array, Array]


def chord_runs(geometry: Geometry, skin: Skin, upper: bool) -> dict[tuple[str, str], Run]:
    """Lines along a chorded skin by kind and name: their rising stations and % chord there."""
    found: dict[tuple[str, str], Run] = {}
    for kind in ALONG:
        for line in geometry.lines:
            if line.kind != kind or line.skin != skin.name or line.flat.is_empty:
                continue
            station, chord, side = _places(skin, line)
            mine = (side == upper) & np.isfinite(chord)
            station, chord = station[mine], chord[mine]
            if len(station) < 2 or float(np.ptp(station)) <= STRAIGHT:
                continue
            order = np.argsort(station, kind="stable")
            station, chord = station[order], chord[order]
            keep = np.concatenate([[True], np.diff(station) > 1e-9])
            found[kind, line.name] = (station[keep], chord[keep])
    return found


class Across:
    """% chord to % chord on one side of a skin, by the spars that both shapes have there."""

    def __init__(
        self, old: dict[tuple[str, str], Run], new: dict[tuple[str, str], Run], stations: Scale
    ) -> None:
        self._runs: list[tuple[Run, Run]] = []
        for key in old:
            if key not in new:
                continue
            pair = (old[key], new[key])
            low, high = old[key][0][0], old[key][0][-1]
            grid = np.linspace(low, high, GRID)
            mine = self._at(pair, grid, stations)
            others = [self._at(p, grid, stations) for p in self._runs]
            if all(_clear(mine, other) for other in others) and _inside(mine):
                self._runs.append(pair)

    @staticmethod
    def _at(pair: tuple[Run, Run], station: Array, stations: Scale) -> tuple[Array, Array]:
        (s0, c0), (s1, c1) = pair
        return np.interp(station, s0, c0), np.interp(stations.forward(station), s1, c1)

    def forward(self, chord: Array, station: Array, stations: Scale, old: Run, new: Run) -> Array:
        """New % chord (K,) of old ones at old stations (K,). old, new: the first and the last
        % chord (K,) of the sheet there."""
        rows = [(old[0], new[0]), (old[1], new[1])]
        rows += [self._at(pair, station, stations) for pair in self._runs]
        a, b = (np.stack([row[i] for row in rows]) for i in (0, 1))
        order = np.argsort(a, axis=0, kind="stable")
        a, b = np.take_along_axis(a, order, 0), np.take_along_axis(b, order, 0)
        place = np.clip((a[1:-1] <= chord).sum(axis=0), 0, len(a) - 2)
        at = np.arange(len(chord))
        a0, a1, b0, b1 = a[place, at], a[place + 1, at], b[place, at], b[place + 1, at]
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.where(a1 > a0, (chord - a0) / (a1 - a0), 0.0)
        return np.asarray(b0 + share * (b1 - b0))


def _clear(one: tuple[Array, Array], other: tuple[Array, Array]) -> bool:
    """Whether two lines stay apart, and on the same side of one another, in both shapes."""
    first, second = one[0] - other[0], one[1] - other[1]
    rising = bool((first >= CHORD_APART).all() and (second >= CHORD_APART).all())
    falling = bool((first <= -CHORD_APART).all() and (second <= -CHORD_APART).all())
    return rising or falling


def _inside(one: tuple[Array, Array]) -> bool:
    return all(bool(((c > CHORD_APART) & (c < 100.0 - CHORD_APART)).all()) for c in one)
