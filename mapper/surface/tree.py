"""Kernels: a tree over neighbouring triangles, and what flows along it.

Compiled once per machine (numba's file cache), so a command line does not wait for it.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

Array = NDArray[np.float64]
Ints = NDArray[np.int32]


@njit(cache=True, nogil=True)
def breadth_first(across: Ints, root: int) -> tuple[Ints, Ints]:
    """Order (T,) of visit from the root over the dual graph, and the local edge towards the parent.

    across (T, 3): 4 times the triangle across each edge and its edge there, -1 where there is none.
    The root's edge is -1. Triangles that cannot be reached stay out of the order (-1 at its end).
    """
    count = across.shape[0]
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
            there = across[here, edge] >> 2
            if there >= 0 and not seen[there]:
                seen[there] = True
                towards[there] = across[here, edge] & 3
                order[tail] = there
                tail += 1
    return order, towards


@njit(cache=True, nogil=True)
def edge_fluxes(across: Ints, order: Ints, towards: Ints, amount: Array) -> Array:
    """(T, 3) outward flux through each edge, so that each triangle gives off its own amount.

    Every triangle hands what it has gathered to its parent; the root swallows everything.
    """
    count = across.shape[0]
    flux = np.zeros((count, 3))
    gathered = amount.copy()
    for place in range(count - 1, 0, -1):
        here = order[place]
        edge = towards[here]
        parent, back = across[here, edge] >> 2, across[here, edge] & 3
        flux[here, edge] = gathered[here]
        flux[parent, back] = -gathered[here]
        gathered[parent] += gathered[here]
    return flux
