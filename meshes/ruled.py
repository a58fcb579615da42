"""Surfaces of straight lines between two curves: wings, tubes, webs."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from meshes.curves import Blend, Curve
from meshes.errors import ShapeError
from meshes.patch import Array
from meshes.stationed import Stationed

# Two curves count as similar when their derivatives agree to this share of their size.
SIMILAR = 1e-11


@dataclass(frozen=True, eq=False)
class RuledPatch(Stationed):
    """P(s, t) = (1 - t) C0(s) + t C1(s), s from `low` to `high`, t from 0 to 1.

    curve0, curve1: curves in planes y = const, curve1 further outboard.
    datum: mm added to y to give the station. chorded: the curves are wing sections, so that a
    place has a % chord and an upper and a lower side.
    """

    curve0: Curve
    curve1: Curve
    datum: float = 0.0
    chorded: bool = True
    low: float = -1.0
    high: float = 1.0

    def __post_init__(self) -> None:
        if not -1.0 <= self.low < self.high <= 1.0:
            raise ShapeError(
                "s",
                f"{self.low:g} to {self.high:g} was given.",
                "-1 <= low < high <= 1 is allowed.",
            )
        if not self.length > 0.0:
            raise ShapeError(
                "station",
                f"The end stations are {self.length:g} mm apart.",
                "The second must lie outboard of the first.",
            )

    @cached_property
    def s_lines(self) -> Array:
        kinks = np.union1d(self.curve0.kinks, self.curve1.kinks)
        # Kinks that differ by rounding only would make slivers.
        kinks = kinks[np.concatenate([[True], np.diff(kinks) > 1e-9])] if len(kinks) else kinks
        inside = kinks[(kinks > self.low + 1e-9) & (kinks < self.high - 1e-9)]
        result = np.concatenate([[self.low], inside, [self.high]])
        result.setflags(write=False)
        return result

    @cached_property
    def t_lines(self) -> Array:
        result = np.array([0.0, 1.0])
        result.setflags(write=False)
        return result

    @cached_property
    def length(self) -> float:
        """Distance between the planes of the two curves, mm."""
        return float(self.curve1.at(0.0)[1] - self.curve0.at(0.0)[1])

    @cached_property
    def scale(self) -> float | None:
        """k where curve1 is k times curve0 moved (k > 0), to rounding; None for any other pair."""
        inner = np.concatenate(
            [np.linspace(a, b, 12, endpoint=False) for a, b in zip(self.s_lines, self.s_lines[1:])]
        )
        d0, d1 = self.curve0.d(inner), self.curve1.d(inner)
        k = float(np.sum(d0 * d1) / np.sum(d0 * d0))
        if k <= 0.0 or np.abs(d1 - k * d0).max() > SIMILAR * np.abs(d1).max():
            return None
        # A chord repeated with rounding in between is meant to be the same.
        return 1.0 if abs(k - 1.0) < 1e-13 else k

    @property
    def kind(self) -> str:
        """ "cone" where all straight lines meet in one point or are parallel, else "ruled"."""
        return "ruled" if self.scale is None else "cone"

    def at(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Points (..., 3) mm at s, t (broadcast)."""
        w = np.asarray(t, dtype=np.float64)[..., None]
        return (1.0 - w) * self.curve0.at(s) + w * self.curve1.at(s)

    def partials(self, s: ArrayLike, t: ArrayLike) -> tuple[Array, Array]:
        """dP/ds and dP/dt (..., 3), exact, at s, t (broadcast)."""
        w = np.asarray(t, dtype=np.float64)[..., None]
        return self.along_s(s, t), self.curve1.at(s) - self.curve0.at(s) + 0.0 * w

    def along_s(self, s: ArrayLike, t: ArrayLike) -> Array:
        """dP/ds (..., 3) alone, exact, at s, t (broadcast)."""
        w = np.asarray(t, dtype=np.float64)[..., None]
        return (1.0 - w) * self.curve0.d(s) + w * self.curve1.d(s)

    def outward(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Unit normal (..., 3) on the side of the first face (outer, or forward on a web)."""
        by_s, by_t = self.partials(s, t)
        normal = np.cross(by_s, by_t)
        return np.asarray(normal / np.linalg.norm(normal, axis=-1, keepdims=True))

    def station(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Station (...) mm: y plus the datum."""
        s, t = np.broadcast_arrays(np.asarray(s, dtype=np.float64), np.asarray(t, dtype=np.float64))
        start = self._ends[0]
        return start + t * self.length

    @cached_property
    def _ends(self) -> tuple[float, float]:
        start = float(self.curve0.at(0.0)[1]) + self.datum
        return start, start + self.length

    def t_at_station(self, station: ArrayLike) -> Array:
        """t (...) of stations (...) mm; outside 0..1 (or NaN) where the station is off the patch.

        Stations within a millionth of a mm of an end give that end exactly.
        """
        value = np.asarray(station, dtype=np.float64)
        t = (value - self._ends[0]) / self.length
        t = np.where(np.abs(value - self._ends[0]) < 1e-6, 0.0, t)
        return np.where(np.abs(value - self._ends[1]) < 1e-6, 1.0, t)

    @cached_property
    def _chord_lines(self) -> tuple[Array, Array, Array, Array]:
        """Leading edge points at t = 0 and 1; vectors from there to the trailing edge's middle."""
        lead, tail = [], []
        for curve in (self.curve0, self.curve1):
            ends = curve.at(np.array([-1.0, 0.0, 1.0]))
            lead.append(ends[1])
            tail.append(0.5 * (ends[0] + ends[2]) - ends[1])
        return lead[0], lead[1], tail[0], tail[1]

    def chord_line(self, t: ArrayLike) -> tuple[Array, Array]:
        """Leading edge point and the vector to the trailing edge's middle, each (..., 3), at t."""
        w = np.asarray(t, dtype=np.float64)[..., None]
        lead0, lead1, tail0, tail1 = self._chord_lines
        return (1.0 - w) * lead0 + w * lead1, (1.0 - w) * tail0 + w * tail1

    def abscissa(self, s: ArrayLike, t: ArrayLike) -> tuple[Array, Array]:
        """% along the chord line, not clipped, and its derivative by s, each (...)."""
        lead, tail = self.chord_line(t)
        size = np.sum(tail * tail, axis=-1)
        by_s = self.along_s(s, t)
        value = np.sum((self.at(s, t) - lead) * tail, axis=-1) / size
        return 100.0 * value, 100.0 * np.sum(by_s * tail, axis=-1) / size

    def chord(self, s: ArrayLike, t: ArrayLike) -> Array:
        """% chord (...): 0 and 100 on the edges, between them the abscissa along the chord line.

        The line runs from xi = 0 to xi = 1 (the middle of an open base) of the station's own
        section; ahead of it counts as 0. NaN where the patch has no chord.
        """
        s, t = np.broadcast_arrays(np.asarray(s, dtype=np.float64), np.asarray(t, dtype=np.float64))
        if not self.chorded:
            return np.full(s.shape, np.nan)
        lead, tail = self.chord_line(t)
        along = np.sum((self.at(s, t) - lead) * tail, axis=-1) / np.sum(tail * tail, axis=-1)
        value = np.clip(100.0 * along, 0.0, 100.0)
        # A place that went through the flat map comes back with rounding.
        return np.where(np.abs(s) >= 1.0 - 1e-12, 100.0, np.where(s == 0.0, 0.0, value))

    def s_at_chord(self, t: ArrayLike, chord: ArrayLike, upper: ArrayLike) -> Array:
        """s (...) of % chord on the upper (True) or lower side at t; inputs broadcast.

        0 gives the leading edge (s = 0), 100 the trailing edge. NaN outside 0..100, where the
        patch has no chord, and where s is outside low..high. Newton's method, kept between bounds
        that close in, so it cannot leave the side.
        """
        t, chord, upper = np.broadcast_arrays(
            np.asarray(t, dtype=np.float64),
            np.asarray(chord, dtype=np.float64),
            np.asarray(upper, dtype=np.bool_),
        )
        known = self.chorded & (chord >= 0.0) & (chord <= 100.0) & np.isfinite(t)
        result = np.full(chord.shape, np.nan)
        if np.any(known):
            sign = np.where(upper[known], 1.0, -1.0)
            result[known] = sign * self._solve_chord(t[known], chord[known], sign)
        with np.errstate(invalid="ignore"):
            off = (result < self.low - 1e-12) | (result > self.high + 1e-12)
        return np.where(off, np.nan, np.clip(result, self.low, self.high))

    def _solve_chord(self, t: Array, chord: Array, sign: Array) -> Array:
        least, most = np.zeros_like(t), np.ones_like(t)
        q = np.sqrt(chord / 100.0)
        fixed = (chord == 0.0) | (chord == 100.0)
        q_fixed = chord / 100.0
        for _ in range(60):
            value, slope = self.abscissa(sign * q, t)
            miss = value - chord
            least = np.where(miss < 0.0, q, least)
            most = np.where(miss >= 0.0, q, most)
            with np.errstate(divide="ignore", invalid="ignore"):
                step = q - miss / (sign * slope)
            inside = (step > least) & (step < most)
            following = np.where(inside, step, 0.5 * (least + most))
            done = fixed | (np.abs(following - q) <= 4e-16) | (np.abs(miss) <= 1e-13)
            q = np.where(np.abs(miss) <= 1e-13, q, following)
            if np.all(done):
                break
        return np.where(fixed, q_fixed, q)

    def upper(self, s: ArrayLike, t: ArrayLike) -> NDArray[np.bool_]:
        """True (...) on the upper side (s >= 0); everywhere where the patch has one side only."""
        s, t = np.broadcast_arrays(np.asarray(s, dtype=np.float64), np.asarray(t, dtype=np.float64))
        return (s >= 0.0) if self.chorded else np.ones(s.shape, dtype=np.bool_)

    def curve_at(self, t: float) -> Curve:
        """The patch's own section at t, a Curve."""
        if t == 0.0:
            return self.curve0
        if t == 1.0:
            return self.curve1
        return Blend(self.curve0, self.curve1, t)

    def trimmed(self, low: float, high: float, t0: float, t1: float) -> RuledPatch:
        """The piece s low..high, t0..t1 as a patch of its own (its t runs 0..1 again)."""
        return RuledPatch(self.curve_at(t0), self.curve_at(t1), self.datum, self.chorded, low, high)

    def to_dict(self) -> dict[str, Any]:
        """A record from which `meshes.records` rebuilds the patch."""
        return {
            "format": "ruled/1",
            "curve0": self.curve0.to_dict(),
            "curve1": self.curve1.to_dict(),
            "datum": self.datum,
            "chorded": self.chorded,
            "low": self.low,
            "high": self.high,
        }
