"""Kernel: windows waiting their turn, the nearest first, in arrays that grow.

Compiled once per machine (numba's file cache).
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

Array = NDArray[np.float64]
Ints = NDArray[np.int32]


@njit(cache=True, nogil=True)
def push(heap: Ints, keys: Array, used: int, item: int) -> int:
    k = used
    heap[k] = item
    while k > 0:
        up = (k - 1) >> 1
        if keys[heap[up]] <= keys[heap[k]]:
            break
        heap[up], heap[k] = heap[k], heap[up]
        k = up
    return used + 1


@njit(cache=True, nogil=True)
def pop(heap: Ints, keys: Array, used: int) -> int:
    """Moves the least item behind the heap's end; the new size."""
    used -= 1
    heap[0], heap[used] = heap[used], heap[0]
    k = 0
    while True:
        down = 2 * k + 1
        if down >= used:
            break
        if down + 1 < used and keys[heap[down + 1]] < keys[heap[down]]:
            down += 1
        if keys[heap[k]] <= keys[heap[down]]:
            break
        heap[down], heap[k] = heap[k], heap[down]
        k = down
    return used


@njit(cache=True, nogil=True)
def grow(
    w_int: Ints, w: Array, keys: Array, heap: Ints, free: Ints
) -> tuple[Ints, Array, Array, Ints, Ints, int]:
    room = w.shape[0]
    w_int = np.concatenate((w_int, np.empty_like(w_int)))
    w = np.concatenate((w, np.empty_like(w)))
    keys = np.concatenate((keys, np.empty_like(keys)))
    heap = np.concatenate((heap, np.empty_like(heap)))
    free = np.concatenate((free, np.empty_like(free)))
    for k in range(room):
        free[k] = 2 * room - 1 - k
    return w_int, w, keys, heap, free, room
