"""Doubly curved skins and polyhedra made by hand, and the judge of exact distances on them.

pygeodesic (exact windows of Mitchell, Mount and Papadimitriou on the polyhedron itself) has no
build for every machine: tests that need it say so and pass over, unless MAPPER_NO_SKIP is 1.
"""

from __future__ import annotations

import importlib
import os
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import numpy as np
import pytest

from mapper.surface.intrinsic import net_of
from mapper.surface.skin import Chart, Glue, Skin
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


@cache
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


def at_place(skin: Skin, longitude: float, latitude: float):
    """Flat point (2,) of a place on a hand-made sphere, rad."""
    return skin.charts[0].flat_map.to_flat(np.array([[longitude, latitude]]))[0]


def great_circle(radius, a, b) -> float:
    """Closed form: the arc between two places (longitude, latitude), rad."""
    u, v = (np.array([np.cos(t) * np.cos(s), np.sin(t), np.cos(t) * np.sin(s)]) for s, t in (a, b))
    return radius * float(np.arctan2(np.linalg.norm(np.cross(u, v)), u @ v))


def solid(points, triangles) -> Skin:
    """A polyhedron as a skin of one chart whose flat map means nothing: for ways along it only."""
    points, triangles = np.asarray(points, float), np.asarray(triangles, np.int32)
    flat = np.random.default_rng(1).normal(size=(len(points), 2))
    patch = SpherePatch(1.0, 0.0, 1.0)
    flat_map = handmade.ScaleMap(1.0, 1.0, isometric=False)
    rim = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    chart = Chart("all", patch, flat_map, rim, 0, len(triangles))
    inner = np.full((len(points), 2), 0.5)
    count = len(triangles)
    return Skin(
        "solid", ("outer", "inner"), points, flat, inner, triangles, np.zeros(count, np.int16),
        np.ones(count), points[:, 0], points[:, 0], (chart,),
    )  # fmt: skip


def cube() -> Skin:
    """The unit cube, twelve triangles; corner k has the binary digits of k as x, y, z."""
    points = [[k & 1, k >> 1 & 1, k >> 2] for k in range(8)]
    squares = [(0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5)]
    return solid(points, [t for a, b, c, d in squares for t in ((a, b, c), (a, c, d))])


def bumpy(size=14, seed=0, hole=True, height=0.4) -> Skin:
    """A rough sheet of size by size points, one apart, with a square hole in it."""
    rng = np.random.default_rng(seed)
    x, y = np.meshgrid(np.arange(size) * 1.0, np.arange(size) * 1.0, indexing="ij")
    points = np.stack([x.ravel(), y.ravel(), height * rng.normal(size=size * size)], -1)
    points[:, :2] += 0.15 * height / 0.4 * rng.normal(size=(size * size, 2))
    i = np.arange(size * size).reshape(size, size)
    a, b, c, d = (q.ravel() for q in (i[:-1, :-1], i[1:, :-1], i[1:, 1:], i[:-1, 1:]))
    faces = np.concatenate([np.stack([a, b, c], -1), np.stack([a, c, d], -1)])
    if hole:
        faces = faces[np.abs(points[faces].mean(1)[:, :2] - size / 2).max(1) > 0.2 * size]
    return solid(points, faces)


def exact_judge(skin: Skin):
    """(judge, net): pygeodesic's solver on the polyhedron of a skin, its corners numbered as in the
    net with sides as long as in space."""
    try:
        geodesic = importlib.import_module("pygeodesic.geodesic")
    except ImportError as error:
        word = f"pygeodesic is not installed here ({error}): no outside judge of exact distances"
        if os.environ.get("MAPPER_NO_SKIP") == "1":
            pytest.fail(word)
        pytest.skip(word)
    net = net_of(skin, chords=True)
    count = int(net.vertex.max()) + 1
    used = np.unique(net.vertex)
    compact = np.full(count, -1)
    compact[used] = np.arange(len(used))
    solver = geodesic.PyGeodesicAlgorithmExact(skin.points[used], compact[net.vertex])

    def judge(source: int, limit: float = 1e100):
        """(N,) distances of the net's corners from one of them; inf for numbers not in use."""
        found = np.full(count, np.inf)
        found[used] = solver.geodesicDistances([int(compact[source])], None, limit)[0]
        return found

    return judge, net
