"""Rounded wing tips: the tip section's thickness turned about its mean line, outboard.

Between the upper and the lower point of equal xi the surface is a half ellipse across: its height
is the section's thickness there, its reach outboard `bulge` times half of that (1: a half circle,
so that a symmetrical section makes half a body of revolution). It meets the tip section exactly.

Stations run aft from the leading edge along the section's chord; the angle round goes from the
upper edge (0) over the outermost line (90) to the lower edge (180), as on a body of revolution.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from meshes.check import between, number, positive
from meshes.errors import ShapeError
from meshes.patch import Array
from meshes.sections import Section
from meshes.shape import Join, Sheet
from meshes.turned import GORES, TurnedPatch, open_ends


@dataclass(frozen=True)
class SectionProfile:
    """Along a section's mean line: x (mm, midway between upper and lower point of one xi) and half
    the thickness there, at u = sqrt(xi)."""

    section: Section
    chord: float

    @property
    def kinks(self) -> Array:
        found = np.unique(np.abs(self.section.kinks))
        return np.asarray(found[(found > 1e-9) & (found < 1.0 - 1e-9)])

    def halves(self, u: Array) -> tuple[Array, Array, Array, Array]:
        """Middle and half of the vector from the lower to the upper point (..., 2) mm, and both by
        u."""
        upper, lower = self.section.at(u), self.section.at(-u)
        by_upper, by_lower = self.section.d(u), -self.section.d(-u)
        c = 0.5 * self.chord
        return c * (upper + lower), c * (upper - lower), c * (by_upper + by_lower), c * (
            by_upper - by_lower
        )  # fmt: skip

    def at(self, u: ArrayLike) -> Array:
        """(x, half thickness) (..., 2) mm at u (...)."""
        middle, half, _, _ = self.halves(np.asarray(u, dtype=np.float64))
        return np.stack([middle[..., 0], np.linalg.norm(half, axis=-1)], axis=-1)

    def d(self, u: ArrayLike) -> Array:
        """Derivative (..., 2) of `at` by u (...); half the thickness must not be 0 there."""
        _, half, by_middle, by_half = self.halves(np.asarray(u, dtype=np.float64))
        size = np.linalg.norm(half, axis=-1)
        growth = np.sum(half * by_half, axis=-1) / np.where(size > 0.0, size, 1.0)
        return np.stack([by_middle[..., 0], growth], axis=-1)

    def to_dict(self) -> dict[str, Any]:
        """A record from which `meshes.records` rebuilds the profile."""
        return {
            "format": "section profile/1",
            "section": self.section.to_dict(),
            "chord": self.chord,
        }


@dataclass(frozen=True, eq=False)
class CapPatch(TurnedPatch):
    """A gore of a rounded tip: s = 0 on the upper edge, -.5 outermost, -1 on the lower edge.

    profile is a SectionProfile. bulge: reach outboard over half the thickness.
    """

    bulge: float = 1.0

    kind = "cap"

    @cached_property
    def _section(self) -> SectionProfile:
        if not isinstance(self.profile, SectionProfile):
            raise ShapeError("profile", f"{self.profile!r} was given.", "A section is needed.")
        return self.profile

    def at(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Points (..., 3) mm at s, t (broadcast)."""
        a, u = np.pi * np.asarray(s, dtype=np.float64), self._u(t)
        middle, half, _, _ = self._section.halves(u)
        xz = middle + np.cos(a)[..., None] * half
        reach = -self.bulge * np.linalg.norm(half, axis=-1) * np.sin(a)
        return np.stack([xz[..., 0], reach, xz[..., 1]], axis=-1)

    def partials(self, s: ArrayLike, t: ArrayLike) -> tuple[Array, Array]:
        """dP/ds and dP/dt (..., 3), exact, at s, t (broadcast)."""
        # On a grid of s by t the section is worked out once for each t, not for each pair.
        a, u = np.pi * np.asarray(s, dtype=np.float64), self._u(t)
        _, half, by_middle, by_half = self._section.halves(u)
        size = np.linalg.norm(half, axis=-1)
        growth = np.sum(half * by_half, axis=-1) / np.where(size > 0.0, size, 1.0)
        sin, cos = np.sin(a), np.cos(a)
        turn = -np.pi * sin[..., None] * half
        by_s = np.stack([turn[..., 0], -np.pi * self.bulge * size * cos, turn[..., 1]], axis=-1)
        along = by_middle + cos[..., None] * by_half
        by_t = np.stack([along[..., 0], -self.bulge * growth * sin, along[..., 1]], axis=-1)
        return by_s, (self.last - self.first) * by_t

    def s_at_height(self, t: ArrayLike, height: ArrayLike, outboard: bool) -> Array:
        """NaN (...): waterlines are for bodies; a cap has stations and angles."""
        return np.full(np.broadcast_shapes(np.shape(t), np.shape(height)), np.nan)

    def to_dict(self) -> dict[str, Any]:
        """A record from which `meshes.records` rebuilds the patch."""
        return super().to_dict() | {"format": "cap/1", "bulge": self.bulge}


def tip_cap(
    section: Section, chord: float, *, bulge: float = 1.0, gores: int = 2, datum: float = 0.0
) -> tuple[Sheet, ...]:
    """One sheet "skin" of a rounded tip in so many gores from its lower to its upper edge.

    Faces: outer and inner; both edges and, of an open section, the after end are free. ShapeError
    naming chord, bulge, gores or datum.
    """
    positive("chord", chord)
    between("bulge", bulge, 0.05, 10.0, unit="times half the thickness")
    number("datum", datum)
    if gores not in GORES:
        raise ShapeError(
            "gores", f"{gores} was given.", f"{', '.join(map(str, GORES))} are allowed."
        )
    profile = SectionProfile(section, float(chord))
    first, last = open_ends(profile)
    whole = CapPatch(profile, first, last, float(datum), -1.0, 0.0, float(bulge))
    edges = np.linspace(-1.0, 0.0, gores + 1)
    patches = tuple(replace(whole, low=float(a), high=float(b)) for a, b in pairwise(edges))
    joins = tuple(Join(i, "s1", i + 1, "s0") for i in range(gores - 1))
    return (Sheet("skin", ("outer", "inner"), patches, joins),)
