"""Kernel: make triangles known by their sides alone Delaunay, by turning the sides that are not.

A side is turned into the other diagonal of its two triangles while the angles facing it are more
than half a turn together. Lengths and areas stay, corners stay, nothing moves in space: the net is
the same sheet, cut otherwise. Then no weight of the smoothing between two corners is negative, but
for thin triangles on a closed edge. Bobenko and Springborn, "A discrete Laplace-Beltrami operator
for simplicial surfaces" (2007), from memory, for the idea.

Compiled once per machine (numba's file cache).
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

Array = NDArray[np.float64]
Ints = NDArray[np.int32]

# Of the angles' cotangents: right angles facing each other are left as they are.
EPS = 1e-9
# Turns per triangle after which something is wrong; far above what any sheet needs.
MOST = 200


@njit(cache=True, nogil=True)
def _double(a: float, b: float, c: float) -> float:
    """Four times a triangle's area, from its sides; Kahan's order keeps thin ones right."""
    if a < b:
        a, b = b, a
    if b < c:
        b, c = c, b
    if a < b:
        a, b = b, a
    inner = (a + (b + c)) * (c - (a - b)) * (c + (a - b)) * (a + (b - c))
    return np.sqrt(inner) if inner > 0.0 else 0.0


@njit(cache=True, nogil=True)
def across(vertex: Ints, count: int) -> tuple[Ints, Ints]:
    """The triangle across each side (M, 3) and the side's number there; -1 at edges, and where more
    than two meet or two run the same way (corners made one may do that): such a side stays.

    vertex (M, 3): corners, below count.
    """
    sides = 3 * vertex.shape[0]
    opp, back = np.full((sides // 3, 3), -1, np.int32), np.full((sides // 3, 3), -1, np.int32)
    # Sides by their lower corner, one after another.
    first = np.zeros(count + 1, np.int64)
    low, high = np.empty(sides, np.int32), np.empty(sides, np.int32)
    for e in range(sides):
        a, b = vertex[e // 3, (e + 1) % 3], vertex[e // 3, (e + 2) % 3]
        # A side that runs from the higher corner is marked by a number below nothing.
        low[e], high[e] = (a, b) if a < b else (b, -1 - a)
        first[low[e] + 1] += 1
    for v in range(count):
        first[v + 1] += first[v]
    free = first[:-1].copy()
    here = np.empty(sides, np.int64)
    for e in range(sides):
        here[free[low[e]]] = e
        free[low[e]] += 1
    for v in range(count):
        for one in range(first[v], first[v + 1]):
            e = here[one]
            wanted = high[e]
            met = same = 0
            found = -1
            for two in range(first[v], first[v + 1]):
                if high[here[two]] == wanted:
                    same += 1
                elif high[here[two]] == -1 - wanted:
                    met += 1
                    found = here[two]
            if same == 1 and met == 1:
                opp[e // 3, e % 3], back[e // 3, e % 3] = found // 3, found % 3
    return opp, back


@njit(cache=True, nogil=True)
def turn_sides(vertex: Ints, side: Array, opp: Ints, back: Ints) -> int:
    """Turns sides in place until all are Delaunay; how many turns it took.

    vertex (M, 3): corners, counter-clockwise; side (M, 3): length facing each corner, mm; opp and
    back (M, 3): triangle across that side (-1 for a closed edge or one that must stay) and the
    side's number there. A triangle may come to meet itself; such a side stays.
    """
    count = vertex.shape[0]
    queue = np.empty(3 * count, np.int64)
    waiting = np.ones(3 * count, np.bool_)
    for e in range(3 * count):
        queue[e] = e
    head, held, turned = 0, 3 * count, 0
    old_f, old_k = np.empty(4, np.int64), np.empty(4, np.int64)
    new_f, new_k = np.empty(4, np.int64), np.empty(4, np.int64)
    to_f, to_k, long = np.empty(4, np.int64), np.empty(4, np.int64), np.empty(4)
    while held > 0 and turned < MOST * count:
        e = queue[head]
        head = (head + 1) % (3 * count)
        held -= 1
        waiting[e] = False
        f, k = e // 3, e % 3
        g, j = opp[f, k], back[f, k]
        if g < 0 or g == f:
            continue
        k1, k2, j1, j2 = (k + 1) % 3, (k + 2) % 3, (j + 1) % 3, (j + 2) % 3
        bc = side[f, k]
        ca, ab = side[f, k1], side[f, k2]
        bd, dc = side[g, j1], side[g, j2]
        area_f, area_g = _double(bc, ca, ab), _double(bc, bd, dc)
        if area_f <= 0.0 and area_g <= 0.0:
            continue
        # cot + cot < 0, multiplied out so that a triangle without height does no harm.
        over_f, over_g = ca * ca + ab * ab - bc * bc, bd * bd + dc * dc - bc * bc
        if over_f * area_g + over_g * area_f >= -EPS * max(area_f * area_g, 1e-30):
            continue
        # B at 0, C along +x, A above and D below.
        ax, ay = (ab * ab + bc * bc - ca * ca) / (2.0 * bc), area_f / (2.0 * bc)
        dx, dy = (bd * bd + bc * bc - dc * dc) / (2.0 * bc), -area_g / (2.0 * bc)
        ad = np.hypot(ax - dx, ay - dy)
        if _double(ab, bd, ad) <= 0.0 or _double(ca, dc, ad) <= 0.0:
            continue
        a, b, c, d = vertex[f, k], vertex[f, k1], vertex[f, k2], vertex[g, j]
        # The four outer sides, where they were and where they come to lie.
        old_f[0], old_k[0], new_f[0], new_k[0], long[0] = g, j1, f, 0, bd
        old_f[1], old_k[1], new_f[1], new_k[1], long[1] = f, k2, f, 2, ab
        old_f[2], old_k[2], new_f[2], new_k[2], long[2] = g, j2, g, 0, dc
        old_f[3], old_k[3], new_f[3], new_k[3], long[3] = f, k1, g, 1, ca
        for i in range(4):
            to_f[i], to_k[i] = opp[old_f[i], old_k[i]], back[old_f[i], old_k[i]]
        for i in range(4):
            for m in range(4):
                if to_f[i] == old_f[m] and to_k[i] == old_k[m]:
                    to_f[i], to_k[i] = new_f[m], new_k[m]
                    break
        vertex[f, 0], vertex[f, 1], vertex[f, 2] = a, b, d
        vertex[g, 0], vertex[g, 1], vertex[g, 2] = a, d, c
        side[f, 1], opp[f, 1], back[f, 1] = ad, g, 2
        side[g, 2], opp[g, 2], back[g, 2] = ad, f, 1
        for i in range(4):
            side[new_f[i], new_k[i]] = long[i]
            opp[new_f[i], new_k[i]], back[new_f[i], new_k[i]] = to_f[i], to_k[i]
            if to_f[i] >= 0:
                opp[to_f[i], to_k[i]], back[to_f[i], to_k[i]] = new_f[i], new_k[i]
        turned += 1
        for i in range(4):
            e = 3 * new_f[i] + new_k[i]
            if not waiting[e]:
                waiting[e] = True
                queue[(head + held) % (3 * count)] = e
                held += 1
    return turned
