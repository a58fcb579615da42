"""Points along a plane curve, dense enough that the polygon can stand for the curve."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from meshes.patch import Array

# Largest distance (mm) from a polygon to the curve it stands for.
SAGITTA = 1e-4

PlaneCurve = Callable[[Array], Array]


def _height(start: Array, end: Array, point: Array) -> Array:
    """Vectors (..., 2) from the chord start-end square to the point."""
    chord = end - start
    size = np.sum(chord * chord, axis=-1, keepdims=True)
    rest = point - start
    along = np.sum(rest * chord, axis=-1, keepdims=True) / np.where(size > 0.0, size, 1.0)
    return np.asarray(rest - along * chord)


def parameters(
    curve: PlaneCurve, breaks: Array, sagitta: float = SAGITTA, splits: int = 8
) -> Array:
    """Ascending parameters from breaks[0] to breaks[-1], all breaks among them, so that no chord is
    further than `sagitta` mm from the curve.

    Each interval is first cut in `splits`, then halved until its height at three inner points
    passes; 40 halvings at most.
    """
    inner = np.linspace(0.0, 1.0, splits, endpoint=False)
    grid = (breaks[:-1, None] + np.diff(breaks)[:, None] * inner).ravel()
    grid = np.append(grid, breaks[-1])
    left, right = grid[:-1], grid[1:]
    done = [breaks[-1:]]
    for _ in range(40):
        if len(left) == 0:
            break
        start, end = curve(left), curve(right)
        worst = np.zeros(len(left))
        for share in (0.3, 0.5, 0.7):
            height = _height(start, end, curve(left + share * (right - left)))
            worst = np.maximum(worst, np.linalg.norm(height, axis=-1))
        good = worst <= sagitta
        done.append(left[good])
        left, right = left[~good], right[~good]
        middle = 0.5 * (left + right)
        left, right = np.concatenate([left, middle]), np.concatenate([middle, right])
    done.append(left)
    return np.sort(np.concatenate(done))


def polygon_points(curve: PlaneCurve, at: Array) -> Array:
    """Points (K, 2) at ascending parameters, moved so that the polygon's area is the curve's.

    A chord cuts off 2/3 of its height times its length; moving the inner points by the mean of
    that on both sides puts it back, which leaves an error of fourth order. The ends stay.
    """
    points = curve(at)
    if len(at) < 3:
        return points
    height = _height(points[:-1], points[1:], curve(0.5 * (at[:-1] + at[1:])))
    size = np.linalg.norm(np.diff(points, axis=0), axis=-1, keepdims=True)
    cut = height * size
    moved = points.copy()
    moved[1:-1] += (2.0 / 3.0) * (cut[:-1] + cut[1:]) / (size[:-1] + size[1:])
    return moved
