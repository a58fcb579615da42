"""Wing sections of unit chord as smooth curves of one parameter.

The parameter s runs from -1 (lower trailing edge) over 0 (leading edge, xi = 0) to 1 (upper
trailing edge) with xi = s squared: the square root of the thickness law becomes odd in s, so the
curve has a finite derivative round the nose.

Sources: four-digit thickness and camber, and five-digit camber lines, NACA Technical Reports 460
and 537 (constants of the five-digit lines as tabulated there; reflexed ones after TR 537).
"""

from __future__ import annotations

import re
from abc import ABC, abstractmethod
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Protocol, runtime_checkable

import numpy as np
from numpy.typing import ArrayLike

from meshes.check import read_only
from meshes.errors import ShapeError
from meshes.late import Late
from meshes.patch import Array

if TYPE_CHECKING:
    from scipy import interpolate
else:
    interpolate = Late("scipy.interpolate")

CLOSED_EDGE = 0.1036
OPEN_EDGE = 0.1015

# Three-digit prefix of a five-digit section: (end of the curved part r, k1, k2 / k1), for a design
# lift coefficient of .3.
FIVE_DIGIT_LINES: dict[str, tuple[float, float, float]] = {
    "10": (0.0580, 361.400, 0.0),
    "20": (0.1260, 51.640, 0.0),
    "30": (0.2025, 15.957, 0.0),
    "40": (0.2900, 6.643, 0.0),
    "50": (0.3910, 3.230, 0.0),
    "21": (0.1300, 51.990, 0.000764),
    "31": (0.2170, 15.793, 0.00677),
    "41": (0.3180, 6.520, 0.0303),
    "51": (0.4410, 3.191, 0.1355),
}


@runtime_checkable
class Section(Protocol):
    """A closed or open wing section, unit chord, x aft and y up.

    kinks: ascending s strictly inside (-1, 1) where the curve is less than smooth; s = 0 is always
    among them. closed: upper and lower trailing edge are one point.
    """

    @property
    def kinks(self) -> Array: ...

    @property
    def closed(self) -> bool: ...

    def at(self, s: ArrayLike) -> Array:
        """Points (..., 2) at s."""
        ...

    def d(self, s: ArrayLike) -> Array:
        """Exact derivative (..., 2) by s."""
        ...

    def to_dict(self) -> dict[str, Any]: ...


def _thickness(q: Array, thickness: float, edge: float) -> tuple[Array, Array]:
    """Half thickness and its derivative by q at q = |s| (TR 460, thickness law)."""
    q2 = q * q
    value = q * (0.2969 - q * (0.1260 + q2 * (0.3516 - q2 * (0.2843 - q2 * edge))))
    slope = 0.2969 - q * (0.2520 + q2 * (1.4064 - q2 * (1.7058 - q2 * 8.0 * edge)))
    return 5.0 * thickness * value, 5.0 * thickness * slope


@dataclass(frozen=True)
class _CamberedSection(ABC):
    """What four- and five-digit sections share: thickness laid off square to a camber line."""

    digits: str
    closed: bool = True

    @abstractmethod
    def _line(self, xi: Array) -> tuple[Array, Array, Array]:
        """Height, slope and slope's derivative by xi of the camber line."""

    @property
    def _thickness(self) -> float:
        return int(self.digits[-2:]) / 100.0

    def _parts(self, s: ArrayLike) -> tuple[Array, ...]:
        p = np.asarray(s, dtype=np.float64)
        half, half_d = _thickness(
            np.abs(p), self._thickness, CLOSED_EDGE if self.closed else OPEN_EDGE
        )
        height, slope, bend = self._line(p * p)
        return p, np.copysign(half, p), half_d, height, slope, bend

    def at(self, s: ArrayLike) -> Array:
        """Points (..., 2) of unit chord at s (...)."""
        p, half, _, height, slope, _ = self._parts(s)
        cos = 1.0 / np.sqrt(1.0 + slope * slope)
        out = np.empty((*p.shape, 2))
        out[..., 0] = p * p - half * slope * cos
        out[..., 1] = height + half * cos
        return out

    def d(self, s: ArrayLike) -> Array:
        """Derivative (..., 2) of `at` by s (...)."""
        p, half, half_d, _, slope, bend = self._parts(s)
        cos = 1.0 / np.sqrt(1.0 + slope * slope)
        sin = slope * cos
        turn = 2.0 * p * bend * cos * cos
        dx = 2.0 * p - half_d * sin - half * cos * turn
        dy = 2.0 * p * slope + half_d * cos - half * sin * turn
        return np.stack([dx, dy], axis=-1)


def _kinks(break_at: float) -> Array:
    root = float(np.sqrt(break_at))
    return read_only([-root, 0.0, root] if 0.0 < root < 1.0 else [0.0])


