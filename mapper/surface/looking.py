"""Kernel: what a window of a side shows: plane geometry beside one side of a triangle.

A side runs along x from 0, the source of a window lies below it. Compiled once per machine (numba's
file cache).
"""

from __future__ import annotations

import numpy as np
from numba import njit

SLACK = 1e-8  # mm: a window has to be worse by more than this to be left out


@njit(cache=True, nogil=True)
def seen(
    sx: float, sy: float, ax: float, ay: float, bx: float, by: float,
    px: float, py: float, qx: float, qy: float, tiny: float,
) -> float:  # fmt: skip
    """Least distance from S to the part of segment PQ between the lines S A (left) and S B (right);
    inf where there is none."""
    low, high = 0.0, 1.0
    for k in range(2):
        if k == 0:
            ux, uy = ax - sx, ay - sy
            f0 = -(ux * (py - sy) - uy * (px - sx))
            f1 = -(ux * (qy - sy) - uy * (qx - sx))
        else:
            ux, uy = bx - sx, by - sy
            f0 = ux * (py - sy) - uy * (px - sx)
            f1 = ux * (qy - sy) - uy * (qx - sx)
        size = np.sqrt(ux * ux + uy * uy) * tiny
        f0 += size
        f1 += size
        if f0 < 0.0 and f1 < 0.0:
            return np.inf
        if f0 < 0.0:
            low = max(low, f0 / (f0 - f1))
        elif f1 < 0.0:
            high = min(high, f0 / (f0 - f1))
    if low > high:
        return np.inf
    wx, wy = qx - px, qy - py
    square = wx * wx + wy * wy
    t = low
    if square > 0.0:
        t = min(high, max(low, ((sx - px) * wx + (sy - py) * wy) / square))
    return float(np.hypot(px + t * wx - sx, py + t * wy - sy))


@njit(cache=True, nogil=True)
def straight(sx: float, sy: float, px: float, py: float, qx: float, qy: float) -> float:
    wx, wy = qx - px, qy - py
    square = wx * wx + wy * wy
    t = 0.0
    if square > 0.0:
        t = min(1.0, max(0.0, ((sx - px) * wx + (sy - py) * wy) / square))
    return float(np.hypot(px + t * wx - sx, py + t * wy - sy))


@njit(cache=True, nogil=True)
def meets(dx: float, dy: float, rx: float, ry: float, tx: float, ty: float) -> float:
    """Where a line from r (relative to a side's start) along d meets the side, mm along it."""
    across = dx * ty - dy * tx
    if across == 0.0:
        return 0.0
    return -(rx * dy - ry * dx) / across


@njit(cache=True, nogil=True)
def reach_to(x0: float, x1: float, sx: float, sy: float) -> float:
    """Distance from the source to the nearest point of a window."""
    foot = min(x1, max(x0, sx))
    return float(np.hypot(foot - sx, sy))


@njit(cache=True, nogil=True)
def worse(
    x0: float, x1: float, sx: float, sy: float, sigma: float, long: float, d0: float, d1: float
) -> bool:
    """Whether ways from the side's own ends are shorter than all of a window's."""
    if sigma + np.hypot(x1 - sx, sy) > d0 + x1 + SLACK:
        return True
    return bool(sigma + np.hypot(x0 - sx, sy) > d1 + (long - x0) + SLACK)
