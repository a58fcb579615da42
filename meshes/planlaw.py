"""Laws of a curved planform: chord and leading edge as smooth functions of the way outboard."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Protocol, runtime_checkable

import numpy as np
from numpy.typing import ArrayLike

from meshes.check import positive, read_only
from meshes.errors import ShapeError
from meshes.late import Late
from meshes.patch import Array

if TYPE_CHECKING:
    from scipy import interpolate
else:
    interpolate = Late("scipy.interpolate")

# An elliptic planform is cut off where its chord is this share of the root's, at the least.
LEAST_CHORD = 0.08


@runtime_checkable
class Law(Protocol):
    """mm (or degrees) as a function of mm outboard of the first section."""

    @property
    def breaks(self) -> Array:
        """Ascending places strictly inside where the third derivative jumps."""
        ...

    def at(self, out: ArrayLike) -> Array: ...

    def d(self, out: ArrayLike) -> Array: ...

    def to_dict(self) -> dict[str, Any]: ...


@dataclass(frozen=True)
class EllipseLaw:
    """base + scale * sqrt(1 - (out / span)^2), `span` the ellipse's own semi-axis, mm."""

    scale: float
    span: float
    base: float = 0.0

    def __post_init__(self) -> None:
        positive("span", self.span)

    @property
    def breaks(self) -> Array:
        return read_only([])

    def at(self, out: ArrayLike) -> Array:
        """Values (...) at out (...) mm."""
        q = np.asarray(out, dtype=np.float64) / self.span
        return np.asarray(self.base + self.scale * np.sqrt((1.0 - q) * (1.0 + q)))

    def d(self, out: ArrayLike) -> Array:
        """Derivative (...) by out (...)."""
        q = np.asarray(out, dtype=np.float64) / self.span
        return np.asarray(-self.scale * q / (self.span * np.sqrt((1.0 - q) * (1.0 + q))))

    def to_dict(self) -> dict[str, Any]:
        """A record from which `meshes.records` rebuilds the law."""
        return {
            "format": "ellipse law/1",
            "scale": self.scale,
            "span": self.span,
            "base": self.base,
        }


@dataclass(frozen=True, eq=False)
class SplineLaw:
    """A cubic spline through points (K, 2) of (mm outboard, value), two or more, in order.

    Two points make a straight line, three a parabola. coefficients: the spline, when it is read
    back instead of made. ShapeError naming `points` otherwise.
    """

    points: Array
    coefficients: Array = field(default_factory=lambda: np.zeros((0, 0)))

    def __post_init__(self) -> None:
        points = np.array(self.points, dtype=np.float64)
        if points.ndim != 2 or points.shape[1] != 2 or not np.isfinite(points).all():
            raise ShapeError(
                "points", f"An array of shape {points.shape} was given.", "Finite pairs."
            )
        if not 2 <= len(points) <= 200:
            raise ShapeError("points", f"{len(points)} points were given.", "2 to 200 are allowed.")
        if (np.diff(points[:, 0]) <= 0.0).any():
            k = int(np.argmax(np.diff(points[:, 0]) <= 0.0))
            raise ShapeError(
                "points",
                f"{points[k + 1, 0]:g} mm follows {points[k, 0]:g} mm.",
                "Stations must grow from point to point.",
                "Put the points in order from inboard to outboard.",
            )
        if self.coefficients.size == 0:
            made = interpolate.CubicSpline(points[:, 0], points[:, 1])
            object.__setattr__(self, "coefficients", made.c)
        for name in ("points", "coefficients"):
            object.__setattr__(self, name, read_only(getattr(self, name)))

    @property
    def breaks(self) -> Array:
        return read_only(self.points[1:-1, 0])

    def _cell(self, out: ArrayLike) -> tuple[Array, Array]:
        q = np.asarray(out, dtype=np.float64)
        x = self.points[:, 0]
        cell = np.clip(np.searchsorted(x, q, side="right") - 1, 0, len(x) - 2)
        # Two points give one cubic with two coefficients that are 0.
        c = np.zeros((4, *q.shape))
        c[4 - len(self.coefficients) :] = self.coefficients[:, cell]
        return c, q - x[cell]

    def at(self, out: ArrayLike) -> Array:
        """Values (...) at out (...) mm."""
        c, h = self._cell(out)
        return np.asarray(((c[0] * h + c[1]) * h + c[2]) * h + c[3])

    def d(self, out: ArrayLike) -> Array:
        """Derivative (...) by out (...)."""
        c, h = self._cell(out)
        return np.asarray((3.0 * c[0] * h + 2.0 * c[1]) * h + c[2])

    def to_dict(self) -> dict[str, Any]:
        """A record (arrays stay arrays) from which `meshes.records` rebuilds the law."""
        return {
            "format": "spline law/1",
            "points": self.points,
            "coefficients": self.coefficients,
        }
