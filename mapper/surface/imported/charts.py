"""Cut a mesh into charts that lie flat with little stretch.

Triangles are gathered over edges that bend less than a crease; each such piece is laid flat, and
split again where that turns a triangle over, lays one part on another, or stretches too much.
Corners are shared inside a chart only, and only round one fan of triangles: where a sheet meets
itself in a point or an edge, it is cut.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from mapper.errors import MapperError
from mapper.surface.imported.lay import Laid, lay
from mapper.surface.imported.mend import Mended, areas_of, crosses

Array = NDArray[np.float64]
Ints = NDArray[np.int32]
Flags = NDArray[np.bool_]
Numbers = NDArray[np.int64]

CREASE = 18.0  # degrees: above the angle between facets of a rounded sheet, below that of a flange
STRETCH = 0.15  # worst area error of a triangle of a chart
MOST_SPLITS = 40


@dataclass(frozen=True, eq=False)
class CutChart:
    """One chart: triangles (n,) numbers in the mesh; corners (n, 3) into its own points; vertex
    (p,): the mesh's point of each of its own; flat (p, 2) mm, counter-clockwise for the triangles
    as the mesh has them; worst: largest |area flat / area - 1| of a triangle."""

    triangles: Ints
    corners: Ints
    vertex: Ints
    flat: Array
    worst: float


def cut(mesh: Mended, *, crease: float = CREASE, stretch: float = STRETCH) -> tuple[CutChart, ...]:
    """The charts of a mesh, largest first; every triangle is in one chart.

    crease: degrees above which an edge parts two charts. stretch: worst area error allowed; a piece
    that cannot be split further keeps what it has (a single triangle has none).
    """
    normals = crosses(mesh.points, mesh.triangles)
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    first = _gathered(
        mesh, np.arange(len(mesh.triangles), dtype=np.int32), normals, np.cos(np.radians(crease))
    )
    waiting = [(piece, 0) for piece in first]
    done: list[CutChart] = []
    while waiting:
        piece, depth = waiting.pop()
        corners, vertex = own_corners(mesh, piece)
        laid = lay(mesh.points[vertex], corners)
        good = laid is not None and laid.worst <= stretch
        if good or len(piece) == 1 or depth >= MOST_SPLITS:
            done.append(_chart(mesh, piece, corners, vertex, laid))
            continue
        parts = _split(mesh, piece, normals)
        waiting += [(p, depth + 1) for p in parts]
    sizes = areas_of(mesh.points, mesh.triangles)
    done.sort(key=lambda c: -float(sizes[c.triangles].sum()))
    return tuple(done)


def _chart(mesh: Mended, piece: Ints, corners: Ints, vertex: Ints, laid: Laid | None) -> CutChart:
    if laid is None:
        # A single triangle always lies flat: a longer piece comes here only after the last split.
        raise MapperError(
            f"{len(piece):,} triangles of the mesh cannot be laid flat.",
            "A sheet that does not cross itself can.",
            "Mend the mesh, or leave that part out.",
        )
    return CutChart(piece, corners, vertex, laid.flat, laid.worst)


def own_corners(mesh: Mended, piece: Ints) -> tuple[Ints, Ints]:
    """Corners (n, 3) into points of the piece's own, and the mesh's point (p,) of each.

    Two triangles share a corner where they are neighbours over an edge at it, in one fan.
    """
    local = np.full(len(mesh.triangles), -1, dtype=np.int64)
    local[piece] = np.arange(len(piece))
    side = (3 * piece[:, None].astype(np.int64) + np.arange(3)).reshape(-1)
    mate = mesh.sides.mate[side].astype(np.int64)
    inside = (mate >= 0) & ~mesh.sides.along[side]
    inside[inside] &= local[mate[inside] // 3] >= 0
    here = np.flatnonzero(inside)
    there = 3 * local[mate[here] // 3] + mate[here] % 3
    # A side's start is its mate's end, and the other way round.
    after = here - here % 3 + (here + 1) % 3
    beyond = there - there % 3 + (there + 1) % 3
    a, b = np.concatenate([here, after]), np.concatenate([beyond, there])
    count = 3 * len(piece)
    graph = coo_array((np.ones(len(a), np.int8), (a, b)), shape=(count, count))
    number, label = connected_components(graph, directed=False)
    vertex = np.empty(number, dtype=np.int32)
    vertex[label] = mesh.triangles[piece].reshape(-1)
    return label.reshape(-1, 3).astype(np.int32), vertex


def _gathered(mesh: Mended, piece: Ints, normals: Array, least: float) -> list[Ints]:
    """The pieces that hang together over edges which bend no more than that (cosine)."""

    def flat(a: Numbers, b: Numbers) -> Flags:
        return np.asarray(np.einsum("ij,ij->i", normals[a], normals[b]) >= least)

    return _together(mesh, piece, flat)


def _together(mesh: Mended, piece: Ints, joined: Callable[[Numbers, Numbers], Flags]) -> list[Ints]:
    """The pieces that hang together over those inner edges of which `joined` is true, given the
    triangles on either side."""
    local = np.full(len(mesh.triangles), -1, dtype=np.int64)
    local[piece] = np.arange(len(piece))
    side = (3 * np.asarray(piece, np.int64)[:, None] + np.arange(3)).reshape(-1)
    mate = mesh.sides.mate[side].astype(np.int64)
    good = (mate > side) & ~mesh.sides.along[side]
    good[good] &= local[mate[good] // 3] >= 0
    a, b = side[good] // 3, mate[good] // 3
    keep = joined(a, b)
    graph = coo_array(
        (np.ones(int(keep.sum()), np.int8), (local[a[keep]], local[b[keep]])),
        shape=(len(piece), len(piece)),
    )
    number, label = connected_components(graph, directed=False)
    order = np.argsort(label, kind="stable")
    ends = np.cumsum(np.bincount(label, minlength=number))[:-1]
    return [np.asarray(piece)[rows].astype(np.int32) for rows in np.split(order, ends)]


def _split(mesh: Mended, piece: Ints, normals: Array) -> list[Ints]:
    """A piece in two or more: by which way its triangles face along its thin axis, where they face
    both ways; else across its long axis."""
    sizes = areas_of(mesh.points, mesh.triangles[piece])
    centres = mesh.points[mesh.triangles[piece]].mean(axis=1)
    middle = np.average(centres, axis=0, weights=sizes)
    spread = (centres - middle).T @ ((centres - middle) * sizes[:, None]) / sizes.sum()
    _, axes = np.linalg.eigh(spread)
    facing = normals[piece] @ axes[:, 0]
    share = float(sizes[facing > 0.0].sum() / sizes.sum())
    if 0.1 < share < 0.9:
        side = facing > 0.0
    else:
        along = (centres - middle) @ axes[:, 2]
        side = along > np.median(along)
        if side.all() or not side.any():
            side = np.arange(len(piece)) >= len(piece) // 2
    flag = np.zeros(len(mesh.triangles), dtype=np.bool_)
    flag[piece[side]] = True

    def same(a: Numbers, b: Numbers) -> Flags:
        return np.asarray(flag[a] == flag[b])

    return _together(mesh, piece, same)
