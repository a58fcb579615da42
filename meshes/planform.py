"""Wings with a curved planform: elliptic, or with chord and leading edge by ordinates.

Sections stay in planes y = const, as in a loft. The section out mm outboard of the first one has
the chord c(out), its leading edge (before twist) lies at x = lead(out), it is turned by twist(out)
about its quarter-chord point, and that point lies at z = out tan dihedral. Between a root and a tip
profile points of equal xi are blended in proportion to the distance out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from meshes.check import between, number
from meshes.chorded import Chorded
from meshes.curves import Blend, Curve, SectionCurve
from meshes.errors import ShapeError
from meshes.patch import Array
from meshes.planlaw import EllipseLaw, Law
from meshes.sections import Section
from meshes.shape import Join, Sheet


@dataclass(frozen=True, eq=False)
class PlanformPatch(Chorded):
    """The part of a curved wing with s = low..high between two distances out.

    t = 0..1 runs along the distance itself, or along its angle where the chord law is elliptic
    (out = span sin angle), so that the surface stays smooth in t towards the ellipse's end.
    first, last: mm outboard of y = 0, where the first section lies. twist: degrees per mm outboard,
    dihedral: degrees. datum: mm added to y to give the station.
    """

    root: Section
    tip: Section
    chord_law: Law
    lead_law: Law
    first: float
    last: float
    twist: float = 0.0
    dihedral: float = 0.0
    datum: float = 0.0
    low: float = -1.0
    high: float = 1.0

    kind = "curved"
    chorded = True

    def __post_init__(self) -> None:
        if not -1.0 <= self.low < self.high <= 1.0:
            raise ShapeError("s", f"{self.low:g} to {self.high:g}.", "-1 <= low < high <= 1.")
        if not 0.0 <= self.first < self.last:
            raise ShapeError(
                "to_station",
                f"It runs from {self.first:g} to {self.last:g} mm out.",
                "The end must lie outboard of the first section.",
            )

    @cached_property
    def s_lines(self) -> Array:
        kinks = np.union1d(self.root.kinks, self.tip.kinks)
        kinks = kinks[np.concatenate([[True], np.diff(kinks) > 1e-9])] if len(kinks) else kinks
        inside = kinks[(kinks > self.low + 1e-9) & (kinks < self.high - 1e-9)]
        result = np.concatenate([[self.low], inside, [self.high]])
        result.setflags(write=False)
        return result

    @cached_property
    def t_lines(self) -> Array:
        breaks = np.union1d(self.chord_law.breaks, self.lead_law.breaks)
        inner = self._t(breaks[(breaks > self.first) & (breaks < self.last)])
        inner = inner[(inner > 1e-9) & (inner < 1.0 - 1e-9)]
        result = np.concatenate([[0.0], inner, [1.0]])
        result.setflags(write=False)
        return result

    @cached_property
    def _angles(self) -> tuple[float, float, float] | None:
        """Span and the two angles of an elliptic planform; None for another."""
        if not isinstance(self.chord_law, EllipseLaw):
            return None
        span = self.chord_law.span
        return span, math.asin(self.first / span), math.asin(min(1.0, self.last / span))

    def _out(self, t: Array) -> tuple[Array, Array]:
        """mm outboard (...) at t (...), and its derivative."""
        if self._angles is None:
            return self.first + t * (self.last - self.first), np.full_like(
                t, self.last - self.first
            )
        span, a, b = self._angles
        turn = a + t * (b - a)
        return span * np.sin(turn), span * (b - a) * np.cos(turn)

    def _t(self, out: Array) -> Array:
        if self._angles is None:
            return np.asarray((out - self.first) / (self.last - self.first))
        span, a, b = self._angles
        inside = np.clip(out / span, -1.0, 1.0)
        t = (np.arcsin(inside) - a) / (b - a)
        # Beyond the ends any value outside 0..1 does, growing with the distance.
        t = np.where(out < self.first, (out - self.first) / span, t)
        return np.where(out > self.last, 1.0 + (out - self.last) / span, t)

    def _unit(self, s: Array, out: Array) -> tuple[Array, Array, Array]:
        """Section points less the quarter chord (..., 2), their derivatives by s and by out."""
        w = (out / self.last)[..., None]
        root, tip = self.root.at(s), self.tip.at(s)
        by_s = (1.0 - w) * self.root.d(s) + w * self.tip.d(s)
        return (1.0 - w) * root + w * tip - np.array([0.25, 0.0]), by_s, (tip - root) / self.last

    def _placed(self, xz: Array, turn: Array) -> Array:
        cos, sin = np.cos(turn), np.sin(turn)
        x, z = xz[..., 0] * cos + xz[..., 1] * sin, xz[..., 1] * cos - xz[..., 0] * sin
        return np.stack([x, np.zeros_like(x), z], axis=-1)

    def at(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Points (..., 3) mm at s, t (broadcast)."""
        s, t = np.broadcast_arrays(np.asarray(s, dtype=np.float64), np.asarray(t, dtype=np.float64))
        out, _ = self._out(t)
        chord = self.chord_law.at(out)
        unit, _, _ = self._unit(s, out)
        point = self._placed(chord[..., None] * unit, np.radians(self.twist * out))
        rise = math.tan(math.radians(self.dihedral))
        middle = [self.lead_law.at(out) + 0.25 * chord, out, rise * out]
        return np.asarray(point + np.stack(middle, axis=-1))

    def along_s(self, s: ArrayLike, t: ArrayLike) -> Array:
        """dP/ds (..., 3) alone, exact, at s, t (broadcast)."""
        s, t = np.broadcast_arrays(np.asarray(s, dtype=np.float64), np.asarray(t, dtype=np.float64))
        out, _ = self._out(t)
        _, by_s, _ = self._unit(s, out)
        return self._placed(self.chord_law.at(out)[..., None] * by_s, np.radians(self.twist * out))

    def partials(self, s: ArrayLike, t: ArrayLike) -> tuple[Array, Array]:
        """dP/ds and dP/dt (..., 3), exact, at s, t (broadcast)."""
        s, t = np.broadcast_arrays(np.asarray(s, dtype=np.float64), np.asarray(t, dtype=np.float64))
        out, rate = self._out(t)
        chord, growth = self.chord_law.at(out), self.chord_law.d(out)
        unit, by_s, change = self._unit(s, out)
        turn, pace = np.radians(self.twist * out), math.radians(self.twist)
        along = self._placed(chord[..., None] * by_s, turn)
        size = self._placed(growth[..., None] * unit + chord[..., None] * change, turn)
        # Turning nose up: d/d(turn) of (x cos + z sin, z cos - x sin) is (z', -x').
        flat = self._placed(chord[..., None] * unit, turn)
        swing = np.stack([flat[..., 2], np.zeros_like(turn), -flat[..., 0]], axis=-1)
        rise = math.tan(math.radians(self.dihedral))
        shift = np.stack(
            [self.lead_law.d(out) + 0.25 * growth, np.ones_like(out), np.full_like(out, rise)],
            axis=-1,
        )
        return along, (size + pace * swing + shift) * rate[..., None]

    def outward(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Unit normal (..., 3) on the side of the first face."""
        by_s, by_t = self.partials(s, t)
        normal = np.cross(by_s, by_t)
        return np.asarray(normal / np.linalg.norm(normal, axis=-1, keepdims=True))

    def station(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Station (...) mm: y plus the datum."""
        _, t = np.broadcast_arrays(np.asarray(s, dtype=np.float64), np.asarray(t, dtype=np.float64))
        return self._out(t)[0] + self.datum

    def t_at_station(self, station: ArrayLike) -> Array:
        """t (...) of stations (...) mm; outside 0..1 (or NaN) where it is off the patch."""
        out = np.asarray(station, dtype=np.float64) - self.datum
        t = self._t(out)
        t = np.where(np.abs(out - self.first) < 1e-6, 0.0, t)
        return np.where(np.abs(out - self.last) < 1e-6, 1.0, t)

    def chord_line(self, t: ArrayLike) -> tuple[Array, Array]:
        """Leading edge point and the vector to the trailing edge's middle, each (..., 3), at t."""
        t = np.asarray(t, dtype=np.float64)
        lead = self.at(np.zeros_like(t), t)
        tail = 0.5 * (self.at(np.full_like(t, -1.0), t) + self.at(np.ones_like(t), t))
        return lead, tail - lead

    def curve_at(self, t: float) -> Curve:
        """The patch's own section at t, a Curve."""
        out = float(self._out(np.array(float(t)))[0])
        chord = float(self.chord_law.at(out))
        aft = float(self.lead_law.at(out)) + 0.25 * chord
        height = out * math.tan(math.radians(self.dihedral))
        curves = [
            SectionCurve(section, chord, self.twist * out, aft, out, height)
            for section in (self.root, self.tip)
        ]
        return curves[0] if self.root == self.tip else Blend(curves[0], curves[1], out / self.last)

    def to_dict(self) -> dict[str, Any]:
        """A record from which `meshes.records` rebuilds the patch."""
        return {
            "format": "planform/1",
            "root": self.root.to_dict(),
            "tip": self.tip.to_dict(),
            "chord_law": self.chord_law.to_dict(),
            "lead_law": self.lead_law.to_dict(),
            "first": self.first,
            "last": self.last,
            "twist": self.twist,
            "dihedral": self.dihedral,
            "datum": self.datum,
            "low": self.low,
            "high": self.high,
        }


def planform(
    root: Section,
    tip: Section,
    chord_law: Law,
    lead_law: Law,
    span: float,
    *,
    washout: float = 0.0,
    dihedral: float = 0.0,
    datum: float = 0.0,
) -> PlanformPatch:
    """The whole surface of a curved wing from its first section to `span` mm outboard of it.

    washout: degrees nose down at the outboard end, growing evenly from 0 at the first section.
    ShapeError naming span, washout, dihedral, datum, or `chords` where the chord is not positive.
    """
    number("datum", datum)
    between("span", span, 1.0, 1e6, unit="mm")
    between("washout", washout, -30.0, 30.0, unit="degrees")
    between("dihedral", dihedral, -60.0, 60.0, unit="degrees")
    if isinstance(chord_law, EllipseLaw) and span >= chord_law.span:
        raise ShapeError(
            "span",
            f"The end lies {span:g} mm out, the ellipse ends at {chord_law.span:g} mm.",
            "An end inboard of the ellipse's own is allowed: there the chord is 0.",
            "Cut it off where the tip piece begins.",
        )
    fine = np.linspace(0.0, span, 2001)
    chords = chord_law.at(fine)
    if (chords <= 0.0).any():
        where = float(fine[int(np.argmin(chords))])
        raise ShapeError(
            "chords",
            f"{where:.0f} mm out the chord is {float(chords.min()):.4g} mm.",
            "More than 0 mm is allowed all the way.",
            "Add ordinates where the planform bends most.",
        )
    return PlanformPatch(
        root, tip, chord_law, lead_law, 0.0, float(span), -washout / span, dihedral, float(datum)
    )


def curved_wing(whole: PlanformPatch) -> tuple[Sheet, ...]:
    """One sheet "skin" of a curved wing, laid flat in two pieces joined along the leading edge.

    Faces: outer and inner; a closed trailing edge is where the sheet ends.
    """
    lower, upper = replace(whole, high=0.0), replace(whole, low=0.0)
    return (Sheet("skin", ("outer", "inner"), (lower, upper), (Join(0, "s1", 1, "s0"),)),)
