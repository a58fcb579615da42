"""Weld a mesh, and say in words what is wrong with it."""

from __future__ import annotations

from dataclasses import dataclass

import numba
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from mapper.errors import MapperError
from mapper.surface.imported.read import RawMesh

Array = NDArray[np.float64]
Ints = NDArray[np.int32]

WELD = 1e-6  # of the mesh's size: corners nearer than that are one
THIN = 1e-14  # of the size squared: a triangle of less area is a line


@dataclass(frozen=True, eq=False)
class Sides:
    """The sides of triangles: side 3 t + k of triangle t runs from its corner k to the next.

    mate (3 M,): the side of another triangle that is the same line, -1 on an open edge and where
    more than two triangles meet. along (3 M,): True where the mate runs the same way (the two
    triangles face opposite ways). line (3 M,): number of the line a side lies on. crowded: how many
    lines have more than two triangles.
    """

    mate: Ints
    along: NDArray[np.bool_]
    line: Ints
    crowded: int


@dataclass(frozen=True, eq=False)
class Mended:
    """A welded mesh: points (N, 3) mm, triangles (M, 3), each body facing one way (outward where it
    is closed); body (M,): number of the connected body; sides of the triangles.

    defects: in words, most harmful first; () for a clean mesh. volume: mm3, None where any edge is
    open.
    """

    points: Array
    triangles: Ints
    body: Ints
    sides: Sides
    open_edges: int
    flipped: int
    defects: tuple[str, ...]
    volume: float | None

    @property
    def area(self) -> float:
        """mm2 of all triangles."""
        return float(areas_of(self.points, self.triangles).sum())

    @property
    def bodies(self) -> int:
        """How many connected bodies."""
        return int(self.body.max()) + 1


def areas_of(points: Array, triangles: Ints) -> Array:
    """(M,) mm2 of the triangles."""
    return np.asarray(0.5 * np.linalg.norm(crosses(points, triangles), axis=1))


