"""Curves in space between which patches are ruled; parameter s, usually from -1 to 1."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Protocol, runtime_checkable

import numpy as np
from numpy.typing import ArrayLike

from meshes.check import read_only
from meshes.patch import Array
from meshes.sections import Section


@runtime_checkable
class Curve(Protocol):
    """A curve that evaluates s -> point (mm, the part's frame)."""

    @property
    def kinks(self) -> Array:
        """Ascending s strictly inside (-1, 1) where the curve is less than smooth."""
        ...

    def at(self, s: ArrayLike) -> Array:
        """Points (..., 3) at s (...)."""
        ...

    def d(self, s: ArrayLike) -> Array:
        """Exact derivative (..., 3) by s (...)."""
        ...

    def to_dict(self) -> dict[str, Any]: ...


@dataclass(frozen=True, eq=False)
class SectionCurve:
    """A section in the plane y: scaled by chord and turned by twist about its quarter-chord point.

    twist: degrees, nose up positive. aft, height: x and z (mm) of the quarter-chord point.
    """

    section: Section
    chord: float
    twist: float
    aft: float
    y: float
    height: float

    @property
    def kinks(self) -> Array:
        return self.section.kinks

    def _turn(self, xz: Array) -> Array:
        angle = np.radians(self.twist)
        cos, sin = float(np.cos(angle)), float(np.sin(angle))
        x, z = self.chord * xz[..., 0], self.chord * xz[..., 1]
        out = np.zeros((*x.shape, 3))
        out[..., 0] = x * cos + z * sin
        out[..., 2] = z * cos - x * sin
        return out

    def at(self, s: ArrayLike) -> Array:
        """Points (..., 3) mm at s (...)."""
        offset = np.array([self.aft, self.y, self.height])
        return np.asarray(self._turn(self.section.at(s) - np.array([0.25, 0.0])) + offset)

    def d(self, s: ArrayLike) -> Array:
        """Derivative (..., 3) of `at` by s (...)."""
        return self._turn(self.section.d(s))

    def to_dict(self) -> dict[str, Any]:
        """A record from which `meshes.records` rebuilds the curve."""
        return {
            "format": "section curve/1",
            "section": self.section.to_dict(),
            "chord": self.chord,
            "twist": self.twist,
            "aft": self.aft,
            "y": self.y,
            "height": self.height,
        }


@dataclass(frozen=True, eq=False)
class Segment:
    """A straight line from `start` (s = -1) to `end` (s = 1), each (3,) mm."""

    start: Array
    end: Array

    def __post_init__(self) -> None:
        object.__setattr__(self, "start", read_only(self.start))
        object.__setattr__(self, "end", read_only(self.end))

    @property
    def kinks(self) -> Array:
        return read_only([])

    def at(self, s: ArrayLike) -> Array:
        """Points (..., 3) mm at s (...)."""
        p = np.asarray(s, dtype=np.float64)[..., None]
        return 0.5 * ((1.0 - p) * self.start + (1.0 + p) * self.end)

    def d(self, s: ArrayLike) -> Array:
        """Derivative (..., 3) of `at` by s (...)."""
        p = np.asarray(s, dtype=np.float64)[..., None]
        return 0.5 * (self.end - self.start) + 0.0 * p

    def to_dict(self) -> dict[str, Any]:
        """A record from which `meshes.records` rebuilds the curve."""
        return {"format": "segment/1", "start": self.start, "end": self.end}


@dataclass(frozen=True, eq=False)
class Circle:
    """A full circle in the plane y about (0, y, 0): s = 0 on top, s = -1 and 1 at the bottom.

    Growing s runs over the aft side (x positive), so +y outboard and growing s turn as on an upper
    wing skin.
    """

    radius: float
    y: float

    @property
    def kinks(self) -> Array:
        return read_only([])

    def at(self, s: ArrayLike) -> Array:
        """Points (..., 3) mm at s (...)."""
        angle = np.pi * np.asarray(s, dtype=np.float64)
        x, z = self.radius * np.sin(angle), self.radius * np.cos(angle)
        return np.stack([x, np.full_like(x, self.y), z], axis=-1)

    def d(self, s: ArrayLike) -> Array:
        """Derivative (..., 3) of `at` by s (...)."""
        angle = np.pi * np.asarray(s, dtype=np.float64)
        x, z = np.pi * self.radius * np.cos(angle), -np.pi * self.radius * np.sin(angle)
        return np.stack([x, np.zeros_like(x), z], axis=-1)

    def to_dict(self) -> dict[str, Any]:
        """A record from which `meshes.records` rebuilds the curve."""
        return {"format": "circle/1", "radius": self.radius, "y": self.y}


@dataclass(frozen=True, eq=False)
class Blend:
    """(1 - t) `first` + t `second` at equal s: a loft's own section between two stations."""

    first: Curve
    second: Curve
    t: float

    @property
    def kinks(self) -> Array:
        return read_only(np.union1d(self.first.kinks, self.second.kinks))

    def at(self, s: ArrayLike) -> Array:
        """Points (..., 3) mm at s (...)."""
        return (1.0 - self.t) * self.first.at(s) + self.t * self.second.at(s)

    def d(self, s: ArrayLike) -> Array:
        """Derivative (..., 3) of `at` by s (...)."""
        return (1.0 - self.t) * self.first.d(s) + self.t * self.second.d(s)

    def to_dict(self) -> dict[str, Any]:
        """A record from which `meshes.records` rebuilds the curve."""
        return {
            "format": "blend/1",
            "first": self.first.to_dict(),
            "second": self.second.to_dict(),
            "t": self.t,
        }
