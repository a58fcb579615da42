"""Lay one piece of mesh flat: as a plane, as a cylinder, else by conformal maps and rigid steps."""

from __future__ import annotations

from dataclasses import dataclass

import igl
import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

Array = NDArray[np.float64]
Ints = NDArray[np.int32]

NEAR_PLANE = 1e-5  # of the piece's size: as near as that to a plane it is one
ROUNDS = 8


@dataclass(frozen=True, eq=False)
class Laid:
    """A piece laid flat: flat (p, 2) mm; worst: largest |area flat / area - 1| of its triangles."""

    flat: Array
    worst: float


def lay(points: Array, corners: Ints) -> Laid | None:
    """A connected piece of mesh laid flat, its triangles counter-clockwise; None where it cannot be
    without turning a triangle over or laying one part on another (closed bodies, closed tubes).

    points (p, 3) mm, corners (n, 3). A flat piece keeps its shape to the last digits.
    """
    rings = rings_of(corners)
    if rings is None or not rings:
        return None
    flat = _on_plane(points, corners)
    if flat is None:
        # Only a disc (with holes) can lie flat: Euler's number tells a handle.
        edges = (3 * len(corners) + sum(map(len, rings))) // 2
        if len(points) - edges + len(corners) != 2 - len(rings):
            return None
        flat = _conformal(points, corners, rings)
    if flat is None or not np.isfinite(flat).all():
        return None
    double = cross2(flat, corners)
    if not (double > 0.0).all() or _overlaps(flat, rings):
        return None
    a, b, c = (points[corners[:, k]] for k in range(3))
    true = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    return Laid(flat, float(np.abs(double / true - 1.0).max()))


def cross2(flat: Array, corners: Ints) -> Array:
    """(n,) twice the signed areas on the flat map."""
    a, b, c = (flat[corners[:, k]] for k in range(3))
    one, two = b - a, c - a
    return np.asarray(one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0])


def rings_of(corners: Ints) -> list[Ints] | None:
    """The closed rings of points round a piece, the piece on their left; None where a point has two
    ways on (a pinched ring). [] for a closed body."""
    start = corners.reshape(-1).astype(np.int64)
    end = np.roll(corners, -1, axis=1).reshape(-1).astype(np.int64)
    count = int(corners.max()) + 1
    inner = np.isin(start * count + end, end * count + start)
    start, end = start[~inner], end[~inner]
    if len(np.unique(start)) != len(start):
        return None
    follows = np.full(count, -1, dtype=np.int64)
    follows[start] = end
    if len(start) == 0:
        return []
    graph = coo_array((np.ones(len(start), np.int8), (start, end)), shape=(count, count))
    _, label = connected_components(graph, directed=False)
    rings = []
    for root in np.unique(label[start], return_index=True)[1]:
        ring = [int(start[root])]
        while (point := int(follows[ring[-1]])) != ring[0]:
            ring.append(point)
        rings.append(np.array(ring, dtype=np.int32))
    return rings


def _on_plane(points: Array, corners: Ints) -> Array | None:
    """The piece as it lies in its plane, None where it has none."""
    a, b, c = (points[corners[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a).sum(axis=0)
    size = float(np.linalg.norm(np.ptp(points, axis=0)))
    long = float(np.linalg.norm(normal))
    if long <= 0.0:
        return None
    normal /= long
    middle = points.mean(axis=0)
    if float(np.abs((points - middle) @ normal).max()) > NEAR_PLANE * size:
        return None
    first = np.zeros(3)
    first[int(np.argmin(np.abs(normal)))] = 1.0
    first -= normal * (first @ normal)
    first /= np.linalg.norm(first)
    return np.stack([(points - middle) @ first, (points - middle) @ np.cross(normal, first)], -1)


def _conformal(points: Array, corners: Ints, rings: list[Ints]) -> Array | None:
    """Least-squares conformal, its size put right, then as rigid as possible."""
    outer = max(rings, key=lambda r: _round(points, r))
    one = int(outer[0])
    other = int(outer[np.argmax(np.linalg.norm(points[outer] - points[one], axis=1))])
    apart = float(np.linalg.norm(points[other] - points[one]))
    fixed = np.array([one, other], dtype=np.int64)
    faces = corners.astype(np.int64)
    try:
        flat, _ = igl.lscm(points, faces, fixed, np.array([[0.0, 0.0], [apart, 0.0]]))
    except RuntimeError:
        return None
    flat = np.asarray(flat, dtype=np.float64)
    if not np.isfinite(flat).all():
        return None
    double = cross2(flat, corners)
    if double.sum() < 0.0:
        flat = flat * np.array([1.0, -1.0])
        double = -double
    a, b, c = (points[corners[:, k]] for k in range(3))
    true = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    if not double.sum() > 0.0:
        return None
    flat = flat * np.sqrt(true.sum() / double.sum())
    better = _rigid(points, faces, flat)
    # Where the rigid steps turn something over, the conformal map may be the better one.
    return better if (cross2(better, corners) > 0.0).all() else flat


def _rigid(points: Array, faces: NDArray[np.int64], flat: Array) -> Array:
    data = igl.ARAPData()
    data.max_iter = ROUNDS
    data.energy = igl.ARAP_ENERGY_TYPE_DEFAULT
    try:
        # One point held, or the piece could drift.
        igl.arap_precomputation(points, faces, 2, np.zeros(1, dtype=np.int64), data)
        found = igl.arap_solve(flat[:1].copy(), data, flat)
    except RuntimeError:
        return flat
    return np.asarray(found, dtype=np.float64)


def _round(points: Array, ring: Ints) -> float:
    at = points[ring]
    return float(np.linalg.norm(np.roll(at, -1, axis=0) - at, axis=1).sum())


def _overlaps(flat: Array, rings: list[Ints]) -> bool:
    """Whether one part lies on another: triangles that all face up, round rings that do not cross,
    cover nothing twice."""
    largest = max(rings, key=lambda r: shapely.Polygon(flat[r]).area)
    holes = [flat[r] for r in rings if r is not largest]
    return not shapely.is_valid(shapely.Polygon(flat[largest], holes))
