"""Clean triangles about given lines of the plane: Delaunay's, refined where they are too thin.

Thin triangles get a corner in the middle of their circle, unless it would come too near to a given
line; then that line is halved instead. Ruppert, "A Delaunay refinement algorithm for quality
2-dimensional mesh generation" (1995), from memory; here many corners at a time. Lines that may not
be halved (other triangles stand behind them) leave what is thin beside them as it is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from mapper.late import Late

if TYPE_CHECKING:
    from scipy import spatial
else:
    spatial = Late("scipy.spatial")

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

LEAST_ANGLE = 24.0  # degrees aimed at; Ruppert's proof holds to 20.7
ROUNDS = 60
APART = 0.7  # of their circles' radii: as far new corners of one round are from each other
SMALL = 0.35  # of the shortest line given: no circle smaller than this gets a corner


@dataclass(frozen=True, eq=False)
class Lines:
    """Lines between points: ends (K, 2) numbers of points; fixed (K,) those that stay whole."""

    ends: Ints
    fixed: Flags


@dataclass(frozen=True, eq=False)
class Refined:
    """Points (N, 2), the given ones first; triangles (M, 3), counter-clockwise, that fill the
    region; lines (L, 2) the pieces that the given lines have become; whole: whether all of them are
    sides of triangles."""

    points: Array
    triangles: Ints
    lines: Ints
    whole: bool


def angles(points: Array, triangles: Ints) -> Array:
    """(M, 3) angles of triangles at their corners, degrees."""
    corner = points[triangles]
    out = np.empty(triangles.shape)
    for k in range(3):
        u = corner[:, (k + 1) % 3] - corner[:, k]
        v = corner[:, (k + 2) % 3] - corner[:, k]
        cross = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
        out[:, k] = np.degrees(np.arctan2(np.abs(cross), np.sum(u * v, axis=1)))
    return out


def _circles(points: Array, triangles: Ints) -> tuple[Array, Array]:
    """Middles (M, 2) and radii (M,) of the circles through triangles' corners."""
    a = points[triangles[:, 0]]
    u, v = points[triangles[:, 1]] - a, points[triangles[:, 2]] - a
    double = 2.0 * (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    uu, vv = np.sum(u * u, axis=1), np.sum(v * v, axis=1)
    x = (v[:, 1] * uu - u[:, 1] * vv) / double
    y = (u[:, 0] * vv - v[:, 0] * uu) / double
    return a + np.stack([x, y], axis=1), np.hypot(x, y)


def _key(pairs: Ints, count: int) -> Ints:
    return np.asarray(pairs.min(axis=-1) * count + pairs.max(axis=-1))


def _mesh(points: Array, region: BaseGeometry) -> Ints:
    found = np.asarray(spatial.Delaunay(points).simplices, dtype=np.int64)
    a, b, c = (points[found[:, k]] for k in range(3))
    double = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    found = np.where((double > 0.0)[:, None], found, found[:, [0, 2, 1]])
    middle = points[found].mean(axis=1)
    inside = shapely.contains_xy(region, middle[:, 0], middle[:, 1])
    return np.asarray(found[inside & (np.abs(double) > 1e-12)])


def _sides(triangles: Ints) -> Ints:
    return np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])


