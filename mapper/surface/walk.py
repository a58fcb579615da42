"""Kernels: follow straight lines through a triangulation of the plane that has no gaps.

Which edge a line leaves a triangle by is decided from the side of the line on which each *vertex*
lies, a number that is the same in both triangles of an edge; so a walk can neither turn back nor
leak through a corner. Where a line starts on a corner or runs along an edge and misses the triangle
it is said to start in, the triangle a hair further along is taken; that piece is 1e-9 mm long.

Compiled once per machine (numba's file cache), so a command line does not wait for it.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

Array = NDArray[np.float64]
Ints = NDArray[np.int32]

HAIR = 1e-9  # mm; far below the .0001 mm grid of regions


@njit(cache=True, nogil=True)
def breadth_first(neighbours: Ints, root: int) -> tuple[Ints, Ints]:
    """Order (T,) of visit from the root over the dual graph, and the local edge towards the parent.

    The root's edge is -1. Triangles that cannot be reached stay out of the order (-1 at its end).
    """
    count = neighbours.shape[0]
    order = np.full(count, -1, np.int32)
    towards = np.full(count, -1, np.int32)
    seen = np.zeros(count, np.bool_)
    order[0] = root
    seen[root] = True
    head = 0
    tail = 1
    while head < tail:
        here = order[head]
        head += 1
        for edge in range(3):
            there = neighbours[here, edge]
            if there >= 0 and not seen[there]:
                seen[there] = True
                for back in range(3):
                    if neighbours[there, back] == here:
                        towards[there] = back
                order[tail] = there
                tail += 1
    return order, towards


@njit(cache=True, nogil=True)
def edge_fluxes(neighbours: Ints, order: Ints, towards: Ints, amount: Array) -> Array:
    """(T, 3) outward flux through each edge, so that each triangle gives off its own amount.

    Every triangle hands what it has gathered to its parent; the root swallows everything.
    """
    count = neighbours.shape[0]
    flux = np.zeros((count, 3))
    gathered = amount.copy()
    for place in range(count - 1, 0, -1):
        here = order[place]
        edge = towards[here]
        parent = neighbours[here, edge]
        flux[here, edge] = gathered[here]
        for back in range(3):
            if neighbours[parent, back] == here:
                flux[parent, back] = -gathered[here]
        gathered[parent] += gathered[here]
    return flux


@njit(cache=True, nogil=True, inline="always")
def _shares(xy: Array, tri: Ints, here: int, x: float, y: float, out: Array) -> None:
    """Barycentric shares of a point in a triangle, into out (3,)."""
    a, b, c = tri[here, 0], tri[here, 1], tri[here, 2]
    ux, uy = xy[b, 0] - xy[a, 0], xy[b, 1] - xy[a, 1]
    vx, vy = xy[c, 0] - xy[a, 0], xy[c, 1] - xy[a, 1]
    px, py = x - xy[a, 0], y - xy[a, 1]
    whole = ux * vy - uy * vx
    if whole <= 0.0:
        whole = 1e-300
    second = min(1.0, max(0.0, (px * vy - py * vx) / whole))
    third = min(1.0 - second, max(0.0, (ux * py - uy * px) / whole))
    out[0] = 1.0 - second - third
    out[1] = second
    out[2] = third


@njit(cache=True, nogil=True, inline="always")
def _sides(
    xy: Array, tri: Ints, here: int, px: float, py: float, dx: float, dy: float, out: Array
) -> int:
    """On which side of the line each corner lies, into out (3,); the edge of exit or -1."""
    for k in range(3):
        v = tri[here, k]
        out[k] = dx * (xy[v, 1] - py) - dy * (xy[v, 0] - px)
    for k in range(3):
        if out[(k + 1) % 3] < 0.0 and out[(k + 2) % 3] >= 0.0:
            return k
    return -1


@njit(cache=True, nogil=True)
def find(xy: Array, tri: Ints, neighbours: Ints, start: int, x: float, y: float) -> int:
    """The triangle that holds a point, walking straight there from the middle of another one."""
    a, b, c = tri[start, 0], tri[start, 1], tri[start, 2]
    px = (xy[a, 0] + xy[b, 0] + xy[c, 0]) / 3.0
    py = (xy[a, 1] + xy[b, 1] + xy[c, 1]) / 3.0
    dx, dy = x - px, y - py
    side = np.empty(3)
    here = start
    for _ in range(tri.shape[0] + 8):
        edge = _sides(xy, tri, here, px, py, dx, dy, side)
        if edge < 0:
            return here
        one, two = tri[here, (edge + 1) % 3], tri[here, (edge + 2) % 3]
        ex, ey = xy[two, 0] - xy[one, 0], xy[two, 1] - xy[one, 1]
        reach = (xy[one, 0] - px) * ey - (xy[one, 1] - py) * ex
        if reach >= side[(edge + 2) % 3] - side[(edge + 1) % 3]:
            return here
        there = neighbours[here, edge]
        if there < 0:
            return here
        here = there
    return here


@njit(cache=True, nogil=True)
def seed_grid(
    xy: Array, tri: Ints, neighbours: Ints, low: Array, cell: Array, nx: int, ny: int
) -> Ints:
    """(nx, ny) the triangle that holds each cell's middle, found along a boustrophedon."""
    seeds = np.zeros((nx, ny), np.int32)
    here = 0
    for i in range(nx):
        for step in range(ny):
            j = step if i % 2 == 0 else ny - 1 - step
            x = low[0] + (i + 0.5) * cell[0]
            y = low[1] + (j + 0.5) * cell[1]
            here = find(xy, tri, neighbours, here, x, y)
            seeds[i, j] = here
    return seeds


