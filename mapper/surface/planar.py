"""Triangles for a flat piece of sheet, with the exact area of its curved edges kept."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from mapper.late import Late
from meshes.check import shoelace

if TYPE_CHECKING:
    from scipy import spatial
else:
    spatial = Late("scipy.spatial")

Array = NDArray[np.float64]

# Corners sharper than this stay corners of the mesh (radians).
SHARP = 0.05
ROUNDS = 12


def _dense(outline: Array, step: float) -> Array:
    """The ring with further points on its straight edges, none further apart than `step`."""
    after = np.roll(outline, -1, axis=0)
    count = np.maximum(1, np.ceil(np.linalg.norm(after - outline, axis=1) / step)).astype(int)
    pieces = [
        a + (b - a) * (np.arange(n) / n)[:, None]
        for a, b, n in zip(outline, after, count, strict=True)
    ]
    return np.concatenate(pieces)


def _coarse(outline: Array, step: float) -> NDArray[np.intp]:
    """Indices of a sub-ring: all sharp corners, and others about `step` apart."""
    before = outline - np.roll(outline, 1, axis=0)
    after = np.roll(outline, -1, axis=0) - outline
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = np.abs(np.arctan2(cross, np.sum(before * after, axis=1)))
    size = np.linalg.norm(after, axis=1)
    run = np.concatenate([[0.0], np.cumsum(size)[:-1]])
    mark = np.floor(run / step * (1.0 + 1e-12))
    keep = (turn > SHARP) | (mark != np.roll(mark, 1))
    return np.flatnonzero(keep)


def _areas(points: Array, faces: NDArray[np.int32]) -> Array:
    a, b, c = (points[faces[:, k]] for k in range(3))
    double = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    return np.asarray(0.5 * double)


def triangulate(outline: Array, triangles: int) -> tuple[Array, NDArray[np.int32], Array]:
    """Points (N, 2), triangles (M, 3) counter-clockwise and their exact areas (M,) inside a ring.

    outline (K, 2): counter-clockwise. At most `triangles` triangles. The mesh follows a coarser
    ring; what lies between that and the outline counts with the triangle at that edge, so the
    areas sum to the outline's.
    """
    total = shoelace(outline)
    # Half of the triangles allowed: edges that have to be halved need room.
    edge = float(np.sqrt(4.0 * total / triangles)) * 1.5
    length = float(np.linalg.norm(np.roll(outline, -1, axis=0) - outline, axis=1).sum())
    edge = max(edge, 8.0 * length / triangles)
    dense = _dense(outline, edge / 8.0)
    picked = _coarse(dense, edge)
    inner = _inner(outline, edge)
    for _ in range(ROUNDS):
        points = np.concatenate([dense[picked], inner])
        faces = _delaunay(points, outline)
        missing = _missing(faces, len(picked))
        if len(missing) == 0:
            break
        first, last = picked[missing], np.roll(picked, -1)[missing]
        last = np.where(last > first, last, last + len(dense))
        middle = (first + last) // 2
        picked = np.unique(np.concatenate([picked, middle % len(dense)]))
        ends = dense[picked]
        # Inner points inside an edge's own circle would hide that edge again.
        reach = 0.55 * np.linalg.norm(np.roll(ends, -1, axis=0) - ends, axis=1)
        centre = 0.5 * (np.roll(ends, -1, axis=0) + ends)
        if len(inner):
            gap, near = spatial.cKDTree(centre).query(inner)
            inner = inner[gap > reach[near]]
    area = _areas(points, faces)
    fits = len(faces) <= triangles and len(np.unique(faces)) == len(points)
    sound = fits and len(missing) == 0 and bool((area > 0.0).all())
    if not sound or abs(float(area.sum()) - shoelace(dense[picked])) > 1e-9 * total:
        picked = np.arange(len(dense))
        points, faces = dense, _plain(dense)
        area = _areas(points, faces)
    _add_rest(area, faces, dense, picked)
    return points, faces, area


def _add_rest(
    area: Array, faces: NDArray[np.int32], dense: Array, picked: NDArray[np.intp]
) -> None:
    """Adds what lies between the mesh's ring and the outline to the triangles at its edges."""
    owner = {(int(f[k]), int(f[(k + 1) % 3])): n for n, f in enumerate(faces) for k in range(3)}
    count = len(picked)
    for k in range(count):
        first, last = int(picked[k]), int(picked[(k + 1) % count])
        if last <= first:
            piece = np.concatenate([dense[first:], dense[: last + 1]])
        else:
            piece = dense[first : last + 1]
        if len(piece) > 2:
            area[owner[(k, (k + 1) % count)]] += shoelace(piece)


def _inner(outline: Array, edge: float) -> Array:
    """Points of a triangular lattice that lie well inside the outline."""
    inside = shapely.Polygon(outline).buffer(-0.6 * edge)
    low, high = outline.min(axis=0), outline.max(axis=0)
    rows = np.arange(low[1], high[1], edge * np.sqrt(0.75))
    x = [np.arange(low[0] + (k % 2) * 0.5 * edge, high[0], edge) for k in range(len(rows))]
    y = [np.full(len(a), b) for a, b in zip(x, rows, strict=True)]
    points = np.stack([np.concatenate(x), np.concatenate(y)], axis=-1)
    return np.asarray(points[shapely.contains_xy(inside, points[:, 0], points[:, 1])])


def _delaunay(points: Array, outline: Array) -> NDArray[np.int32]:
    """Delaunay's triangles whose middle lies inside the outline, counter-clockwise."""
    faces = np.asarray(spatial.Delaunay(points).simplices, dtype=np.int32)
    double = _areas(points, faces)
    faces = np.where((double > 0.0)[:, None], faces, faces[:, [0, 2, 1]])
    centre = points[faces].mean(axis=1)
    inside = shapely.contains_xy(shapely.Polygon(outline), centre[:, 0], centre[:, 1])
    return np.asarray(faces[inside & (np.abs(double) > 0.0)])


def _missing(faces: NDArray[np.int32], count: int) -> NDArray[np.intp]:
    """Numbers k of ring edges (k, k + 1) that no triangle has."""
    pairs = np.concatenate([faces[:, [k, (k + 1) % 3]] for k in range(3)])
    known = set(map(tuple, pairs[(pairs < count).all(axis=1)].tolist()))
    return np.array([k for k in range(count) if (k, (k + 1) % count) not in known], dtype=np.intp)


def _plain(ring: Array) -> NDArray[np.int32]:
    """The constrained triangulation of a ring without inner points."""
    number = {(float(x), float(y)): k for k, (x, y) in enumerate(ring)}
    faces = []
    for piece in shapely.constrained_delaunay_triangles(shapely.Polygon(ring)).geoms:
        corners = shapely.get_coordinates(piece.exterior)[:3]
        face = [number[(float(x), float(y))] for x, y in corners]
        faces.append(face if shoelace(corners) > 0.0 else face[::-1])
    return np.array(faces, dtype=np.int32)