def refined(
    points: Array,
    lines: Lines,
    region: BaseGeometry,
    rough: BaseGeometry,
    size: Callable[[Array], Array] | None = None,
) -> Refined:
    """Triangles of a region of the plane with given points and lines for corners and sides.

    points (N, 2); the lines bound the region and may run inside it, and meet at points only. rough:
    a part of the region, bounded by lines, whose triangles may be thin. All triangles elsewhere
    have angles of LEAST_ANGLE degrees or more, but beside fixed lines, and between lines that meet
    at less. size: how large (K,) the circles through triangles' corners may be at places (K, 2),
    and half as long as lines may be; None for any size.
    """
    shapely.prepare(region)
    shapely.prepare(rough)
    ends, fixed = lines.ends, lines.fixed
    step = points[ends[:, 1]] - points[ends[:, 0]]
    floor = SMALL * float(np.hypot(*step.T).min())
    faces = _mesh(points, region)
    for _ in range(ROUNDS):
        known = np.isin(_key(ends, len(points)), _key(_sides(faces), len(points)))
        halve = ~known & ~fixed
        if size is not None:
            a, b = points[ends[:, 0]], points[ends[:, 1]]
            halve |= ~fixed & (0.5 * np.hypot(*(b - a).T) > size(0.5 * (a + b)))
        if known.all() and not halve.any():
            fresh, halve = _corners(points, faces, ends, fixed, region, rough, floor, size)
        else:
            fresh = np.zeros((0, 2))
        if not len(fresh) and not halve.any():
            break
        middle = 0.5 * (points[ends[halve, 0]] + points[ends[halve, 1]])
        number = len(points) + np.arange(len(middle))
        first = np.stack([ends[halve, 0], number], axis=1)
        second = np.stack([number, ends[halve, 1]], axis=1)
        ends = np.concatenate([ends[~halve], first, second])
        fixed = np.concatenate([fixed[~halve], np.zeros(2 * len(middle), np.bool_)])
        points = np.concatenate([points, middle, fresh])
        faces = _mesh(points, region)
    known = np.isin(_key(ends, len(points)), _key(_sides(faces), len(points)))
    return Refined(points, faces, ends, bool(known.all()))


def _corners(
    points: Array,
    faces: Ints,
    ends: Ints,
    fixed: Flags,
    region: BaseGeometry,
    rough: BaseGeometry,
    floor: float,
    size: Callable[[Array], Array] | None,
) -> tuple[Array, Flags]:
    """New corners (K, 2) for triangles too thin or too large, and which lines to halve instead."""
    halve = np.zeros(len(ends), np.bool_)
    angle = angles(points, faces)
    thin = angle.min(axis=1) < LEAST_ANGLE
    # Between two given lines an angle is what it is.
    sides = np.isin(
        _key(faces[:, [[1, 2], [2, 0], [0, 1]]].reshape(-1, 2), len(points)),
        _key(ends, len(points)),
    ).reshape(-1, 3)
    rows, least = np.arange(len(faces)), angle.argmin(axis=1)
    thin &= ~(sides[rows, (least + 1) % 3] & sides[rows, (least + 2) % 3])
    middle = points[faces].mean(axis=1)
    centre, radius = _circles(points, faces)
    if size is not None:
        thin |= radius > size(middle)
    thin &= ~shapely.contains_xy(rough, middle[:, 0], middle[:, 1])
    bad = np.flatnonzero(thin & np.isfinite(radius) & (radius > floor))
    centre, radius = centre[bad], radius[bad]
    order = np.argsort(angle.min(axis=1)[bad], kind="stable")
    centre, radius = centre[order], radius[order]
    a, b = points[ends[:, 0]], points[ends[:, 1]]
    middles, half = 0.5 * (a + b), 0.5 * np.hypot(*(b - a).T)
    away = np.hypot(*(centre[:, None] - middles[None]).transpose(2, 0, 1))
    near = away < half[None] * (1.0 - 1e-9)
    met = near.any(axis=1)
    halve |= (near & ~fixed[None] & (half[None] > floor)).any(axis=0)
    inside = shapely.contains_xy(region, centre[:, 0], centre[:, 1])
    inside &= ~shapely.contains_xy(rough, centre[:, 0], centre[:, 1])
    taken: list[int] = []
    for k in np.flatnonzero(inside & ~met):
        gaps = np.hypot(*(centre[taken] - centre[k]).T) if taken else np.array([np.inf])
        if gaps.min() > APART * radius[k]:
            taken.append(int(k))
    return centre[taken], halve