@dataclass(frozen=True)
class Naca4(_CamberedSection):
    """A four-digit section, "2412": camber 2 %, its place 40 %, thickness 12 % of the chord.

    closed: the last thickness coefficient is .1036 (trailing edge closed), else .1015 (open).
    ShapeError for other digits.
    """

    def __post_init__(self) -> None:
        if not re.fullmatch(r"[0-9]{4}", self.digits):
            raise ShapeError(
                "section",
                f"{self.digits!r} was given.",
                "A four-digit section has four digits, such as 2412.",
                "For other sections give a coordinate file.",
            )
        camber, place, thickness = (int(d) for d in re.findall(r"^(.)(.)(..)$", self.digits)[0])
        if not 1 <= thickness <= 40:
            raise ShapeError(
                "section",
                f"{self.digits} is {thickness} % thick.",
                "1 to 40 % is allowed: the last two digits.",
            )
        if (camber == 0) != (place == 0):
            raise ShapeError(
                "section",
                f"{self.digits} has camber {camber} % at {place}0 % chord.",
                "Both of the first two digits are 0, or neither.",
                "Write 00.. for a symmetrical section.",
            )

    @property
    def kinks(self) -> Array:
        """Ascending s where the curvature jumps: the nose and the place of greatest camber."""
        return _kinks(int(self.digits[1]) / 10.0)

    def _line(self, xi: Array) -> tuple[Array, Array, Array]:
        m, p = int(self.digits[0]) / 100.0, int(self.digits[1]) / 10.0
        if m == 0.0:
            zero = np.zeros_like(xi)
            return zero, zero, zero
        front = xi < p
        scale = np.where(front, m / p**2, m / (1.0 - p) ** 2)
        base = np.where(front, 0.0, 1.0 - 2.0 * p)
        return scale * (base + xi * (2.0 * p - xi)), 2.0 * scale * (p - xi), -2.0 * scale

    def to_dict(self) -> dict[str, Any]:
        """A record from which `meshes.records` rebuilds the section."""
        return {"format": "four-digit/1", "digits": self.digits, "closed": self.closed}


@dataclass(frozen=True)
class Naca5(_CamberedSection):
    """A five-digit section, "23012": design lift digit 2, camber line 30, thickness 12 %.

    ShapeError for other digits, and for camber lines that were never tabulated.
    """

    def __post_init__(self) -> None:
        if not re.fullmatch(r"[1-9][0-9]{4}", self.digits):
            raise ShapeError(
                "section",
                f"{self.digits!r} was given.",
                "A five-digit section has five digits, such as 23012.",
                "For other sections give a coordinate file.",
            )
        if self.digits[1:3] not in FIVE_DIGIT_LINES:
            lines = ", ".join(sorted(FIVE_DIGIT_LINES))
            raise ShapeError(
                "section",
                f"{self.digits} has the camber line {self.digits[1:3]} (second and third digit).",
                f"Tabulated are {lines}.",
                "For other sections give a coordinate file.",
            )
        thickness = int(self.digits[-2:])
        if not 1 <= thickness <= 40:
            raise ShapeError(
                "section",
                f"{self.digits} is {thickness} % thick.",
                "1 to 40 % is allowed: the last two digits.",
            )

    @property
    def kinks(self) -> Array:
        """Ascending s where the curve is less than smooth: the nose, the end of the curved part."""
        return _kinks(FIVE_DIGIT_LINES[self.digits[1:3]][0])

    def _line(self, xi: Array) -> tuple[Array, Array, Array]:
        r, k1, ratio = FIVE_DIGIT_LINES[self.digits[1:3]]
        k = k1 * int(self.digits[0]) / 2.0 / 6.0
        front = xi < r
        # TR 537: the term (1 - r)^3 k2/k1 is 0 for the plain lines.
        tail = ratio * (1.0 - r) ** 3 + r**3
        if ratio == 0.0:
            cubic = k * ((xi - r) ** 3 - tail * xi + r**3)
            straight = k * r**3 * (1.0 - xi)
            value = np.where(front, cubic, straight)
            slope = np.where(front, k * (3.0 * (xi - r) ** 2 - tail), -k * r**3)
            return value, slope, np.where(front, 6.0 * k * (xi - r), 0.0)
        gain = np.where(front, 1.0, ratio)
        value = k * (gain * (xi - r) ** 3 - tail * xi + r**3)
        return value, k * (3.0 * gain * (xi - r) ** 2 - tail), 6.0 * k * gain * (xi - r)

    def to_dict(self) -> dict[str, Any]:
        """A record from which `meshes.records` rebuilds the section."""
        return {"format": "five-digit/1", "digits": self.digits, "closed": self.closed}


