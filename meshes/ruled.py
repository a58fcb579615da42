"""Surfaces of straight lines between two curves: wings, tubes, webs."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from meshes.chorded import Chorded
from meshes.curves import Blend, Curve
from meshes.errors import ShapeError
from meshes.patch import Array

# Two curves count as similar when their derivatives agree to this share of their size.
SIMILAR = 1e-11


@dataclass(frozen=True, eq=False)
class RuledPatch(Chorded):
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
