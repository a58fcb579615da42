"""A flat piece of sheet: its parameters are mm in its own plane."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from meshes.check import read_only
from meshes.errors import ShapeError
from meshes.patch import Array


@dataclass(frozen=True, eq=False)
class PlanePatch:
    """origin + s e1 + t e2 with unit vectors e1, e2 at right angles; s and t in mm.

    bounds: (s0, s1, t0, t1), the box round the outline.
    stations: (at the origin, per mm of s, per mm of t); chords: the same for % chord, or None
    where the piece has no chord. The first face looks along -(e1 x e2).
    """

    origin: Array
    e1: Array
    e2: Array
    bounds: tuple[float, float, float, float]
    stations: tuple[float, float, float] = (0.0, 1.0, 0.0)
    chords: tuple[float, float, float] | None = None

    kind = "plane"

    def __post_init__(self) -> None:
        for name in ("origin", "e1", "e2"):
            object.__setattr__(self, name, read_only(getattr(self, name)))
        frame = np.stack([self.e1, self.e2])
        if np.abs(frame @ frame.T - np.eye(2)).max() > 1e-9:
            raise ShapeError(
                "frame", "The plane's axes are not at right angles and of length 1.", ""
            )
        s0, s1, t0, t1 = self.bounds
        if not (s0 < s1 and t0 < t1):
            raise ShapeError("outline", f"Its box is {self.bounds}.", "A box with area is needed.")

    @property
    def s_lines(self) -> Array:
        return read_only(self.bounds[:2])

    @property
    def t_lines(self) -> Array:
        return read_only(self.bounds[2:])

    def at(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Points (..., 3) mm at s, t (broadcast)."""
        u, v = (np.asarray(p, dtype=np.float64)[..., None] for p in (s, t))
        return self.origin + u * self.e1 + v * self.e2

    def partials(self, s: ArrayLike, t: ArrayLike) -> tuple[Array, Array]:
        """dP/ds and dP/dt (..., 3): e1 and e2 everywhere."""
        u, v = (np.asarray(p, dtype=np.float64)[..., None] for p in (s, t))
        zero = 0.0 * (u + v)
        return self.e1 + zero, self.e2 + zero

    def outward(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Unit normal (..., 3) on the side of the first face."""
        by_s, by_t = self.partials(s, t)
        return np.cross(by_t, by_s)

    def _affine(self, law: tuple[float, float, float], s: ArrayLike, t: ArrayLike) -> Array:
        u, v = np.broadcast_arrays(np.asarray(s, dtype=np.float64), np.asarray(t, dtype=np.float64))
        return law[0] + law[1] * u + law[2] * v

    def station(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Station (...) mm."""
        return self._affine(self.stations, s, t)

    def chord(self, s: ArrayLike, t: ArrayLike) -> Array:
        """% chord (...), clipped to 0..100; NaN where the piece has no chord."""
        if self.chords is None:
            return self._affine((np.nan, 0.0, 0.0), s, t)
        return np.clip(self._affine(self.chords, s, t), 0.0, 100.0)

    def upper(self, s: ArrayLike, t: ArrayLike) -> NDArray[np.bool_]:
        """True (...): a flat piece has one side."""
        u, _ = np.broadcast_arrays(np.asarray(s, dtype=np.float64), np.asarray(t, dtype=np.float64))
        return np.ones(u.shape, dtype=np.bool_)

    def to_dict(self) -> dict[str, Any]:
        """A record from which `meshes.records` rebuilds the patch."""
        return {
            "format": "plane/1",
            "origin": self.origin,
            "e1": self.e1,
            "e2": self.e2,
            "bounds": list(self.bounds),
            "stations": list(self.stations),
            "chords": None if self.chords is None else list(self.chords),
        }