def crosses(points: Array, triangles: Ints) -> Array:
    """(M, 3) cross products of two sides: along the normal, twice the area long."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    return np.asarray(np.cross(b - a, c - a))


def mend(raw: RawMesh, *, weld: float = WELD) -> Mended:
    """Weld corners nearer than `weld` of the mesh's size, drop triangles that are lines or doubles,
    turn all triangles of a body one way, and list what is wrong.

    Nothing is filled or moved: areas are those of the file. MapperError where nothing is left.
    """
    size = float(np.linalg.norm(np.ptp(raw.points[np.unique(raw.triangles)], axis=0)))
    if not size > 0.0:
        raise MapperError(
            f"All corners of {raw.name} lie in one place.", "A mesh has a size.", "Export it again."
        )
    points, corner = _welded(raw.points, size * weld)
    triangles = corner[raw.triangles]
    count = len(triangles)
    lines = areas_of(points, triangles) <= THIN * size * size
    triangles = triangles[~lines]
    _, first = np.unique(np.sort(triangles, axis=1), axis=0, return_index=True)
    doubles = len(triangles) - len(first)
    triangles = np.ascontiguousarray(triangles[np.sort(first)])
    if len(triangles) == 0:
        raise MapperError(
            f"No triangle of {raw.name} has an area.",
            f"{count:,} were given, all of them lines or points.",
            "Export it again.",
        )
    used, renamed = np.unique(triangles, return_inverse=True)
    points, triangles = points[used], renamed.reshape(-1, 3).astype(np.int32)
    sides = sides_of(triangles)
    body = _bodies(sides, len(triangles))
    flip = _to_flip(sides.mate, sides.along, len(triangles))
    # The smaller party of each body is the flipped one.
    minority = np.bincount(body, flip, minlength=body.max() + 1) * 2 > np.bincount(body)
    flip ^= minority[body]
    triangles = np.where(flip[:, None], triangles[:, ::-1], triangles).astype(np.int32)
    sides = sides_of(triangles)
    open_edges = int((sides.mate < 0).sum())
    volume = None
    if open_edges == 0:
        volume, triangles = _outward(points, triangles, body)
        sides = sides_of(triangles)
    words = _words(int(lines.sum()), doubles, sides, open_edges, int(flip.sum()), body)
    return Mended(points, triangles, body, sides, open_edges, int(flip.sum()), words, volume)


def _words(
    lines: int, doubles: int, sides: Sides, open_edges: int, flipped: int, body: Ints
) -> tuple[str, ...]:
    def many(n: int, one: str, more: str) -> str:
        return f"{n:,} {one if n == 1 else more}"

    found = []
    if sides.crowded:
        n = many(sides.crowded, "edge has", "edges have")
        found.append(f"{n} more than two triangles: the sheet is cut there.")
    if sides.along.any():
        n = many(int(sides.along.sum()) // 2, "edge joins", "edges join")
        found.append(f"{n} triangles that face opposite ways: a one-sided sheet.")
    if open_edges:
        n = many(open_edges, "open edge", "open edges")
        found.append(f"{n}: the mesh is a sheet, or has holes; it has no volume.")
    if flipped:
        n = many(flipped, "triangle faced", "triangles faced")
        found.append(f"{n} the other way than the rest of the body; turned.")
    if lines:
        n = many(lines, "triangle was a line, and was", "triangles were lines, and were")
        found.append(f"{n} left out.")
    if doubles:
        n = many(doubles, "triangle was", "triangles were")
        found.append(f"{n} there twice, and counted once.")
    bodies = int(body.max()) + 1
    if bodies > 1:
        found.append(f"{bodies:,} separate bodies.")
    return tuple(found)


def _welded(points: Array, near: float) -> tuple[Array, Ints]:
    """Points that stand for all, and for each given one the number of its own."""
    # Equal to the bit first, which is nearly all of them; then what a grid of `near` puts together,
    # and once more on a grid moved by half, for those on either side of a line of it.
    _, first, number = np.unique(points, axis=0, return_index=True, return_inverse=True)
    kept, of = points[first], number.reshape(-1)
    for shift in (0.0, 0.5):
        cell = np.floor(kept / near + shift).astype(np.int64)
        _, first, number = np.unique(cell, axis=0, return_index=True, return_inverse=True)
        kept, of = kept[first], number.reshape(-1)[of]
    return kept, of.astype(np.int32)


def sides_of(triangles: Ints) -> Sides:
    """Which sides of triangles (M, 3) are one line; see `Sides`."""
    start = triangles.reshape(-1).astype(np.int64)
    end = np.roll(triangles, -1, axis=1).reshape(-1).astype(np.int64)
    low, high = np.minimum(start, end), np.maximum(start, end)
    key = low * (int(triangles.max()) + 1) + high
    order = np.argsort(key, kind="stable")
    ranked = key[order]
    new = np.concatenate([[True], ranked[1:] != ranked[:-1]])
    group = np.cumsum(new) - 1
    size = np.bincount(group)
    pair = order[size[group] == 2].reshape(-1, 2)
    mate = np.full(len(key), -1, dtype=np.int32)
    mate[pair[:, 0]], mate[pair[:, 1]] = pair[:, 1], pair[:, 0]
    along = np.zeros(len(key), dtype=np.bool_)
    same = start[pair[:, 0]] == start[pair[:, 1]]
    along[pair[same]] = True
    line = np.empty(len(key), dtype=np.int32)
    line[order] = group
    return Sides(mate, along, line, int((size > 2).sum()))


def _bodies(sides: Sides, count: int) -> Ints:
    """(M,) number of the body: triangles that share a line, however many do, belong together."""
    owner = np.repeat(np.arange(count), 3)
    lines = int(sides.line.max()) + 1
    graph = coo_array(
        (np.ones(3 * count, np.int8), (owner, count + sides.line)), shape=(count + lines,) * 2
    )
    _, number = connected_components(graph, directed=False)
    return np.asarray(np.unique(number[:count], return_inverse=True)[1], dtype=np.int32)


@numba.njit(cache=True)
def _to_flip(mate: Ints, along: NDArray[np.bool_], count: int) -> NDArray[np.bool_]:
    """True for the triangles of each body that face the other way than its first one."""
    flip = np.zeros(count, np.bool_)
    seen = np.zeros(count, np.bool_)
    stack = np.empty(count, np.int32)
    for root in range(count):
        if seen[root]:
            continue
        seen[root] = True
        stack[0] = root
        top = 1
        while top:
            top -= 1
            t = stack[top]
            for k in range(3):
                other = mate[3 * t + k]
                if other >= 0 and not seen[other // 3]:
                    seen[other // 3] = True
                    flip[other // 3] = flip[t] ^ along[3 * t + k]
                    stack[top] = other // 3
                    top += 1
    return flip


def _outward(points: Array, triangles: Ints, body: Ints) -> tuple[float, Ints]:
    """The volume, and the triangles with every body turned to face outward."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    # About the middle, so that a body far away loses no digits.
    middle = points.mean(axis=0)
    six = np.einsum("ij,ij->i", np.cross(a - middle, b - middle), c - middle)
    each = np.bincount(body, six) / 6.0
    turned = (each < 0.0)[body]
    return float(np.abs(each).sum()), np.where(turned[:, None], triangles[:, ::-1], triangles)
