"""Places by % chord, the same on ruled lofts and on curved planforms."""

from __future__ import annotations

from abc import abstractmethod

import numpy as np
from numpy.typing import ArrayLike, NDArray

from meshes.patch import Array
from meshes.stationed import Stationed


class Chorded(Stationed):
    """A patch of sections whose places have a % chord along each section's own chord line."""

    @abstractmethod
    def at(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Points (..., 3) mm at s, t (broadcast)."""

    @abstractmethod
    def along_s(self, s: ArrayLike, t: ArrayLike) -> Array:
        """dP/ds (..., 3) alone, exact, at s, t (broadcast)."""

    @abstractmethod
    def chord_line(self, t: ArrayLike) -> tuple[Array, Array]:
        """Leading edge point and the vector to the trailing edge's middle, each (..., 3), at t."""

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
