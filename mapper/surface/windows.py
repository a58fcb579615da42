"""Kernel: exact shortest distances over a net of triangles, by windows unfolded side by side.

A window is the part of a side that straight lines from one (unfolded) point reach. Every window
stands for ways that exist, so what it finds is never too short; windows that cannot hold a shortest
way are left out by the rules of Chen and Han, "Shortest paths on a polyhedron" (1990), and Xin and
Wang, "Improving Chen and Han's algorithm on the discrete geodesic problem" (2009), both from
memory. Corners about which the sheet has more than a full turn, and corners of its edge that stick
into it, send out windows of their own: a shortest way may bend there and nowhere else.

Compiled once per machine (numba's file cache).
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mapper.surface.looking import SLACK, meets, reach_to, seen, straight, worse
from mapper.surface.waiting import grow, pop, push

Array = NDArray[np.float64]
Ints = NDArray[np.int32]

THIN = 1e-12  # of a side: what looks along it still lies this far below
EDGEWISE = 1e-9  # share of a side by which a window reaches beyond its ends, so that none leaks


@njit(cache=True, nogil=True)
def spread(
    vertex: Ints,
    lay: Array,
    opp: Ints,
    back: Ints,
    turning: Array,
    corner: Ints,
    sources: Ints,
    places: Array,
    limit: float,
    face_start: Ints,
    segment: Array,
    owner: Ints,
    best: Array,
    bend: float,
) -> tuple[Array, int]:
    """Distances (N,) mm of all corners from the nearest source, inf beyond `limit` or out of reach.

    sources (S,): triangles; places (S, 2): points in their frames. face_start (M + 1,), segment
    (K, 4), owner (K,): straight pieces that lie in each triangle (in its frame) and which target
    each belongs to; best (T,) is made the least distance to each target, never raised; with targets
    the search ends once nothing nearer can come for any. bend: rad by which the angles about a
    corner must exceed a full (at an edge half) turn for ways to bend there.
    """
    dist = np.full(turning.shape[0], np.inf)
    angle_best = np.full((vertex.shape[0], 3), np.inf)
    angle_at = np.zeros((vertex.shape[0], 3))
    room = 4096
    w_int = np.empty((room, 2), np.int32)  # triangle it goes into, side it comes by
    w = np.empty((room, 5))  # x0, x1 along the side, source x, y (y <= 0), distance behind source
    keys = np.empty(room)
    heap = np.empty(room, np.int32)
    free = np.empty(room, np.int32)
    used_free = room
    for k in range(room):
        free[k] = room - 1 - k
    heaped = 0
    targets = best.shape[0]
    bound = limit
    if targets:
        bound = min(limit, best.max())
    for k in range(sources.shape[0]):
        m = sources[k]
        for c in range(3):
            away = np.hypot(lay[m, c, 0] - places[k, 0], lay[m, c, 1] - places[k, 1])
            dist[vertex[m, c]] = min(dist[vertex[m, c]], away)
        for place in range(face_start[m], face_start[m + 1]):
            away = straight(
                places[k, 0], places[k, 1], segment[place, 0], segment[place, 1],
                segment[place, 2], segment[place, 3],
            )  # fmt: skip
            best[owner[place]] = min(best[owner[place]], away)
    for k in range(sources.shape[0]):
        m = sources[k]
        for c in range(3):
            heaped, used_free, w_int, w, keys, heap, free = _launch(
                m, c, places[k, 0], places[k, 1], 0.0, lay, opp, back, vertex, dist, bound,
                w_int, w, keys, heap, free, heaped, used_free,
            )  # fmt: skip
            v = vertex[m, c]
            if turning[v] > bend:
                heaped, used_free, w_int, w, keys, heap, free = _event(
                    v, dist[v], w_int, w, keys, heap, free, heaped, used_free
                )
    count = 0
    while heaped > 0:
        heaped = pop(heap, keys, heaped)
        item = heap[heaped]
        if keys[item] > bound:
            break
        count += 1
        m, j = w_int[item, 0], w_int[item, 1]
        x0, x1, sx, sy, sigma = w[item, 0], w[item, 1], w[item, 2], w[item, 3], w[item, 4]
        free[used_free] = item
        used_free += 1
        if m < 0:
            # Ways bend about the corner j.
            v = j
            if sigma > dist[v]:
                continue
            m, c = corner[v] // 3, corner[v] % 3
            home = m
            changed = False
            while True:
                px, py = lay[m, c, 0], lay[m, c, 1]
                for other in range(1, 3):
                    o = (c + other) % 3
                    u = vertex[m, o]
                    far = sigma + np.hypot(lay[m, o, 0] - px, lay[m, o, 1] - py)
                    if far < dist[u] - 1e-12:
                        dist[u] = far
                        if turning[u] > bend:
                            heaped, used_free, w_int, w, keys, heap, free = _event(
                                u, far, w_int, w, keys, heap, free, heaped, used_free
                            )
                for place in range(face_start[m], face_start[m + 1]):
                    far = sigma + straight(
                        px, py, segment[place, 0], segment[place, 1],
                        segment[place, 2], segment[place, 3],
                    )  # fmt: skip
                    if far < best[owner[place]]:
                        best[owner[place]] = far
                        changed = True
                heaped, used_free, w_int, w, keys, heap, free = _launch(
                    m, c, px, py, sigma, lay, opp, back, vertex, dist, bound,
                    w_int, w, keys, heap, free, heaped, used_free,
                )  # fmt: skip
                # Counter-clockwise about the corner: over the side to its left.
                side = (c + 1) % 3
                there = opp[m, side]
                if there < 0 or there == home:
                    break
                c = (back[m, side] + 1) % 3
                m = there
            if changed and targets:
                bound = min(limit, best.max())
            continue
        ia, ib = (j + 1) % 3, (j + 2) % 3
        ax, ay = lay[m, ia, 0], lay[m, ia, 1]
        ex, ey = lay[m, ib, 0] - ax, lay[m, ib, 1] - ay
        long = np.sqrt(ex * ex + ey * ey)
        ex, ey = ex / long, ey / long
        qx, qy = lay[m, j, 0] - ax, lay[m, j, 1] - ay
        cx, cy = ex * qx + ey * qy, ex * qy - ey * qx
        va, vb, vc = vertex[m, ia], vertex[m, ib], vertex[m, j]
        if worse(x0, x1, sx, sy, sigma, long, dist[va], dist[vb]):
            continue
        changed = False
        for place in range(face_start[m], face_start[m + 1]):
            p1x, p1y = segment[place, 0] - ax, segment[place, 1] - ay
            p2x, p2y = segment[place, 2] - ax, segment[place, 3] - ay
            far = sigma + seen(
                sx, sy, x0, 0.0, x1, 0.0,
                ex * p1x + ey * p1y, ex * p1y - ey * p1x,
                ex * p2x + ey * p2y, ex * p2y - ey * p2x, EDGEWISE * long,
            )  # fmt: skip
            if far < best[owner[place]]:
                best[owner[place]] = far
                changed = True
        if changed:
            bound = min(limit, best.max())
        xc = sx + (cx - sx) * (-sy) / (cy - sy)
        slack = EDGEWISE * long
        go_left, go_right = xc > x0, xc < x1
        if x0 - slack <= xc <= x1 + slack:
            far = sigma + np.hypot(cx - sx, cy - sy)
            if far < dist[vc] - 1e-12:
                dist[vc] = far
                if turning[vc] > bend:
                    heaped, used_free, w_int, w, keys, heap, free = _event(
                        vc, far, w_int, w, keys, heap, free, heaped, used_free
                    )
            if go_left and go_right:
                if far < angle_best[m, j]:
                    angle_best[m, j] = far
                    angle_at[m, j] = xc
                elif far > angle_best[m, j] + SLACK:
                    # One angle, one split: only the side away from the nearer window's line.
                    if xc < angle_at[m, j]:
                        go_right = False
                    else:
                        go_left = False
        for child in range(2):
            if (child == 0 and not go_left) or (child == 1 and not go_right):
                continue
            # Left: side A C; right: side C B. In the frame of the side, along and off it.
            k = ib if child == 0 else ia
            there = opp[m, k]
            if there < 0:
                continue
            if child == 0:
                ox, oy, tx, ty = 0.0, 0.0, cx, cy
                lo, hi = x0, min(x1, xc)
            else:
                ox, oy, tx, ty = cx, cy, long - cx, -cy
                lo, hi = max(x0, xc), x1
            size = np.sqrt(tx * tx + ty * ty)
            tx, ty = tx / size, ty / size
            # Source in the side's frame: y grows away from the triangle we are in.
            rx, ry = sx - ox, sy - oy
            along, off = tx * rx + ty * ry, tx * ry - ty * rx
            near = meets(lo - sx, -sy, rx, ry, tx, ty)
            beyond = meets(hi - sx, -sy, rx, ry, tx, ty)
            if child == 0 and hi == xc:
                beyond = size
            if child == 1 and lo == xc:
                near = 0.0
            near, beyond = min(size, max(0.0, near)), min(size, max(0.0, beyond))
            if beyond - near <= 0.0:
                continue
            # Seen from the next triangle the side runs the same way, with the source below it.
            y = -max(abs(off), THIN * size)
            if child == 0:
                d1, d2, d3 = dist[va], dist[vc], dist[vb]
                ahead = np.hypot(tx * near - (long - ox), ty * near - (0.0 - oy))
                over3 = sigma + np.hypot(along - near, off)
            else:
                d1, d2, d3 = dist[vc], dist[vb], dist[va]
                ahead = np.hypot(ox + tx * beyond, oy + ty * beyond)
                over3 = sigma + np.hypot(along - beyond, off)
            if over3 > d3 + ahead + SLACK:
                continue
            if worse(near, beyond, along, y, sigma, size, d1, d2):
                continue
            key = sigma + reach_to(near, beyond, along, y)
            if key > bound:
                continue
            if used_free == 0:
                w_int, w, keys, heap, free, used_free = grow(w_int, w, keys, heap, free)
            used_free -= 1
            item = free[used_free]
            w_int[item, 0], w_int[item, 1] = there, back[m, k]
            w[item, 0], w[item, 1], w[item, 2], w[item, 3] = near, beyond, along, y
            w[item, 4] = sigma
            keys[item] = key
            heaped = push(heap, keys, heaped, item)
    return dist, count


@njit(cache=True, nogil=True)
def _launch(
    m: int, k: int, px: float, py: float, sigma: float, lay: Array, opp: Ints, back: Ints,
    vertex: Ints, dist: Array, bound: float, w_int: Ints, w: Array, keys: Array, heap: Ints,
    free: Ints, heaped: int, used_free: int,
) -> tuple[int, int, Ints, Array, Array, Ints, Ints]:  # fmt: skip
    """A window over a whole side k of a triangle, as a point of that triangle sees it."""
    there = opp[m, k]
    if there >= 0:
        a, b = (k + 1) % 3, (k + 2) % 3
        # From the neighbour the side runs from b to a, with the point below it.
        ex, ey = lay[m, a, 0] - lay[m, b, 0], lay[m, a, 1] - lay[m, b, 1]
        long = np.sqrt(ex * ex + ey * ey)
        rx, ry = px - lay[m, b, 0], py - lay[m, b, 1]
        sx = (ex * rx + ey * ry) / long
        sy = -max(abs(ex * ry - ey * rx) / long, THIN * long)
        key = sigma + reach_to(0.0, long, sx, sy)
        skip = worse(0.0, long, sx, sy, sigma, long, dist[vertex[m, b]], dist[vertex[m, a]])
        if key <= bound and not skip:
            if used_free == 0:
                w_int, w, keys, heap, free, used_free = grow(w_int, w, keys, heap, free)
            used_free -= 1
            item = free[used_free]
            w_int[item, 0], w_int[item, 1] = there, back[m, k]
            w[item, 0], w[item, 1], w[item, 2], w[item, 3], w[item, 4] = 0.0, long, sx, sy, sigma
            keys[item] = key
            heaped = push(heap, keys, heaped, item)
    return heaped, used_free, w_int, w, keys, heap, free


@njit(cache=True, nogil=True)
def _event(
    v: int, sigma: float, w_int: Ints, w: Array, keys: Array, heap: Ints, free: Ints,
    heaped: int, used_free: int,
) -> tuple[int, int, Ints, Array, Array, Ints, Ints]:  # fmt: skip
    """A corner that ways may bend about, to be taken up in its turn."""
    if used_free == 0:
        w_int, w, keys, heap, free, used_free = grow(w_int, w, keys, heap, free)
    used_free -= 1
    item = free[used_free]
    w_int[item, 0], w_int[item, 1] = -1, v
    w[item, 0], w[item, 1], w[item, 2], w[item, 3], w[item, 4] = 0.0, 0.0, 0.0, 0.0, sigma
    keys[item] = sigma
    heaped = push(heap, keys, heaped, item)
    return heaped, used_free, w_int, w, keys, heap, free
