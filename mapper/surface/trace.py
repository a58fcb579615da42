"""Kernels: find a point's triangle, and follow straight lines over a net of triangles.

Past the first triangle a line leaves by one of the two sides it did not come in by, and which one
is decided by the side of the line on which the corner between them lies; so it can neither turn
back nor leak through a corner. Polthier and Schmies, "Straightest geodesics on polyhedral surfaces"
(1998), from memory, for the idea.

Compiled once per machine (numba's file cache), so a command line does not wait for it.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mapper.surface.intrinsic import LOST, MET_AN_EDGE

Array = NDArray[np.float64]
Ints = NDArray[np.int32]
Longs = NDArray[np.int64]

STEPS = 2_000_000


@njit(cache=True, nogil=True)
def locate(
    flat: Array, start: Ints, cells: Ints, low: Array, size: Array, at: Array
) -> tuple[Ints, Array]:
    """(K,) triangles that hold or come nearest to (K, 2) flat points within the grid's cell, -1 for
    none, and (K, 3) their shares of the corners (below 0 outside)."""
    found = np.full(at.shape[0], -1, np.int32)
    shares = np.zeros((at.shape[0], 3))
    for k in range(at.shape[0]):
        i = int(np.floor((at[k, 0] - low[0]) / size[0]))
        j = int(np.floor((at[k, 1] - low[1]) / size[1]))
        best = -np.inf
        # The cell itself, then those about it: a rim bulges out between its corners.
        for ring in range(3):
            if best >= -1e-9:
                break
            for di in range(-ring, ring + 1):
                for dj in range(-ring, ring + 1):
                    if max(abs(di), abs(dj)) != ring:
                        continue
                    ii, jj = i + di, j + dj
                    if ii < 0 or jj < 0 or ii >= start.shape[0] or jj >= start.shape[1]:
                        continue
                    for place in range(start[ii, jj, 0], start[ii, jj, 1]):
                        m = cells[place]
                        ax, ay = flat[m, 0, 0], flat[m, 0, 1]
                        ux, uy = flat[m, 1, 0] - ax, flat[m, 1, 1] - ay
                        vx, vy = flat[m, 2, 0] - ax, flat[m, 2, 1] - ay
                        px, py = at[k, 0] - ax, at[k, 1] - ay
                        double = ux * vy - uy * vx
                        if double <= 0.0:
                            continue
                        b = (px * vy - py * vx) / double
                        c = (ux * py - uy * px) / double
                        least = min(1.0 - b - c, min(b, c))
                        # Outside, what counts is the distance, not the share of it.
                        score = least if least >= 0.0 else least * np.sqrt(double)
                        if score > best:
                            best = score
                            found[k] = m
                            shares[k, 0], shares[k, 1], shares[k, 2] = 1.0 - b - c, b, c
    return found, shares


@njit(cache=True, nogil=True)
def trace(
    lay: Array,
    flat: Array,
    to_flat: Array,
    chart: Ints,
    opp: Ints,
    back: Ints,
    seam: Ints,
    first: Ints,
    places: Array,
    turns: Array,
    reach: Array,
) -> tuple[Ints, Ints, Array, Longs, Ints, Longs, Array]:
    """Follow N lines for given lengths.

    first (N,): triangles they start in; places (N, 2): points of their frames, inside or a corner;
    turns (N,): directions there, rad; reach (N,): mm. Answers status (N,) (USED_UP, MET_AN_EDGE or
    LOST), closed (N,): 3 m + k of the closed side k of triangle m that was met, else -1, gone (N,)
    mm, path (N,): a number that tells over which seams it came; and the legs, one for each chart
    that a line passes through: leg_ray (L,) ascending, leg_path (L,), legs (L, 10): chart, flat
    start x y, flat end x y, direction there x y at the start and at the end (flat, not unit), and
    mm gone at the start.
    """
    count = turns.shape[0]
    status = np.zeros(count, np.int32)
    closed = np.full(count, -1, np.int32)
    gone = np.zeros(count)
    path = np.zeros(count, np.int64)
    room = 4 * count + 64
    leg_ray = np.empty(room, np.int32)
    leg_path = np.empty(room, np.int64)
    legs = np.empty((room, 10))
    used = 0
    for n in range(count):
        m = first[n]
        px, py = places[n, 0], places[n, 1]
        dx, dy = np.cos(turns[n]), np.sin(turns[n])
        left = reach[n]
        come = -1
        trail = np.int64(0)
        open_leg = False
        for _ in range(STEPS):
            if not open_leg:
                if used == leg_ray.shape[0]:
                    leg_ray = np.concatenate((leg_ray, np.empty_like(leg_ray)))
                    leg_path = np.concatenate((leg_path, np.empty_like(leg_path)))
                    legs = np.concatenate((legs, np.empty_like(legs)))
                leg_ray[used] = n
                leg_path[used] = trail
                legs[used, 0], legs[used, 9] = chart[m], gone[n]
                legs[used, 1], legs[used, 2] = _on_map(lay, flat, to_flat, m, px, py)
                legs[used, 5] = to_flat[m, 0, 0] * dx + to_flat[m, 0, 1] * dy
                legs[used, 6] = to_flat[m, 1, 0] * dx + to_flat[m, 1, 1] * dy
                open_leg = True
            if come < 0:
                side = 0
                best = -np.inf
                for k in range(3):
                    a, b = (k + 1) % 3, (k + 2) % 3
                    right = dx * (lay[m, a, 1] - py) - dy * (lay[m, a, 0] - px)
                    over = dx * (lay[m, b, 1] - py) - dy * (lay[m, b, 0] - px)
                    if min(-right, over) > best:
                        best = min(-right, over)
                        side = k
            else:
                beside = dx * (lay[m, come, 1] - py) - dy * (lay[m, come, 0] - px)
                side = (come + 1) % 3 if beside >= 0.0 else (come + 2) % 3
            a, b = (side + 1) % 3, (side + 2) % 3
            ex, ey = lay[m, b, 0] - lay[m, a, 0], lay[m, b, 1] - lay[m, a, 1]
            rx, ry = lay[m, a, 0] - px, lay[m, a, 1] - py
            across = dx * ey - dy * ex
            if across > 0.0:
                far = max(0.0, (rx * ey - ry * ex) / across)
                share = min(1.0, max(0.0, (rx * dy - ry * dx) / across))
            else:
                # Along the side to rounding: on to its end that lies ahead.
                far = 0.0
                share = 1.0 if ex * dx + ey * dy > 0.0 else 0.0
            ended = far >= left
            there = opp[m, side]
            crossing = seam[m, side]
            if ended:
                px += left * dx
                py += left * dy
            else:
                px = lay[m, a, 0] + share * ex
                py = lay[m, a, 1] + share * ey
            if ended or there < 0 or crossing >= 0:
                legs[used, 3], legs[used, 4] = _on_map(lay, flat, to_flat, m, px, py)
                legs[used, 7] = to_flat[m, 0, 0] * dx + to_flat[m, 0, 1] * dy
                legs[used, 8] = to_flat[m, 1, 0] * dx + to_flat[m, 1, 1] * dy
                used += 1
                open_leg = False
            if ended:
                gone[n] += left
                break
            gone[n] += far
            left -= far
            if there < 0:
                status[n] = MET_AN_EDGE
                closed[n] = 3 * m + side
                break
            if crossing >= 0:
                trail = trail * np.int64(1000003) + np.int64(crossing + 1)
            come = back[m, side]
            a, b = (come + 1) % 3, (come + 2) % 3
            fx, fy = lay[there, a, 0] - lay[there, b, 0], lay[there, a, 1] - lay[there, b, 1]
            size = np.sqrt((ex * ex + ey * ey) * (fx * fx + fy * fy))
            c, s = (ex * fx + ey * fy) / size, (ex * fy - ey * fx) / size
            dx, dy = c * dx - s * dy, s * dx + c * dy
            px = lay[there, b, 0] + share * fx
            py = lay[there, b, 1] + share * fy
            m = there
        else:
            status[n] = LOST
            if open_leg:
                legs[used, 3], legs[used, 4] = _on_map(lay, flat, to_flat, m, px, py)
                legs[used, 7], legs[used, 8] = 0.0, 0.0
                used += 1
        path[n] = trail
    return status, closed, gone, path, leg_ray[:used], leg_path[:used], legs[:used]


@njit(cache=True, nogil=True)
def _on_map(
    lay: Array, flat: Array, to_flat: Array, m: int, px: float, py: float
) -> tuple[float, float]:
    x, y = px - lay[m, 0, 0], py - lay[m, 0, 1]
    return (
        flat[m, 0, 0] + to_flat[m, 0, 0] * x + to_flat[m, 0, 1] * y,
        flat[m, 0, 1] + to_flat[m, 1, 0] * x + to_flat[m, 1, 1] * y,
    )
