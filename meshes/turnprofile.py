"""Profiles of bodies of revolution: distance along the axis and radius at u from 0 to 1."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Protocol, runtime_checkable

import numpy as np
from numpy.typing import ArrayLike

from meshes.check import number, positive, read_only
from meshes.errors import ShapeError
from meshes.late import Late
from meshes.patch import Array

if TYPE_CHECKING:
    from scipy import interpolate
else:
    interpolate = Late("scipy.interpolate")

FORMS = ("ellipse", "paraboloid", "cone")
ENDS = ("round", "pointed")


@runtime_checkable
class Profile(Protocol):
    """A meridian: (x, r) mm at u in 0..1, x growing all the way, r not negative."""

    @property
    def kinks(self) -> Array: ...

    def at(self, u: ArrayLike) -> Array: ...

    def d(self, u: ArrayLike) -> Array: ...

    def to_dict(self) -> dict[str, Any]: ...


@dataclass(frozen=True)
class FormProfile:
    """A profile from its tip (u = 0) to its greatest radius (u = 1), `length` mm further aft.

    form: "ellipse" (a half of one: semi-axes length and radius), "paraboloid" or "cone".
    ShapeError naming the parameter.
    """

    form: str
    length: float
    radius: float
    start: float = 0.0

    def __post_init__(self) -> None:
        if self.form not in FORMS:
            raise ShapeError("form", f"{self.form!r} was given.", f"{', '.join(FORMS)}.")
        positive("length", self.length)
        positive("radius", self.radius)
        number("start", self.start)

    @property
    def kinks(self) -> Array:
        return read_only([])

    def at(self, u: ArrayLike) -> Array:
        """(x, r) (..., 2) mm at u (...)."""
        q = np.asarray(u, dtype=np.float64)
        if self.form == "ellipse":
            # 1 - cos as a square, so that the tip costs no digits.
            x, r = 2.0 * np.sin(0.25 * np.pi * q) ** 2, np.sin(0.5 * np.pi * q)
        elif self.form == "paraboloid":
            x, r = q * q, q
        else:
            x, r = q, q
        return np.stack([self.start + self.length * x, self.radius * r], axis=-1)

    def d(self, u: ArrayLike) -> Array:
        """Derivative (..., 2) of `at` by u (...)."""
        q = np.asarray(u, dtype=np.float64)
        if self.form == "ellipse":
            half = 0.5 * np.pi
            x, r = half * np.sin(half * q), half * np.cos(half * q)
        elif self.form == "paraboloid":
            x, r = 2.0 * q, np.ones_like(q)
        else:
            x, r = np.ones_like(q), np.ones_like(q)
        return np.stack([self.length * x, self.radius * r], axis=-1)

    def to_dict(self) -> dict[str, Any]:
        """A record from which `meshes.records` rebuilds the profile."""
        return {
            "format": "form profile/1",
            "form": self.form,
            "length": self.length,
            "radius": self.radius,
            "start": self.start,
        }


@dataclass(frozen=True, eq=False)
class OrdinateProfile:
    """A profile through points (K, 2) of (x, radius) mm: a cubic spline by length between them.

    x grows from point to point; the radius is 0 at the first or last point only. front, aft:
    "round" (square to the axis) or "pointed", of an end with radius 0. At least 4 points.
    breaks, coefficients: the spline, when it is read back instead of made. ShapeError otherwise.
    """

    points: Array
    front: str = "round"
    aft: str = "pointed"
    breaks: Array = field(default_factory=lambda: np.zeros(0))
    coefficients: Array = field(default_factory=lambda: np.zeros((4, 0, 2)))

    def __post_init__(self) -> None:
        for name in ("front", "aft"):
            if getattr(self, name) not in ENDS:
                given = getattr(self, name)
                raise ShapeError(name, f"{given!r} was given.", f"{' or '.join(ENDS)}.")
        points = np.array(self.points, dtype=np.float64)
        if points.ndim != 2 or points.shape[1] != 2 or not np.isfinite(points).all():
            raise ShapeError(
                "points", f"An array of shape {points.shape} was given.", "Finite pairs x, radius."
            )
        if not 4 <= len(points) <= 200:
            raise ShapeError(
                "points", f"{len(points)} points were given.", "4 to 200 are allowed.",
                "Add points where it bends most.",
            )  # fmt: skip
        falls = np.flatnonzero(np.diff(points[:, 0]) <= 0.0)
        if len(falls):
            k = int(falls[0])
            raise ShapeError(
                "points",
                f"The station goes from {points[k, 0]:g} to {points[k + 1, 0]:g} mm.",
                "Stations must grow from point to point.",
                "Put the points in order from forward to aft.",
            )
        if (points[1:-1, 1] <= 0.0).any() or (points[:, 1] < 0.0).any():
            raise ShapeError(
                "points",
                "A radius between the first and the last point is not above 0.",
                "0 is allowed at an end only.",
            )
        if len(self.breaks) == 0:
            self._fit(points)
        for name in ("points", "breaks", "coefficients"):
            object.__setattr__(self, name, read_only(getattr(self, name)))
        fine = np.linspace(0.0, 1.0, 2001)
        if (self.d(fine[1:-1])[:, 0] <= 0.0).any() or (self.at(fine[1:-1])[:, 1] <= 0.0).any():
            raise ShapeError(
                "points",
                "The curve through the points turns back or crosses the axis.",
                "A profile that runs aft all the way is allowed.",
                "Add points where it bends most.",
            )

    def _fit(self, points: Array) -> None:
        step = np.linalg.norm(np.diff(points, axis=0), axis=1)
        u = np.concatenate([[0.0], np.cumsum(step)]) / step.sum()
        u[-1] = 1.0
        # A round end leaves the axis square to it: x' is 0 there; the radius runs on as it comes.
        front = points[0, 1] == 0.0 and self.front == "round"
        aft = points[-1, 1] == 0.0 and self.aft == "round"
        ends = tuple((1, 0.0) if end else "not-a-knot" for end in (front, aft))
        along = interpolate.CubicSpline(u, points[:, 0], bc_type=ends)
        # Mirrored at the axis the radius is odd, so its second derivative is 0 there.
        odd = tuple((2, 0.0) if end else "not-a-knot" for end in (front, aft))
        radius = interpolate.CubicSpline(u, points[:, 1], bc_type=odd)
        object.__setattr__(self, "breaks", along.x)
        object.__setattr__(self, "coefficients", np.stack([along.c, radius.c], axis=-1))

    @property
    def kinks(self) -> Array:
        """Ascending u of the points between the ends."""
        return read_only(self.breaks[1:-1])

    def _cell(self, u: ArrayLike) -> tuple[Array, Array]:
        q = np.asarray(u, dtype=np.float64)
        cell = np.clip(np.searchsorted(self.breaks, q, side="right") - 1, 0, len(self.breaks) - 2)
        return self.coefficients[:, cell], (q - self.breaks[cell])[..., None]

    def at(self, u: ArrayLike) -> Array:
        """(x, r) (..., 2) mm at u (...)."""
        c, h = self._cell(u)
        return np.asarray(((c[0] * h + c[1]) * h + c[2]) * h + c[3])

    def d(self, u: ArrayLike) -> Array:
        """Derivative (..., 2) of `at` by u (...)."""
        c, h = self._cell(u)
        return np.asarray((3.0 * c[0] * h + 2.0 * c[1]) * h + c[2])

    def to_dict(self) -> dict[str, Any]:
        """A record (arrays stay arrays) from which `meshes.records` rebuilds the profile."""
        return {
            "format": "ordinate profile/1",
            "points": self.points,
            "front": self.front,
            "aft": self.aft,
            "breaks": self.breaks,
            "coefficients": self.coefficients,
        }
