"""Small skins made by hand, independent of the shapes of the program, for tests of measuring.

tube: radius r, length l, closed round (its s0 edge glued to s1), developed exactly.
nose: a twisted, tapered ruled sheet with a round nose and an arbitrary map that is affine in each
triangle: nothing about it is isometric, and its patch / flat ratio varies strongly at the nose.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.polynomial.legendre import leggauss

from mapper.surface.skin import Chart, Glue, Skin


@dataclass(frozen=True, eq=False)
class TubePatch:
    """Axis along y; s in 0..1 once round, t in 0..1 along."""

    radius: float
    long: float
    kind: str = "cone"
    s_lines: np.ndarray = field(default_factory=lambda: np.array([0.0, 1.0]))
    t_lines: np.ndarray = field(default_factory=lambda: np.array([0.0, 1.0]))

    def at(self, s, t):
        s, t = np.broadcast_arrays(s, t)
        a = 2 * np.pi * s
        return np.stack([self.radius * np.cos(a), self.long * t, self.radius * np.sin(a)], -1)

    def partials(self, s, t):
        s, t = np.broadcast_arrays(s, t)
        a, w = 2 * np.pi * s, 2 * np.pi * self.radius
        zero = np.zeros_like(a)
        return (
            np.stack([-w * np.sin(a), zero, w * np.cos(a)], -1),
            np.stack([zero, zero + self.long, zero], -1),
        )

    def station(self, s, t):
        return self.long * np.broadcast_arrays(s, t)[1]

    def chord(self, s, t):
        return np.full(np.broadcast_shapes(np.shape(s), np.shape(t)), np.nan)

    def upper(self, s, t):
        return np.broadcast_arrays(s, t)[0] < 0.5

    def to_dict(self) -> dict[str, Any]:
        return {}


@dataclass(frozen=True, eq=False)
class ScaleMap:
    """Flat x = b t, y = a s."""

    a: float
    b: float
    isometric: bool = True

    def to_flat(self, param):
        return np.stack([self.b * param[:, 1], self.a * param[:, 0]], -1)

    def to_param(self, flat):
        out = np.stack([flat[:, 1] / self.a, flat[:, 0] / self.b], -1)
        out[np.any((out < -1e-9) | (out > 1 + 1e-9), axis=1)] = np.nan
        return np.clip(out, 0, 1)

    def to_dict(self) -> dict[str, Any]:
        return {}


@dataclass(frozen=True, eq=False)
class NosePatch:
    """P = (1 - t) C0(s) + t C1(s); C = a turned, scaled (s2, h s (1 - s2 / 2)); s in -1..1."""

    chord_root: float = 1500.0
    chord_tip: float = 900.0
    span: float = 4000.0
    twist: float = np.radians(3.0)
    thick: tuple[float, float] = (0.16, 0.10)
    kind: str = "ruled"
    s_lines: np.ndarray = field(default_factory=lambda: np.array([-1.0, 0.0, 1.0]))
    t_lines: np.ndarray = field(default_factory=lambda: np.array([0.0, 1.0]))

    def _curve(self, s, which, slope):
        c = (self.chord_root, self.chord_tip)[which]
        h = self.thick[which]
        a = (0.0, self.twist)[which]
        u, v = (2 * s, h * (1 - 1.5 * s**2)) if slope else (s**2, h * (s - 0.5 * s**3))
        y = 0.0 if slope else which * self.span
        return np.stack(
            [
                c * (u * np.cos(a) + v * np.sin(a)),
                np.broadcast_to(y, np.shape(s)),
                c * (v * np.cos(a) - u * np.sin(a)),
            ],
            -1,
        )

    def at(self, s, t):
        s, t = np.broadcast_arrays(s, t)
        return (1 - t)[..., None] * self._curve(s, 0, False) + t[..., None] * self._curve(
            s, 1, False
        )

    def partials(self, s, t):
        s, t = np.broadcast_arrays(s, t)
        along_s = (1 - t)[..., None] * self._curve(s, 0, True) + t[..., None] * self._curve(
            s, 1, True
        )
        return along_s, self._curve(s, 1, False) - self._curve(s, 0, False)

    def station(self, s, t):
        return self.span * np.broadcast_arrays(s, t)[1]

    def chord(self, s, t):
        return 100 * np.broadcast_arrays(s, t)[0] ** 2

    def upper(self, s, t):
        return np.broadcast_arrays(s, t)[0] >= 0

    def to_dict(self) -> dict[str, Any]:
        return {}


@dataclass(frozen=True, eq=False)
class GridMap:
    """Affine in each triangle of a grid: values (S, T, 2) at the crossings of s and t lines."""

    s: np.ndarray
    t: np.ndarray
    values: np.ndarray
    isometric: bool = False

    def to_flat(self, param):
        i = np.clip(np.searchsorted(self.s, param[:, 0], "right") - 1, 0, len(self.s) - 2)
        j = np.clip(np.searchsorted(self.t, param[:, 1], "right") - 1, 0, len(self.t) - 2)
        u = ((param[:, 0] - self.s[i]) / (self.s[i + 1] - self.s[i]))[:, None]
        v = ((param[:, 1] - self.t[j]) / (self.t[j + 1] - self.t[j]))[:, None]
        v00, v10 = self.values[i, j], self.values[i + 1, j]
        v01, v11 = self.values[i, j + 1], self.values[i + 1, j + 1]
        low = v00 + u * (v10 - v00) + v * (v11 - v10)
        high = v00 + v * (v01 - v00) + u * (v11 - v01)
        return np.where(u >= v, low, high)

    def to_dict(self) -> dict[str, Any]:
        return {}


def _grid(patch, s, t, flat_of):
    ss, tt = np.meshgrid(s, t, indexing="ij")
    param = np.stack([ss.ravel(), tt.ravel()], -1)
    number = np.arange(len(param)).reshape(ss.shape)
    a, b = number[:-1, :-1].ravel(), number[1:, :-1].ravel()
    c, d = number[1:, 1:].ravel(), number[:-1, 1:].ravel()
    tri = np.concatenate([np.stack([a, c, b], -1), np.stack([a, d, c], -1)])
    flat = flat_of(param)
    x, w = leggauss(8)
    x, w = 0.5 * (x + 1), 0.5 * w
    # a triangle as a collapsed square, 64 points: exact to the last digits on these small triangles
    u = np.repeat(x, 8)
    v = np.tile(x, 8) * (1 - u)
    weight = np.outer(w, w).ravel() * (1 - u)
    corners = param[tri]
    at = corners[:, :1] + u[:, None] * (corners[:, 1:2] - corners[:, :1])
    at = at + v[:, None] * (corners[:, 2:] - corners[:, :1])
    ds, dt = patch.partials(at[..., 0], at[..., 1])
    e1, e2 = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    twice = np.abs(e1[:, 0] * e2[:, 1] - e1[:, 1] * e2[:, 0])
    area = twice * (np.linalg.norm(np.cross(ds, dt), axis=-1) @ weight)
    return param, flat, tri.astype(np.int32), area


def _skin(name, patch, flat_map, rim, param, flat, tri, area, glue=()):
    chart = Chart("all", patch, flat_map, rim, 0, len(tri))
    points = patch.at(param[:, 0], param[:, 1])
    return Skin(
        name, ("outer", "inner"), points, flat, param, tri, np.zeros(len(tri), np.int16), area,
        patch.station(param[:, 0], param[:, 1]), patch.chord(param[:, 0], param[:, 1]),
        (chart,), glue,
    )  # fmt: skip


def tube(radius=20.0, long=1000.0, round_=24, along=20) -> Skin:
    """A push-pull tube: nothing is stretched; the flat map is 2 pi r high and long wide."""
    patch = TubePatch(radius, long)
    flat_map = ScaleMap(2 * np.pi * radius, long)
    made = _grid(
        patch, np.linspace(0, 1, round_ + 1), np.linspace(0, 1, along + 1), flat_map.to_flat
    )
    height = 2 * np.pi * radius
    rim = np.array([[0, 0], [long, 0], [long, height], [0, height]], float)
    return _skin("tube", patch, flat_map, rim, *made, glue=(Glue(0, "s0", 0, "s1"),))


def nose(s_steps=80, t_steps=60, patch: NosePatch | None = None) -> Skin:
    """The twisted sheet; its map lays arc lengths of the mean section over sheared stations."""
    patch = NosePatch() if patch is None else patch
    s, t = np.linspace(-1, 1, s_steps + 1), np.linspace(0, 1, t_steps + 1)
    ss, tt = np.meshgrid(s, t, indexing="ij")
    points = patch.at(ss, tt)
    arc = np.zeros_like(ss)
    arc[1:] = np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=-1), axis=0)
    arc -= arc[s_steps // 2]
    values = np.stack([patch.span * tt + 0.03 * arc, arc * (1 + 0.01 * tt)], -1)
    flat_map = GridMap(s, t, values)
    made = _grid(patch, s, t, flat_map.to_flat)
    rim = np.concatenate([values[0, :-1], values[:-1, -1], values[-1, :0:-1], values[:0:-1, 0]])
    return _skin("nose", patch, flat_map, rim, *made)
