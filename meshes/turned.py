"""Bodies of revolution about the x axis: spinners, round fairings, caps, tanks; in gores.

A gore is the strip between two angles round, laid flat by itself. Where the profile meets the axis
the tip itself, a circle of a ten-thousandth of the greatest radius, is left open: all lines of one
angle meet there, so it has no place of its own. It is 1e-8 of the area of a disc across the body.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from meshes.check import number
from meshes.errors import ShapeError
from meshes.outline import round_ring
from meshes.patch import Array
from meshes.profile import plane_sheet
from meshes.shape import Join, Sheet
from meshes.stationed import Stationed
from meshes.turnprofile import Profile

# Radius of the hole at a tip, as a share of the greatest radius.
TIP = 1e-4
GORES = (1, 2, 3, 4, 6, 8, 12, 16, 24, 32)


@dataclass(frozen=True, eq=False)
class TurnedPatch(Stationed):
    """The profile's piece first <= u <= last turned about the x axis from s = low to s = high.

    s as on a ring of a body: -1 at the bottom, -.5 outboard, 0 on top; t = 0..1 along u. datum: mm
    added to x to give the station.
    """

    profile: Profile
    first: float
    last: float
    datum: float = 0.0
    low: float = -1.0
    high: float = 1.0

    kind = "turned"
    chorded = False
    round = True

    def __post_init__(self) -> None:
        if not -1.0 <= self.low < self.high <= 1.0 or not 0.0 <= self.first < self.last <= 1.0:
            raise ShapeError(
                "s",
                f"{self.low:g} to {self.high:g} by {self.first:g} to {self.last:g} was given.",
                "-1 <= low < high <= 1 and 0 <= first < last <= 1 is allowed.",
            )

    @cached_property
    def s_lines(self) -> Array:
        inside = [0.0] if self.low < 0.0 < self.high else []
        result = np.array([self.low, *inside, self.high])
        result.setflags(write=False)
        return result

    @cached_property
    def t_lines(self) -> Array:
        kinks = (self.profile.kinks - self.first) / (self.last - self.first)
        kinks = kinks[(kinks > 1e-9) & (kinks < 1.0 - 1e-9)]
        result = np.concatenate([[0.0], kinks, [1.0]])
        result.setflags(write=False)
        return result

    def _u(self, t: ArrayLike) -> Array:
        return self.first + np.asarray(t, dtype=np.float64) * (self.last - self.first)

    def at(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Points (..., 3) mm at s, t (broadcast)."""
        # On a grid of s by t the profile is worked out once for each t, not for each pair.
        a, xr = np.pi * np.asarray(s, dtype=np.float64), self.profile.at(self._u(t))
        x, r = xr[..., 0], xr[..., 1]
        y, z = -r * np.sin(a), r * np.cos(a)
        return np.stack([np.broadcast_to(x, y.shape), y, z], axis=-1)

    def partials(self, s: ArrayLike, t: ArrayLike) -> tuple[Array, Array]:
        """dP/ds and dP/dt (..., 3), exact, at s, t (broadcast)."""
        a, u = np.pi * np.asarray(s, dtype=np.float64), self._u(t)
        r, slope = self.profile.at(u)[..., 1], (self.last - self.first) * self.profile.d(u)
        sin, cos = np.sin(a), np.cos(a)
        shape = np.broadcast_shapes(a.shape, u.shape)
        by_s, by_t = np.empty((*shape, 3)), np.empty((*shape, 3))
        by_s[..., 0], by_t[..., 0] = 0.0, slope[..., 0]
        by_s[..., 1], by_s[..., 2] = -np.pi * r * cos, -np.pi * r * sin
        by_t[..., 1], by_t[..., 2] = -slope[..., 1] * sin, slope[..., 1] * cos
        return by_s, by_t

    def outward(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Unit normal (..., 3) away from the axis."""
        by_s, by_t = self.partials(s, t)
        normal = np.cross(by_s, by_t)
        return np.asarray(normal / np.linalg.norm(normal, axis=-1, keepdims=True))

    def station(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Station (...) mm: x plus the datum."""
        _, u = np.broadcast_arrays(np.asarray(s, dtype=np.float64), self._u(t))
        return self.profile.at(u)[..., 0] + self.datum

    @cached_property
    def _ends(self) -> tuple[float, float]:
        x = self.profile.at(np.array([self.first, self.last]))[:, 0] + self.datum
        return float(x[0]), float(x[1])

    def t_at_station(self, station: ArrayLike) -> Array:
        """t (...) of stations (...) mm; outside 0..1 (or NaN) where the station is off the patch.

        What lies in the tip left open counts as its edge. x grows with t.
        """
        value = np.asarray(station, dtype=np.float64)
        low, high = self._ends
        tips = self.profile.at(np.array([0.0, 1.0]))[:, 0] + self.datum
        hole = TIP * (high - low)
        value = np.where(
            (value < low) & (value >= tips[0]) & (low - tips[0] <= 2 * hole), low, value
        )
        value = np.where(
            (value > high) & (value <= tips[1]) & (tips[1] - high <= 2 * hole), high, value
        )
        a, b = np.zeros(value.shape), np.ones(value.shape)
        t = 0.5 * (a + b)
        for _ in range(60):
            u = self._u(t)
            miss = self.profile.at(u)[..., 0] + self.datum - value
            a, b = np.where(miss < 0.0, t, a), np.where(miss < 0.0, b, t)
            with np.errstate(divide="ignore", invalid="ignore"):
                step = t - miss / ((self.last - self.first) * self.profile.d(u)[..., 0])
            # Halved where Newton's step leaves the bounds that close in, as near a round tip.
            following = np.where((step >= a) & (step <= b), step, 0.5 * (a + b))
            done = np.abs(following - t) <= 3e-16
            t = following
            if np.all(done):
                break
        t = np.where(np.abs(value - low) < 1e-6, 0.0, np.where(np.abs(value - high) < 1e-6, 1.0, t))
        t = np.where(value < low - 1e-6, (value - low) / (high - low), t)
        t = np.where(value > high + 1e-6, 1.0 + (value - high) / (high - low), t)
        return np.where(np.isfinite(value), t, np.nan)

    def s_at_chord(self, t: ArrayLike, chord: ArrayLike, upper: ArrayLike) -> Array:
        """NaN (...): a body of revolution has no chord."""
        shape = np.broadcast_shapes(np.shape(t), np.shape(chord), np.shape(upper))
        return np.full(shape, np.nan)

    def chord(self, s: ArrayLike, t: ArrayLike) -> Array:
        """NaN (...): no chord."""
        return np.full(np.broadcast_shapes(np.shape(s), np.shape(t)), np.nan)

    def upper(self, s: ArrayLike, t: ArrayLike) -> NDArray[np.bool_]:
        """True (...): one side."""
        return np.ones(np.broadcast_shapes(np.shape(s), np.shape(t)), dtype=np.bool_)

    def middle(self, t: ArrayLike) -> Array:
        """(..., 2) y and z mm of the middle the angle goes round: the axis."""
        return np.zeros((*np.shape(t), 2))

    def angle(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Angle round (...), 0 to 360 degrees from the top, outboard first."""
        s, t = np.broadcast_arrays(np.asarray(s, dtype=np.float64), np.asarray(t, dtype=np.float64))
        return np.where(s > 0.0, 360.0 - 180.0 * s, -180.0 * s)

    def s_at_angle(self, t: ArrayLike, angle: ArrayLike) -> Array:
        """s (...) of angles round (degrees, any turn); NaN where s is outside low..high."""
        _, angle = np.broadcast_arrays(
            np.asarray(t, dtype=np.float64), np.asarray(angle, dtype=np.float64)
        )
        s = -(np.mod(angle + 180.0, 360.0) - 180.0) / 180.0
        return self._kept(s)

    def s_at_height(self, t: ArrayLike, height: ArrayLike, outboard: bool) -> Array:
        """s (...) where the surface is at z = height (mm) on its outboard or inboard half."""
        u, height = np.broadcast_arrays(self._u(t), np.asarray(height, dtype=np.float64))
        with np.errstate(invalid="ignore", divide="ignore"):
            turn = np.arccos(height / self.profile.at(u)[..., 1]) / np.pi
        return self._kept(-turn if outboard else turn)

    def _kept(self, s: Array) -> Array:
        with np.errstate(invalid="ignore"):
            off = (s < self.low - 1e-12) | (s > self.high + 1e-12)
        return np.where(off, np.nan, np.clip(s, self.low, self.high))

    def to_dict(self) -> dict[str, Any]:
        """A record from which `meshes.records` rebuilds the patch."""
        return {
            "format": "turned/1",
            "profile": self.profile.to_dict(),
            "first": self.first,
            "last": self.last,
            "datum": self.datum,
            "low": self.low,
            "high": self.high,
        }


def open_ends(profile: Profile) -> tuple[float, float]:
    """u where the surface begins and ends: at an end with radius 0 where the tip is left open."""
    fine = np.linspace(0.0, 1.0, 2001)
    least = TIP * float(profile.at(fine)[:, 1].max())
    found = []
    for end, inner in ((0.0, 0.5), (1.0, 0.5)):
        if float(profile.at(end)[1]) >= least:
            found.append(end)
            continue
        a, b = end, inner
        for _ in range(60):
            middle = 0.5 * (a + b)
            a, b = (middle, b) if float(profile.at(middle)[1]) < least else (a, middle)
        found.append(b)
    return found[0], found[1]


def turned(profile: Profile, *, gores: int = 1, datum: float = 0.0) -> tuple[Sheet, ...]:
    """One sheet "skin" of a body of revolution in so many equal gores, joined edge to edge.

    Gores are counted from the bottom over the outboard side; faces outer and inner. ShapeError
    naming `gores` for a number that is not allowed.
    """
    number("datum", datum)
    if gores not in GORES:
        raise ShapeError(
            "gores", f"{gores} was given.", f"{', '.join(map(str, GORES))} are allowed."
        )
    first, last = open_ends(profile)
    edges = np.linspace(-1.0, 1.0, gores + 1)
    whole = TurnedPatch(profile, first, last, float(datum))
    patches = tuple(replace(whole, low=float(a), high=float(b)) for a, b in pairwise(edges))
    joins = tuple(Join(i, "s1", (i + 1) % gores, "s0") for i in range(gores))
    return (Sheet("skin", ("outer", "inner"), patches, joins),)


def disc(patch: TurnedPatch, station: float, name: str) -> Sheet:
    """The round plate across a body of revolution at a station: a back plate or bulkhead.

    Faces: forward and aft. Flat frame: x outboard and y up from the axis. ShapeError for a station
    off the body.
    """
    t = float(patch.t_at_station(station))
    if not 0.0 <= t <= 1.0:
        low, high = patch._ends
        raise ShapeError(
            "station", f"{station:g} mm was given.", f"{low:g} to {high:g} mm is allowed."
        )
    x, radius = (float(v) for v in patch.profile.at(patch._u(t)))
    return plane_sheet(
        name,
        ("forward", "aft"),
        round_ring(2.0 * radius),
        np.array([x, 0.0, 0.0]),
        (np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0])),
        (x + patch.datum, 0.0, 0.0),
    )