@dataclass(frozen=True, eq=False)
class Coordinates:
    """A section through given points: y is a cubic spline in s = +-sqrt(x).

    xy (K, 2): from the upper trailing edge round the nose to the lower one (`read_coordinates`
    makes that order from either common file form); any scale. The foremost point becomes x = 0,
    the mean of both trailing ends x = 1; the section is not turned. At least 5 points a side with
    x rising from nose to tail, ShapeError otherwise.
    breaks, coefficients, ends: the spline, when it is read back instead of made.
    """

    xy: Array
    name: str = ""
    breaks: Array = field(default_factory=lambda: np.zeros(0))
    coefficients: Array = field(default_factory=lambda: np.zeros((4, 0)))
    ends: Array = field(default_factory=lambda: np.ones(2))

    def __post_init__(self) -> None:
        if len(self.breaks) == 0:
            self._fit()
        for name in ("xy", "breaks", "coefficients", "ends"):
            object.__setattr__(self, name, read_only(getattr(self, name)))

    def _fit(self) -> None:
        xy = np.array(self.xy, dtype=np.float64)
        if xy.ndim != 2 or xy.shape[1] != 2 or not np.isfinite(xy).all():
            raise ShapeError(
                "coordinates", f"An array of shape {xy.shape} was given.", "Finite pairs x, y."
            )
        nose = int(np.argmin(xy[:, 0]))
        if min(nose, len(xy) - 1 - nose) < 4 or len(xy) > 1000:
            raise ShapeError(
                "coordinates",
                f"{nose + 1} points above and {len(xy) - nose} below the nose were given.",
                "5 or more each side and at most 1000 in all are allowed.",
                "Give the points from the upper trailing edge round the nose to the lower one.",
            )
        upper, lower = xy[nose::-1], xy[nose:]
        for side, points in (("upper", upper), ("lower", lower)):
            falls = np.flatnonzero(np.diff(points[:, 0]) <= 0.0)
            if len(falls):
                a, b = points[falls[0]], points[falls[0] + 1]
                raise ShapeError(
                    "coordinates",
                    f"On the {side} side x goes from {a[0]:g} to {b[0]:g}.",
                    "x must rise from the nose to the trailing edge.",
                    "Put the points in order and drop doubled ones.",
                )
        start = xy[nose, 0]
        tails = np.array([lower[-1, 0], upper[-1, 0]]) - start
        chord = float(tails.mean())
        ends = tails / chord
        if abs(ends[0] - ends[1]) > 0.02:
            raise ShapeError(
                "coordinates",
                f"The sides end at x = {lower[-1, 0]:g} (lower) and {upper[-1, 0]:g} (upper).",
                "They may differ by at most 2 % of the chord.",
                "Add the missing trailing edge point.",
            )
        s_lower = -np.sqrt((lower[:0:-1, 0] - start) / tails[0])
        s_upper = np.sqrt((upper[:, 0] - start) / tails[1])
        s = np.concatenate([s_lower, s_upper])
        y = np.concatenate([lower[:0:-1, 1], upper[:, 1]]) / chord
        spline = interpolate.CubicSpline(s, y)
        object.__setattr__(self, "xy", xy)
        object.__setattr__(self, "breaks", spline.x)
        object.__setattr__(self, "coefficients", spline.c)
        object.__setattr__(self, "ends", ends)

    @property
    def kinks(self) -> Array:
        """Ascending s of the given points (there the spline's third derivative jumps)."""
        return read_only(self.breaks[1:-1])

    @property
    def closed(self) -> bool:
        """True where both trailing ends are one point (to 1e-9 of the chord)."""
        tails = self.at(np.array([-1.0, 1.0]))
        return bool(np.abs(tails[0] - tails[1]).max() < 1e-9)

    def _cell(self, s: Array) -> tuple[Array, Array]:
        cell = np.clip(np.searchsorted(self.breaks, s, side="right") - 1, 0, len(self.breaks) - 2)
        return self.coefficients[:, cell], s - self.breaks[cell]

    def at(self, s: ArrayLike) -> Array:
        """Points (..., 2) of unit chord at s (...)."""
        p = np.asarray(s, dtype=np.float64)
        c, h = self._cell(p)
        x = p * p * np.where(p < 0.0, self.ends[0], self.ends[1])
        return np.stack([x, ((c[0] * h + c[1]) * h + c[2]) * h + c[3]], axis=-1)

    def d(self, s: ArrayLike) -> Array:
        """Derivative (..., 2) of `at` by s (...)."""
        p = np.asarray(s, dtype=np.float64)
        c, h = self._cell(p)
        dx = 2.0 * p * np.where(p < 0.0, self.ends[0], self.ends[1])
        return np.stack([dx, (3.0 * c[0] * h + 2.0 * c[1]) * h + c[2]], axis=-1)

    def to_dict(self) -> dict[str, Any]:
        """A record (arrays stay arrays) from which `meshes.records` rebuilds the section."""
        return {
            "format": "section points/1",
            "name": self.name,
            "xy": self.xy,
            "breaks": self.breaks,
            "coefficients": self.coefficients,
            "ends": self.ends,
        }
