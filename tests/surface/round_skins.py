"""Doubly curved skins made by hand: a sphere between two latitudes, pole included if wanted."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from mapper.surface.skin import Glue, Skin
from tests.surface import handmade


@dataclass(frozen=True, eq=False)
class SpherePatch:
    """Longitude s in -pi..pi, latitude t in low..high (rad), seen from outside."""

    radius: float
    low: float
    high: float
    kind: str = "round"
    s_lines: np.ndarray = field(default_factory=lambda: np.array([-np.pi, np.pi]))

    @property
    def t_lines(self):
        return np.array([self.low, self.high])

    def at(self, s, t):
        s, t = np.broadcast_arrays(s, t)
        return self.radius * np.stack([np.cos(t) * np.cos(s), np.sin(t), np.cos(t) * np.sin(s)], -1)

    def partials(self, s, t):
        s, t = np.broadcast_arrays(s, t)
        c, d = np.cos(t), np.sin(t)
        return (
            self.radius * np.stack([-c * np.sin(s), 0 * s, c * np.cos(s)], -1),
            self.radius * np.stack([-d * np.cos(s), c, -d * np.sin(s)], -1),
        )

    def station(self, s, t):
        return self.radius * np.sin(np.broadcast_arrays(s, t)[1])

    def chord(self, s, t):
        return np.full(np.broadcast_shapes(np.shape(s), np.shape(t)), np.nan)

    def upper(self, s, t):
        return np.broadcast_arrays(s, t)[0] > 0

    def to_dict(self) -> dict[str, Any]:
        return {}


def sphere(radius=1000.0, low=-1.2, high=1.2, around=100, along=50, sheared=0.2) -> Skin:
    """A sphere between two latitudes, closed round; its map is sheared and nowhere isometric."""
    patch = SpherePatch(radius, low, high)
    s, t = np.linspace(-np.pi, np.pi, around + 1), np.linspace(low, high, along + 1)
    ss, tt = np.meshgrid(s, t, indexing="ij")
    values = radius * np.stack([tt + sheared * 0.1 * ss, ss * (1 + sheared * 0.2 * tt)], -1)
    flat_map = handmade.GridMap(s, t, values)
    made = handmade._grid(patch, s, t, flat_map.to_flat)
    rim = np.concatenate([values[0, :-1], values[:-1, -1], values[-1, :0:-1], values[:0:-1, 0]])
    return handmade._skin("ball", patch, flat_map, rim, *made, glue=(Glue(0, "s0", 0, "s1"),))
