"""Laying a twisted or changing sheet flat: in strips along its straight lines, then evened out.

The first step unrolls the strips between neighbouring straight lines (each is nearly flat), the
second moves all corners so that every triangle keeps its shape as nearly as it can
(as-rigid-as-possible, libigl).
"""

from __future__ import annotations

import igl
import numpy as np
import shapely
from numpy.typing import NDArray

from mapper.errors import MapperError
from mapper.surface.meshmap import grid_triangles

Array = NDArray[np.float64]

ROUNDS = 30


def _apex(a: Array, b: Array, to_a: float, to_b: float, left: bool) -> Array:
    """The point at given distances from a and b, to the left or right of a -> b."""
    base = b - a
    size = float(np.hypot(*base))
    along = (to_a**2 - to_b**2 + size**2) / (2.0 * size)
    high = float(np.sqrt(max(to_a**2 - along**2, 0.0)))
    unit = base / size
    normal = np.array([-unit[1], unit[0]])
    return a + along * unit + (high if left else -high) * normal


def strips(points: Array, start: int) -> Array:
    """(S, T, 3) points of a ruled sheet (rows along s, columns along its straight lines) to
    (S, T, 2): strips unrolled from row `start` both ways, that row along +x from the origin."""
    near, far = points[:, 0], points[:, -1]
    flat_near, flat_far = np.zeros((len(points), 2)), np.zeros((len(points), 2))
    flat_far[start, 0] = float(np.linalg.norm(far[start] - near[start]))

    def reach(p: Array, q: Array) -> float:
        return float(np.linalg.norm(p - q))

    rows = [(i, i + 1) for i in range(start, len(points) - 1)]
    rows += [(i, i - 1) for i in range(start, 0, -1)]
    for i, k in rows:
        a, b = flat_near[i], flat_far[i]
        left = k > i
        flat_near[k] = _apex(a, b, reach(near[k], near[i]), reach(near[k], far[i]), left)
        flat_far[k] = _apex(
            flat_near[k], b, reach(far[k], near[k]), reach(far[k], far[i]), not left
        )
    share = np.linalg.norm(points - points[:, :1], axis=-1)
    share = share / share[:, -1:]
    return np.asarray(flat_near[:, None] + share[..., None] * (flat_far - flat_near)[:, None])


def lay_flat(points: Array, start: int) -> Array:
    """(S, T, 3) points of a ruled sheet's grid to flat (S, T, 2) mm.

    Row `start` begins at the origin and its last point lies on +x. MapperError where the result
    turns a triangle over or overlaps itself.
    """
    rows, columns, _ = points.shape
    triangles = grid_triangles(rows, columns)
    flat = strips(points, start).reshape(-1, 2)
    corners = np.ascontiguousarray(points.reshape(-1, 3))
    faces = triangles.astype(np.int64)
    data = igl.ARAPData()
    fixed = np.array([start * columns], dtype=np.int32)
    igl.arap_precomputation(corners, faces, 2, fixed, data)
    hold = flat[fixed]
    for _ in range(ROUNDS):
        before = flat
        flat = np.ascontiguousarray(igl.arap_solve(hold, data, np.asfortranarray(flat)))
        if np.abs(flat - before).max() < 1e-4:
            break
    grid = flat.reshape(rows, columns, 2)
    line = grid[start, -1] - grid[start, 0]
    turn = np.array([[line[0], line[1]], [-line[1], line[0]]]) / np.hypot(*line)
    grid = (grid - grid[start, 0]) @ turn.T
    check_flat(grid.reshape(-1, 2), triangles, boundary(grid))
    return np.asarray(grid)


def boundary(grid: Array) -> Array:
    """(K, 2) counter-clockwise ring of a grid of flat corners (S, T, 2)."""
    return np.concatenate([grid[0, :-1], grid[:-1, -1], grid[-1, :0:-1], grid[:0:-1, 0]])


def check_flat(flat: Array, triangles: NDArray[np.int32], rim: Array) -> None:
    """MapperError where a triangle is turned over or has no area, or the rim crosses itself.

    Triangles all one way round inside a simple rim cannot overlap.
    """
    a, b, c = (flat[triangles[:, k]] for k in range(3))
    double = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    turned = int(np.count_nonzero(~(double > 0.0)))
    if turned:
        raise MapperError(
            f"Laid flat, {turned} of {len(triangles)} triangles turn over.",
            "A sheet must lie flat without folds.",
            "Give more sections between the ones that differ.",
        )
    if not shapely.Polygon(rim).is_valid:
        raise MapperError(
            "Laid flat, the sheet overlaps itself.",
            "A sheet must lie flat in one piece.",
            "Give more sections, or make it of several parts.",
        )
