"""Plane outlines by their usual measures; round ones as polygons of the exact area."""

from __future__ import annotations

import math

import numpy as np

from meshes.check import between, positive
from meshes.patch import Array
from meshes.sampling import SAGITTA


def _corners(radius: float) -> int:
    """Sides of a polygon that is nowhere further than SAGITTA from a circle; a multiple of 4."""
    turn = math.acos(max(0.0, 1.0 - SAGITTA / radius))
    return max(64, 4 * math.ceil(math.pi / turn / 4.0))


def round_ring(diameter: float, centre: tuple[float, float] = (0.0, 0.0)) -> Array:
    """(K, 2) counter-clockwise ring of a circle, its area exactly that of the circle.

    ShapeError naming `diameter` unless it is positive.
    """
    return oval_ring(positive("diameter", diameter), diameter, centre)


def oval_ring(length: float, width: float, centre: tuple[float, float] = (0.0, 0.0)) -> Array:
    """(K, 2) counter-clockwise ring of an ellipse, length along x and width along y, of exact area.

    ShapeError naming `length` or `width` unless they are positive.
    """
    a = 0.5 * positive("length", length)
    b = 0.5 * positive("width", width)
    # The sagitta of an ellipse sampled by its circle is at most that of the circle of radius max.
    count = _corners(max(a, b))
    angle = 2.0 * np.pi * np.arange(count) / count
    # A regular polygon inscribed in radius r has the area n/2 sin(2 pi/n) r^2.
    grow = math.sqrt((2.0 * math.pi / count) / math.sin(2.0 * math.pi / count))
    unit = np.stack([np.cos(angle), np.sin(angle)], axis=-1) * grow
    return np.asarray(unit * np.array([a, b]) + np.asarray(centre))


def rectangle_ring(
    length: float, width: float, corner: float = 0.0, centre: tuple[float, float] = (0.0, 0.0)
) -> Array:
    """(K, 2) counter-clockwise ring of a rectangle, length along x, with rounded corners of exact
    area when `corner` (radius, mm) is above 0.

    ShapeError naming the measure that is not positive, or a corner above half the short side.
    """
    a = 0.5 * positive("length", length)
    b = 0.5 * positive("width", width)
    radius = between("corner", corner, 0.0, min(a, b), unit="mm")
    quarter = np.array([[1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0], [1.0, -1.0]])
    if radius == 0.0:
        return np.asarray(quarter * np.array([a, b]) + np.asarray(centre))
    count = _corners(radius) // 4
    step = 0.5 * np.pi / count
    pieces = []
    # Inner points lie a little outside so that each quarter has the sector's area; its ends stay on
    # the sides. With q = grown radius / radius the fan's area is sin(step)/2 (q^2 (n - 2) + 2 q).
    target = np.pi / 4.0 / (0.5 * math.sin(step))
    n = float(count - 2)
    grow = (-1.0 + math.sqrt(1.0 + n * target)) / n
    for k, sign in enumerate(quarter):
        angle = 0.5 * np.pi * k + step * np.arange(count + 1)
        reach = np.full(count + 1, radius * grow)
        reach[[0, -1]] = radius
        arc = np.stack([np.cos(angle), np.sin(angle)], axis=-1) * reach[:, None]
        pieces.append(arc + sign * np.array([a - radius, b - radius]))
    return np.asarray(np.concatenate(pieces) + np.asarray(centre))
