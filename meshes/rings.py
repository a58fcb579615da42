"""Cross-sections of fuselages, cowlings, nacelles and fillets: curves in planes x = const.

Parameter s: -1 at the bottom, over the outboard side (y positive) to 0 on top, and over the inboard
side to 1 at the bottom again. Two rings of one kind are joined at equal s, so tops, sides and
corners meet their like. A ring's centre is where the angle round is measured from.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Protocol, runtime_checkable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from meshes.check import number, positive, read_only
from meshes.errors import ShapeError
from meshes.late import Late
from meshes.patch import Array

if TYPE_CHECKING:
    from scipy import interpolate
else:
    interpolate = Late("scipy.interpolate")

# A rounded box: |s| where the top ends, the upper corner, the side, the lower corner.
BOX = (1.0 / 6.0, 1.0 / 3.0, 2.0 / 3.0, 5.0 / 6.0)
# Flats of a rounded box are at least this share of its width and depth.
LEAST_FLAT = 0.002


@runtime_checkable
class Ring(Protocol):
    """A cross-section in the plane x; closed unless `open`. centre: (y, z) mm, None without one."""

    @property
    def x(self) -> float: ...

    @property
    def kinks(self) -> Array: ...

    @property
    def open(self) -> bool: ...

    @property
    def centre(self) -> tuple[float, float] | None: ...

    def at(self, s: ArrayLike) -> Array: ...

    def d(self, s: ArrayLike) -> Array: ...

    def to_dict(self) -> dict[str, Any]: ...


@dataclass(frozen=True, eq=False)
class EllipseRing:
    """An ellipse, width across and depth up and down (mm), its centre at z = height.

    ShapeError for a size that is not positive.
    """

    x: float
    width: float
    depth: float
    height: float = 0.0

    open = False

    def __post_init__(self) -> None:
        number("x", self.x)
        positive("width", self.width)
        positive("depth", self.depth)
        number("height", self.height)

    @property
    def kinks(self) -> Array:
        return read_only([0.0])

    @property
    def centre(self) -> tuple[float, float]:
        return 0.0, self.height

    def at(self, s: ArrayLike) -> Array:
        """Points (..., 3) mm at s (...)."""
        a = np.pi * np.asarray(s, dtype=np.float64)
        y, z = -0.5 * self.width * np.sin(a), self.height + 0.5 * self.depth * np.cos(a)
        return np.stack([np.full_like(y, self.x), y, z], axis=-1)

    def d(self, s: ArrayLike) -> Array:
        """Derivative (..., 3) of `at` by s (...)."""
        a = np.pi * np.asarray(s, dtype=np.float64)
        y, z = -0.5 * np.pi * self.width * np.cos(a), -0.5 * np.pi * self.depth * np.sin(a)
        return np.stack([np.zeros_like(y), y, z], axis=-1)

    def to_dict(self) -> dict[str, Any]:
        """A record from which `meshes.records` rebuilds the curve."""
        return {
            "format": "ellipse ring/1",
            "x": self.x,
            "width": self.width,
            "depth": self.depth,
            "height": self.height,
        }


@dataclass(frozen=True, eq=False)
class BoxRing:
    """A box with flat top, sides and bottom and corners of one radius (mm), centre at z = height.

    ShapeError for sizes that are not positive, and for a corner that leaves no flats.
    """

    x: float
    width: float
    depth: float
    corner: float
    height: float = 0.0

    open = False

    def __post_init__(self) -> None:
        number("x", self.x)
        positive("width", self.width)
        positive("depth", self.depth)
        number("height", self.height)
        radius = positive("corner", self.corner)
        most = 0.5 * (1.0 - LEAST_FLAT) * min(self.width, self.depth)
        if radius > most:
            raise ShapeError(
                "corner",
                f"{radius:g} mm was given.",
                f"At most {most:.4g} mm is allowed, so that top and sides have a flat.",
                'Say form = "ellipse" for a round one.',
            )

    @property
    def kinks(self) -> Array:
        return read_only([*(-q for q in BOX[::-1]), 0.0, *BOX])

    @property
    def centre(self) -> tuple[float, float]:
        return 0.0, self.height

    def _corners(self) -> tuple[Array, Array, Array]:
        """|s|, half breadth and z - height at the ends of flats and corners, from top to bottom."""
        b, h, r = 0.5 * self.width, 0.5 * self.depth, self.corner
        q = np.array([0.0, *BOX, 1.0])
        return q, np.array([0.0, b - r, b, b, b - r, 0.0]), np.array([h, h, h - r, r - h, -h, -h])

    def _run(self, s: ArrayLike) -> tuple[Array, NDArray[np.intp], Array, Array]:
        """s (K,) in one row, which flat or corner it is on, how far along that, and their ends."""
        p = np.ravel(np.asarray(s, dtype=np.float64))
        marks = np.array([0.0, *BOX, 1.0])
        # A kink belongs to the piece that begins there going round from s = -1: the same for every
        # box, so that two boxes of one proportion have the same derivatives up to scale.
        q = np.abs(p)
        cell = np.clip(np.searchsorted(marks, q, side="right") - 1, 0, 4)
        return p, cell, (q - marks[cell]) / np.diff(marks)[cell], marks

    def at(self, s: ArrayLike) -> Array:
        """Points (..., 3) mm at s (...)."""
        p, cell, share, _ = self._run(s)
        _, half, rise = self._corners()
        r = self.corner
        out = np.empty((len(p), 3))
        out[:, 0] = self.x
        y = half[cell] + share * np.diff(half)[cell]
        z = rise[cell] + share * np.diff(rise)[cell]
        for corner, start in ((1, 0.0), (3, 0.5 * np.pi)):
            on = cell == corner
            turn = start + 0.5 * np.pi * share[on]
            up = 0.5 * self.depth - r if corner == 1 else r - 0.5 * self.depth
            y[on] = 0.5 * self.width - r + r * np.sin(turn)
            z[on] = up + r * np.cos(turn)
        out[:, 1] = np.where(p > 0.0, -1.0, 1.0) * y
        out[:, 2] = self.height + z
        return out.reshape(*np.shape(s), 3)

    def d(self, s: ArrayLike) -> Array:
        """Derivative (..., 3) of `at` by s (...)."""
        p, cell, share, marks = self._run(s)
        _, half, rise = self._corners()
        r, run = self.corner, np.diff(marks)
        out = np.zeros((len(p), 3))
        dy, dz = (np.diff(half) / run)[cell], (np.diff(rise) / run)[cell]
        for corner, start in ((1, 0.0), (3, 0.5 * np.pi)):
            on = cell == corner
            turn = start + 0.5 * np.pi * share[on]
            dy[on] = r * np.cos(turn) * 0.5 * np.pi / run[corner]
            dz[on] = -r * np.sin(turn) * 0.5 * np.pi / run[corner]
        out[:, 1] = -dy
        out[:, 2] = np.where(p > 0.0, 1.0, -1.0) * dz
        return out.reshape(*np.shape(s), 3)

    def to_dict(self) -> dict[str, Any]:
        """A record from which `meshes.records` rebuilds the curve."""
        return {
            "format": "box ring/1",
            "x": self.x,
            "width": self.width,
            "depth": self.depth,
            "corner": self.corner,
            "height": self.height,
        }


@dataclass(frozen=True, eq=False)
class OrdinateRing:
    """A ring through points (K, 2) of (y, z) mm: a cubic spline by length from point to point.

    open False: points are (half breadth, z) from the top to the bottom, both on the centre line
    (half breadth 0); the other half is their mirror image and the whole is smooth all round. open
    True: points run from s = -1 to 1 as given, anti-clockwise seen from behind (so that the first
    face is outside), and the curve ends at both. At least 4 points, ShapeError otherwise.
    breaks, coefficients: the spline, when it is read back instead of made.
    """

    x: float
    points: Array
    open: bool = False
    breaks: Array = field(default_factory=lambda: np.zeros(0))
    coefficients: Array = field(default_factory=lambda: np.zeros((4, 0, 2)))

    def __post_init__(self) -> None:
        number("x", self.x)
        points = np.array(self.points, dtype=np.float64)
        if points.ndim != 2 or points.shape[1] != 2 or not np.isfinite(points).all():
            raise ShapeError(
                "points", f"An array of shape {points.shape} was given.", "Finite pairs y, z."
            )
        if not 4 <= len(points) <= 200:
            raise ShapeError(
                "points", f"{len(points)} points were given.", "4 to 200 are allowed.",
                "Add points where it bends most.",
            )  # fmt: skip
        if not self.open:
            points = self._half(points)
        step = np.linalg.norm(np.diff(points, axis=0), axis=1)
        if step.min() <= 1e-9 * step.sum():
            raise ShapeError(
                "points",
                f"Point {int(np.argmin(step)) + 2} repeats the one before.",
                "Points apart from each other are allowed.",
                "Take one out.",
            )
        object.__setattr__(self, "points", read_only(self.points))
        if len(self.breaks) == 0:
            run = np.concatenate([[0.0], np.cumsum(step)])
            s = 2.0 * run / run[-1] - 1.0
            s[0], s[-1] = -1.0, 1.0
            if not self.open:
                s[len(s) // 2] = 0.0
                points[-1] = points[0]
            spline = interpolate.CubicSpline(
                s, points, bc_type="not-a-knot" if self.open else "periodic"
            )
            object.__setattr__(self, "breaks", spline.x)
            object.__setattr__(self, "coefficients", spline.c)
        for name in ("breaks", "coefficients"):
            object.__setattr__(self, name, read_only(getattr(self, name)))

    @staticmethod
    def _half(points: Array) -> Array:
        """The whole ring (2 K - 1, 2) from the bottom over the outboard side, of the half given."""
        size = float(np.ptp(points, axis=0).max())
        for k, word in ((0, "first"), (-1, "last")):
            if abs(points[k, 0]) > 1e-9 * size:
                raise ShapeError(
                    "points",
                    f"The {word} point lies {points[k, 0]:g} mm from the centre line.",
                    "The first and the last point lie on it: half breadth 0.",
                    "Add the point on the centre line, on top or at the bottom.",
                )
        if points[0, 1] <= points[-1, 1]:
            raise ShapeError(
                "points",
                f"They run from z = {points[0, 1]:g} to {points[-1, 1]:g} mm.",
                "From the top to the bottom is allowed.",
                "Turn the order round.",
            )
        if (points[1:-1, 0] <= 0.0).any():
            raise ShapeError(
                "points",
                "A point between the first and the last has no half breadth.",
                "More than 0 mm is allowed between top and bottom.",
            )
        other = points[1:] * np.array([-1.0, 1.0])
        return np.concatenate([points[::-1], other])

    @property
    def kinks(self) -> Array:
        """Ascending s of the given points (there the spline's third derivative jumps)."""
        return read_only(self.breaks[1:-1])

    @property
    def centre(self) -> tuple[float, float] | None:
        if self.open:
            return None
        return 0.0, 0.5 * float(self.points[0, 1] + self.points[-1, 1])

    def _cell(self, s: ArrayLike) -> tuple[Array, Array]:
        p = np.asarray(s, dtype=np.float64)
        cell = np.clip(np.searchsorted(self.breaks, p, side="right") - 1, 0, len(self.breaks) - 2)
        return self.coefficients[:, cell], (p - self.breaks[cell])[..., None]

    def at(self, s: ArrayLike) -> Array:
        """Points (..., 3) mm at s (...)."""
        c, h = self._cell(s)
        yz = ((c[0] * h + c[1]) * h + c[2]) * h + c[3]
        return np.concatenate([np.full_like(yz[..., :1], self.x), yz], axis=-1)

    def d(self, s: ArrayLike) -> Array:
        """Derivative (..., 3) of `at` by s (...)."""
        c, h = self._cell(s)
        yz = (3.0 * c[0] * h + 2.0 * c[1]) * h + c[2]
        return np.concatenate([np.zeros_like(yz[..., :1]), yz], axis=-1)

    def to_dict(self) -> dict[str, Any]:
        """A record (arrays stay arrays) from which `meshes.records` rebuilds the curve."""
        return {
            "format": "ordinate ring/1",
            "x": self.x,
            "points": self.points,
            "open": self.open,
            "breaks": self.breaks,
            "coefficients": self.coefficients,
        }


def girth(ring: Ring) -> float:
    """Length (mm) of a ring, by Gauss points between its kinks."""
    nodes, weights = np.polynomial.legendre.leggauss(40)
    cuts = np.concatenate([[-1.0], ring.kinks, [1.0]])
    half = 0.5 * np.diff(cuts)[:, None]
    at = cuts[:-1, None] + half * (1.0 + nodes)
    return math.fsum((half * weights * np.linalg.norm(ring.d(at), axis=-1)).ravel())
