"""Kernels: the sizes of a sheet's triangles and the matrix of its stiffness, row by row.

Compiled once per machine (numba's file cache).
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

Array = NDArray[np.float64]
Ints = NDArray[np.int32]


@njit(cache=True, nogil=True)
def sides(lay: Array, opp: Ints, back: Ints) -> Array:
    """(M, 3) lengths (mm) of the sides facing each corner of triangles laid out in frames of their
    own (M, 3, 2), the same for both triangles at a side: the mean of the two.

    opp and back (M, 3): of `flips.across`.
    """
    out = np.empty((lay.shape[0], 3))
    for m in range(lay.shape[0]):
        for k in range(3):
            a, b = (k + 1) % 3, (k + 2) % 3
            x, y = lay[m, b, 0] - lay[m, a, 0], lay[m, b, 1] - lay[m, a, 1]
            out[m, k] = np.sqrt(x * x + y * y)
    for m in range(lay.shape[0]):
        for k in range(3):
            n, j = opp[m, k], back[m, k]
            if n > m or (n == m and j > k):
                out[m, k] = out[n, j] = 0.5 * (out[m, k] + out[n, j])
    return out


@njit(cache=True, nogil=True)
def heights(side: Array) -> Array:
    """(M, 3) heights (mm) over the sides (M, 3) facing each corner; Kahan's order of the sides
    keeps thin triangles right."""
    out = np.empty_like(side)
    for m in range(side.shape[0]):
        a, b, c = side[m, 0], side[m, 1], side[m, 2]
        if a < b:
            a, b = b, a
        if b < c:
            b, c = c, b
        if a < b:
            a, b = b, a
        inner = (a + (b + c)) * (c - (a - b)) * (c + (a - b)) * (a + (b - c))
        double = 0.5 * np.sqrt(max(inner, 0.0))
        for k in range(3):
            out[m, k] = double / side[m, k]
    return out


@njit(cache=True, nogil=True)
def rows(vertex: Ints, side: Array, count: int) -> tuple[Ints, Ints, Array]:
    """The stiffness matrix (count, count) of `smooth.stiffness` by rows: where each begins
    (count + 1,), its columns in ascending order, and the values.

    vertex (M, 3): corners of triangles, below count; side (M, 3): the sides facing them, mm.
    """
    # Both columns of a corner in each of its triangles, one after another; then like ones added up.
    last = np.zeros(count + 1, np.int32)
    for m in range(vertex.shape[0]):
        for k in range(3):
            last[vertex[m, k] + 1] += 2
    for v in range(count):
        last[v + 1] += last[v]
    first = last.copy()
    met, part = np.empty(first[count], np.int32), np.empty(first[count])
    high = heights(side)
    for m in range(vertex.shape[0]):
        a, b, c = side[m, 0] * side[m, 0], side[m, 1] * side[m, 1], side[m, 2] * side[m, 2]
        size = 1.0 / (4.0 * side[m, 0] * high[m, 0])
        # Half the cotangents of the angles facing the sides.
        half_a, half_b, half_c = (b + c - a) * size, (c + a - b) * size, (a + b - c) * size
        i, j, k = vertex[m, 0], vertex[m, 1], vertex[m, 2]
        at = last[i]
        met[at], part[at], met[at + 1], part[at + 1] = j, half_c, k, half_b
        last[i] = at + 2
        at = last[j]
        met[at], part[at], met[at + 1], part[at + 1] = k, half_a, i, half_c
        last[j] = at + 2
        at = last[k]
        met[at], part[at], met[at + 1], part[at + 1] = i, half_b, j, half_a
        last[k] = at + 2
    start = np.zeros(count + 1, np.int32)
    column, value = np.empty(len(met) + count, np.int32), np.empty(len(met) + count)
    used = 0
    for v in range(count):
        begin = used
        column[used], value[used] = v, 0.0
        used += 1
        whole = 0.0
        for at in range(first[v], last[v]):
            other, half = met[at], part[at]
            whole += half
            # From the end to its place among those before it.
            place = used
            while place > begin and column[place - 1] > other:
                place -= 1
            if place > begin and column[place - 1] == other:
                value[place - 1] -= half
                continue
            for spot in range(used, place, -1):
                column[spot], value[spot] = column[spot - 1], value[spot - 1]
            column[place], value[place] = other, -half
            used += 1
        for place in range(begin, used):
            if column[place] == v:
                value[place] += whole
        start[v + 1] = used
    return start, column[:used].copy(), value[:used].copy()


@njit(cache=True, nogil=True)
def ordered(
    start: Ints, column: Ints, value: Array, order: Ints, step: Array
) -> tuple[Ints, Ints, Array, int]:  # fmt: skip
    """Of a matrix by rows what lies beside the diagonal, with the sign turned and each row times
    its step (K,), once rows and columns are taken in an order (K,); and how far from the diagonal
    the farthest is. What is not in the order, and zeros, are left out."""
    place = np.full(start.shape[0] - 1, -1, np.int32)
    for n in range(order.shape[0]):
        place[order[n]] = n
    first = np.zeros(order.shape[0] + 1, np.int32)
    to, out = np.empty(column.shape[0], np.int32), np.empty(column.shape[0])
    used = band = 0
    for n in range(order.shape[0]):
        for spot in range(start[order[n]], start[order[n] + 1]):
            other = place[column[spot]]
            if other >= 0 and other != n and value[spot] != 0.0:
                to[used], out[used] = other, -step[n] * value[spot]
                band = max(band, abs(other - n))
                used += 1
        first[n + 1] = used
    return first, to[:used].copy(), out[:used].copy(), band