@njit(cache=True, nogil=True, inline="always")
def _nearest_seed(seeds: Ints, low: Array, cell: Array, x: float, y: float) -> int:
    i = min(max(int((x - low[0]) / cell[0]), 0), seeds.shape[0] - 1)
    j = min(max(int((y - low[1]) / cell[1]), 0), seeds.shape[1] - 1)
    return int(seeds[i, j])


@njit(cache=True, nogil=True)
def locate(
    xy: Array, tri: Ints, neighbours: Ints, seeds: Ints, low: Array, cell: Array, at: Array
) -> Ints:
    """(K,) the triangle that holds each of (K, 2) points."""
    out = np.empty(at.shape[0], np.int32)
    for k in range(at.shape[0]):
        start = _nearest_seed(seeds, low, cell, at[k, 0], at[k, 1])
        out[k] = find(xy, tri, neighbours, start, at[k, 0], at[k, 1])
    return out


@njit(cache=True, nogil=True, inline="always")
def _piece(flux: Array, bubbles: Array, here: int, p: Array, q: Array) -> float:
    """Integral of the field's normal component along a straight piece inside one triangle.

    p, q: shares of its two ends. See flux.py for the field; the products of two shares along the
    piece have the mean (2 pp + 2 qq + pq + qp) / 6, so nothing here is approximated.
    """
    total = 0.0
    for e in range(3):
        i = (e + 1) % 3
        j = (e + 2) % 3
        arm = p[i] * q[j] - p[j] * q[i]
        strength = flux[here, e]
        if here < bubbles.shape[0]:
            for k in range(3):
                mean = 2.0 * (p[e] * p[k] + q[e] * q[k]) + p[e] * q[k] + q[e] * p[k]
                strength += bubbles[here, e, k] * mean / 6.0
        total += arm * strength
    return total


@njit(cache=True, nogil=True)
def walk(
    xy: Array,
    tri: Ints,
    neighbours: Ints,
    seeds: Ints,
    low: Array,
    cell: Array,
    flux: Array,
    bubbles: Array,
    lines: Array,
    firsts: Ints,
    keep: bool,
) -> tuple[float, Ints, Ints, Array]:
    """Walk polylines; the field's integral across them, and (if keep) every piece.

    lines (K, 2): points of all polylines one after another; firsts (L + 1,): where each begins.
    Pieces: triangle (P,), segment number (P,) = index of its first point, shares (P, 2, 3).
    """
    total = 0.0
    room = 4 * lines.shape[0] + 64 if keep else 0
    piece_tri = np.empty(room, np.int32)
    piece_segment = np.empty(room, np.int32)
    piece_shares = np.empty((room, 2, 3))
    used = 0
    side = np.empty(3)
    p = np.empty(3)
    q = np.empty(3)
    limit = tri.shape[0] + 64
    for line in range(firsts.shape[0] - 1):
        first, last = firsts[line], firsts[line + 1]
        if last - first < 2:
            continue
        start = _nearest_seed(seeds, low, cell, lines[first, 0], lines[first, 1])
        here = find(xy, tri, neighbours, start, lines[first, 0], lines[first, 1])
        _shares(xy, tri, here, lines[first, 0], lines[first, 1], p)
        for k in range(first, last - 1):
            px, py = lines[k, 0], lines[k, 1]
            dx, dy = lines[k + 1, 0] - px, lines[k + 1, 1] - py
            length = np.hypot(dx, dy)
            if length == 0.0:
                continue
            done = 0.0
            hair = HAIR
            for _ in range(limit):
                edge = _sides(xy, tri, here, px, py, dx, dy, side)
                if edge < 0 and done * length + hair < length:
                    # A corner on the line counts as left of it: the line runs a hair to the right.
                    t = done + hair / length
                    beside = hair / length if side[0] >= 0.0 else -hair / length
                    hair *= 4.0
                    x = px + t * dx + beside * dy
                    y = py + t * dy - beside * dx
                    here = find(xy, tri, neighbours, here, x, y)
                    _shares(xy, tri, here, px + done * dx, py + done * dy, p)
                    continue
                t = 2.0
                below = side[(edge + 1) % 3]
                above = side[(edge + 2) % 3]
                one, two = tri[here, (edge + 1) % 3], tri[here, (edge + 2) % 3]
                if edge >= 0:
                    ex, ey = xy[two, 0] - xy[one, 0], xy[two, 1] - xy[one, 1]
                    t = ((xy[one, 0] - px) * ey - (xy[one, 1] - py) * ex) / (above - below)
                there = neighbours[here, edge] if edge >= 0 else -1
                inside = t >= 1.0 or there < 0
                if inside:
                    _shares(xy, tri, here, px + dx, py + dy, q)
                else:
                    q[edge] = 0.0
                    q[(edge + 1) % 3] = above / (above - below)
                    q[(edge + 2) % 3] = -below / (above - below)
                total += _piece(flux, bubbles, here, p, q)
                if keep:
                    if used == piece_tri.shape[0]:
                        piece_tri = np.concatenate((piece_tri, np.empty_like(piece_tri)))
                        piece_segment = np.concatenate(
                            (piece_segment, np.empty_like(piece_segment))
                        )
                        piece_shares = np.concatenate((piece_shares, np.empty_like(piece_shares)))
                    piece_tri[used] = here
                    piece_segment[used] = k
                    piece_shares[used, 0] = p
                    piece_shares[used, 1] = q
                    used += 1
                if inside:
                    p[:] = q
                    break
                along, up = q[(edge + 1) % 3], q[(edge + 2) % 3]
                for c in range(3):
                    v = tri[there, c]
                    p[c] = along if v == one else (up if v == two else 0.0)
                here = there
                done = max(done, t)
    return total, piece_tri[:used], piece_segment[:used], piece_shares[:used]
