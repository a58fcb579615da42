"""Kernels: follow straight lines through a triangulation of the plane that has no gaps.

Which edge a line leaves a triangle by is decided from the side of the line on which each corner
lies. Past the first triangle of a line that is worked out once for each corner and carried on to
the next triangle; so a walk can neither turn back nor leak through a corner. Where a line starts on
a corner or runs along an edge and misses the triangle it is said to start in, the triangle a hair
further along is taken; that piece is 1e-9 mm long.

A triangle's corners stand beside what lies across its edges, and by which edge one comes in there,
not in a table of points: a walk reads two or three places of memory a triangle, and on a large mesh
waiting for the memory is most of what it costs.

Compiled once per machine (numba's file cache), so a command line does not wait for it.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

Array = NDArray[np.float64]
Ints = NDArray[np.int32]

HAIR = 1e-9  # mm; far below the .0001 mm grid of regions
FAST = {"contract", "nnan", "ninf", "nsz"}  # sums of numbers known to be such; never for sides
Place = np.uintp
NONE, ONE, TWO, THREE, FOUR = Place(0), Place(1), Place(2), Place(3), Place(4)
SIX, NINE, TWELVE = Place(6), Place(9), Place(12)
# What became of a flow: worked out; an outline beyond the box; a coordinate that is none.
DONE, BEYOND, NO_NUMBER = 0, 1, 2


@njit(cache=True, nogil=True, forceinline=True)
def _shares(corners: Array, here: int, x: float, y: float) -> tuple[float, float, float]:
    """Barycentric shares of a point in a triangle."""
    ax, ay = corners[here, 0], corners[here, 1]
    ux, uy = corners[here, 2] - ax, corners[here, 3] - ay
    vx, vy = corners[here, 4] - ax, corners[here, 5] - ay
    px, py = x - ax, y - ay
    whole = ux * vy - uy * vx
    if whole <= 0.0:
        whole = 1e-300
    second = min(1.0, max(0.0, (px * vy - py * vx) / whole))
    third = min(1.0 - second, max(0.0, (ux * py - uy * px) / whole))
    return 1.0 - second - third, second, third


@njit(cache=True, nogil=True, forceinline=True)
def _exit(
    corners: Array, here: int, px: float, py: float, dx: float, dy: float
) -> tuple[int, float, float, float]:
    """The edge by which a line leaves a triangle, -1 if it misses it; on which side of the line the
    corners on its right and on its left lie that the edge joins; and so the first corner."""
    s0 = dx * (corners[here, 1] - py) - dy * (corners[here, 0] - px)
    s1 = dx * (corners[here, 3] - py) - dy * (corners[here, 2] - px)
    s2 = dx * (corners[here, 5] - py) - dy * (corners[here, 4] - px)
    if s1 < 0.0 and s2 >= 0.0:
        return 0, s1, s2, s0
    if s2 < 0.0 and s0 >= 0.0:
        return 1, s2, s0, s0
    if s0 < 0.0 and s1 >= 0.0:
        return 2, s0, s1, s0
    return -1, 0.0, 0.0, s0


@njit(cache=True, nogil=True, forceinline=True)
def _stops(
    px: float, py: float, ox: float, oy: float, tx: float, ty: float, below: float, above: float
) -> bool:
    """Whether a line of parameter 0 to 1 from p ends before the edge from corner o to corner t."""
    return (ox - px) * (ty - oy) - (oy - py) * (tx - ox) >= above - below


@njit(cache=True, nogil=True)
def find(corners: Array, across: Ints, start: int, x: float, y: float) -> int:
    """The triangle that holds a point, walking straight there from the middle of another one."""
    px = (corners[start, 0] + corners[start, 2] + corners[start, 4]) / 3.0
    py = (corners[start, 1] + corners[start, 3] + corners[start, 5]) / 3.0
    dx, dy = x - px, y - py
    here = start
    for _ in range(corners.shape[0] + 8):
        edge, below, above, _ = _exit(corners, here, px, py, dx, dy)
        if edge < 0:
            return here
        one, two = 2 * ((edge + 1) % 3), 2 * ((edge + 2) % 3)
        ox, oy, tx, ty = (
            corners[here, one], corners[here, one + 1], corners[here, two], corners[here, two + 1],
        )  # fmt: skip
        there = across[here, edge]
        if there < 0 or _stops(px, py, ox, oy, tx, ty, below, above):
            return here
        here = there >> 2
    return here


@njit(cache=True, nogil=True)
def seed_grid(corners: Array, across: Ints, low: Array, cell: Array, nx: int, ny: int) -> Ints:
    """(nx, ny) the triangle that holds each cell's middle, found along a boustrophedon."""
    seeds = np.zeros((nx, ny), np.int32)
    here = 0
    for i in range(nx):
        for step in range(ny):
            j = step if i % 2 == 0 else ny - 1 - step
            x = low[0] + (i + 0.5) * cell[0]
            y = low[1] + (j + 0.5) * cell[1]
            here = find(corners, across, here, x, y)
            seeds[i, j] = here
    return seeds


@njit(cache=True, nogil=True, forceinline=True)
def _seed(seeds: Ints, frame: Array, x: float, y: float) -> int:
    i = min(max(int((x - frame[0]) / frame[2]), 0), seeds.shape[0] - 1)
    j = min(max(int((y - frame[1]) / frame[3]), 0), seeds.shape[1] - 1)
    return int(seeds[i, j])


@njit(cache=True, nogil=True, forceinline=True)
def _begin(
    corners: Array, across: Ints, here: int, px: float, py: float, dx: float, dy: float
) -> tuple[int, int, float, float]:
    """The triangle a line starts in, near the one it is said to start in, and its `_exit` there;
    -1 where all of the line is shorter than a hair."""
    edge, below, above, first = _exit(corners, here, px, py, dx, dy)
    if edge >= 0:
        return here, edge, below, above
    length, hair = np.hypot(dx, dy), HAIR
    while edge < 0 and hair < length:
        # A corner on the line counts as left of it: the line runs a hair to the right.
        t = hair / length
        beside = t if first >= 0.0 else -t
        hair *= 4.0
        x, y = px + t * dx + beside * dy, py + t * dy - beside * dx
        here = find(corners, across, here, x, y)
        edge, below, above, first = _exit(corners, here, px, py, dx, dy)
    return here, edge, below, above


@njit(cache=True, nogil=True, forceinline=True, fastmath=FAST)
def _piece(
    field: Array, here: int, p0: float, p1: float, p2: float, q0: float, q1: float, q2: float
) -> float:
    """Integral of the field's normal component along a straight piece inside one triangle.

    p, q: shares of its two ends. See flux.py for the field; the products of two shares along the
    piece have the mean (2 pp + 2 qq + pq + qp) / 6, so nothing here is approximated.
    """
    m0 = 2.0 * (p0 * p1 + q0 * q1) + p0 * q1 + q0 * p1
    m1 = 2.0 * (p1 * p2 + q1 * q2) + p1 * q2 + q1 * p2
    m2 = 2.0 * (p2 * p0 + q2 * q0) + p2 * q0 + q2 * p0
    a0, a1, a2 = p1 * q2 - p2 * q1, p2 * q0 - p0 * q2, p0 * q1 - p1 * q0
    flow: float = (
        a0 * field[here, 0] + a1 * field[here, 1] + a2 * field[here, 2]
        + m0 * (field[here, 3] * (a0 + a1) + field[here, 6] * (a0 - a1))
        + m1 * (field[here, 4] * (a1 + a2) + field[here, 7] * (a1 - a2))
        + m2 * (field[here, 5] * (a2 + a0) + field[here, 8] * (a2 - a0))
    )  # fmt: skip
    return flow


@njit(cache=True, nogil=True, forceinline=True, fastmath=FAST)
def _crossing(
    field: Array, here: Place, c: Place, t: Place, o: Place,
    pt: float, po: float, qc: float, qt: float, qo: float,
) -> float:  # fmt: skip
    """`_piece` from the edge facing corner c, so p has no share of it; corners c, t, o in turn.
    field (9 T,): as one row of numbers."""
    mean, first, second = here * NINE, here * NINE + THREE, here * NINE + SIX
    mc, mo = qc * (2.0 * qt + pt), qc * (2.0 * qo + po)
    mt = 2.0 * (pt * po + qt * qo) + pt * qo + qt * po
    ac, at, ao = pt * qo - po * qt, po * qc, -pt * qc
    flow: float = (
        ac * field[mean + c] + at * field[mean + t] + ao * field[mean + o]
        + mc * (field[first + c] * (ac + at) + field[second + c] * (ac - at))
        + mt * (field[first + t] * (at + ao) + field[second + t] * (at - ao))
        + mo * (field[first + o] * (ao + ac) + field[second + o] * (ao - ac))
    )  # fmt: skip
    return flow


@njit(cache=True, nogil=True)
def flow(
    corners: Array, across: Ints, numbers: Array, links: Ints, seeds: Ints, frame: Array,
    field: Array, points: Array, rings: Ints, farthest: float,
) -> tuple[float, int]:  # fmt: skip
    """What flows out of rings: the field's integral over each, and whether it could be worked out.

    corners (T, 6), across (T, 3), numbers, links, seeds, frame (8,), field (T, 9): of
    `filled.Plane` and `flux.Field`. points (K, 2): of all rings one after another, closed, either
    way round; rings (L, 3): number of each ring's first point and of its last, and 1, or -1 where
    it takes off; none (0, 3): those of one polygon, each from a point to where that comes again,
    all but the first taking off.
    Nothing (and BEYOND) for a point outside the box, (and NO_NUMBER) for one that is no number or
    whose coordinates are larger than farthest.
    """
    total = 0.0
    count = 0
    last = -1
    while count < rings.shape[0] or (rings.shape[0] == 0 and last + 1 < points.shape[0]):
        if rings.shape[0]:
            first, last, adds = rings[count, 0], rings[count, 1], rings[count, 2] > 0
        else:
            first, last, adds = last + 1, points.shape[0] - 1, count == 0
        count += 1
        x0, y0 = points[first, 0], points[first, 1]
        twice = ux = uy = 0.0
        inside = True
        for k in range(first, last + 1):
            x, y = points[k, 0], points[k, 1]
            if not (abs(x) <= farthest and abs(y) <= farthest):
                return 0.0, NO_NUMBER
            inside &= x >= frame[4] and y >= frame[5] and x <= frame[6] and y <= frame[7]
            twice += ux * (y - y0) - uy * (x - x0)
            ux, uy = x - x0, y - y0
            if ux == 0.0 and uy == 0.0 and k > first:
                last = k
                break
        if not inside:
            return 0.0, BEYOND
        around = _around(corners, across, numbers, links, seeds, frame, field, points, first, last)
        total += around if (twice > 0.0) == adds else -around
    return total, DONE


@njit(cache=True, nogil=True, forceinline=True)
def _around(
    corners: Array, across: Ints, numbers: Array, links: Ints, seeds: Ints, frame: Array,
    field: Array, points: Array, first: int, last: int,
) -> float:  # fmt: skip
    """The field's integral over one ring, from its first point to its last."""
    row = field.reshape(-1)
    around = 0.0
    here = find(
        corners, across, _seed(seeds, frame, points[first, 0], points[first, 1]),
        points[first, 0], points[first, 1],
    )  # fmt: skip
    p0, p1, p2 = _shares(corners, here, points[first, 0], points[first, 1])
    for k in range(first, last):
        px, py, qx, qy = points[k, 0], points[k, 1], points[k + 1, 0], points[k + 1, 1]
        if px == qx and py == qy:
            continue
        dx, dy = qx - px, qy - py
        start = here
        here, edge, below, above = _begin(corners, across, here, px, py, dx, dy)
        if here != start:
            p0, p1, p2 = _shares(corners, here, px, py)
        there = -1
        ox = oy = tx = ty = 0.0
        if edge >= 0:
            one, two = 2 * ((edge + 1) % 3), 2 * ((edge + 2) % 3)
            ox, oy = corners[here, one], corners[here, one + 1]
            tx, ty = corners[here, two], corners[here, two + 1]
            there = across[here, edge]
        if there < 0 or _stops(px, py, ox, oy, tx, ty, below, above):
            q0, q1, q2 = _shares(corners, here, qx, qy)
            around += _piece(field, here, p0, p1, p2, q0, q1, q2)
            p0, p1, p2 = q0, q1, q2
            continue
        part = 1.0 / (above - below)
        right, left = above * part, -below * part
        if edge == 0:
            around += _piece(field, here, p0, p1, p2, 0.0, right, left)
        elif edge == 1:
            around += _piece(field, here, p0, p1, p2, left, 0.0, right)
        else:
            around += _piece(field, here, p0, p1, p2, right, left, 0.0)
        # Whether both ends of the edge lie farther back than the line's own end: then it cannot
        # end before the edge, and no more need be asked.
        back = max(dx * (ox - qx) + dy * (oy - qy), dx * (tx - qx) + dy * (ty - qy)) < 0.0
        while True:
            # Into the next triangle: corner c faces the edge, t and o are its ends left and
            # right. One name a line below: numba makes a slower loop of tuples; and places are
            # unsigned, or it looks at each for whether it counts from the end.
            pt, po = left, right
            this = Place(there) >> TWO
            c = Place(there) & THREE
            t = c + ONE if c < TWO else NONE
            o = c - ONE if c > NONE else TWO
            at = (this << THREE) + (c << ONE)
            x, y = numbers[at], numbers[at + ONE]
            link = (this << FOUR) + TWELVE
            side = dx * (y - py) - dy * (x - px)
            back = back and dx * (x - qx) + dy * (y - qy) < 0.0
            if side >= 0.0:
                above = side
                tx = x
                ty = y
                there = links[link + t]
                if there < 0 or not (back or not _stops(px, py, ox, oy, tx, ty, below, above)):
                    break
                part = 1.0 / (above - below)
                right, left = above * part, -below * part
                around += _crossing(row, this, c, t, o, pt, po, left, 0.0, right)
            else:
                below = side
                ox = x
                oy = y
                there = links[link + o]
                if there < 0 or not (back or not _stops(px, py, ox, oy, tx, ty, below, above)):
                    break
                part = 1.0 / (above - below)
                right, left = above * part, -below * part
                around += _crossing(row, this, c, t, o, pt, po, right, left, 0.0)
        here = int(np.int64(this))
        q0, q1, q2 = _shares(corners, here, qx, qy)
        if c == NONE:
            around += _piece(field, here, 0.0, pt, po, q0, q1, q2)
        elif c == ONE:
            around += _piece(field, here, po, 0.0, pt, q0, q1, q2)
        else:
            around += _piece(field, here, pt, po, 0.0, q0, q1, q2)
        p0, p1, p2 = q0, q1, q2
    return around


@njit(cache=True, nogil=True)
def pieces(
    corners: Array, across: Ints, seeds: Ints, frame: Array, lines: Array, firsts: Ints
) -> tuple[Ints, Ints, Array]:
    """Polylines cut at the edges of the triangles: each piece's triangle (P,), its segment (P,),
    the number of that one's first point, and the shares (P, 2, 3) of both its ends.

    lines (K, 2): points of all polylines one after another; firsts (L + 1,): where each begins.
    """
    room = 4 * lines.shape[0] + 64
    triangle, segment = np.empty(room, np.int32), np.empty(room, np.int32)
    shares = np.empty((room, 2, 3))
    used = 0
    for line in range(firsts.shape[0] - 1):
        first, last = firsts[line], firsts[line + 1]
        if last - first < 2:
            continue
        x, y = lines[first, 0], lines[first, 1]
        here = find(corners, across, _seed(seeds, frame, x, y), x, y)
        p0, p1, p2 = _shares(corners, here, x, y)
        for k in range(first, last - 1):
            px, py = lines[k, 0], lines[k, 1]
            dx, dy = lines[k + 1, 0] - px, lines[k + 1, 1] - py
            if dx == 0.0 and dy == 0.0:
                continue
            start = here
            here, edge, below, above = _begin(corners, across, here, px, py, dx, dy)
            if here != start:
                p0, p1, p2 = _shares(corners, here, px, py)
            for _ in range(corners.shape[0]):
                there = across[here, edge] if edge >= 0 else -1
                one, two = 2 * ((edge + 1) % 3), 2 * ((edge + 2) % 3)
                ends = there < 0 or _stops(
                    px, py, corners[here, one], corners[here, one + 1],
                    corners[here, two], corners[here, two + 1], below, above,
                )  # fmt: skip
                right = left = 0.0
                if ends:
                    q0, q1, q2 = _shares(corners, here, px + dx, py + dy)
                else:
                    right, left = above / (above - below), -below / (above - below)
                    q0 = 0.0 if edge == 0 else (left if edge == 1 else right)
                    q1 = 0.0 if edge == 1 else (left if edge == 2 else right)
                    q2 = 0.0 if edge == 2 else (left if edge == 0 else right)
                if used == len(triangle):
                    triangle = np.concatenate((triangle, np.empty_like(triangle)))
                    segment = np.concatenate((segment, np.empty_like(segment)))
                    shares = np.concatenate((shares, np.empty_like(shares)))
                triangle[used], segment[used] = here, k
                shares[used, 0, 0], shares[used, 0, 1], shares[used, 0, 2] = p0, p1, p2
                shares[used, 1, 0], shares[used, 1, 1], shares[used, 1, 2] = q0, q1, q2
                used += 1
                if ends:
                    p0, p1, p2 = q0, q1, q2
                    break
                here, c = there >> 2, there & 3
                p0 = 0.0 if c == 0 else (right if c == 1 else left)
                p1 = 0.0 if c == 1 else (right if c == 2 else left)
                p2 = 0.0 if c == 2 else (right if c == 0 else left)
                side = dx * (corners[here, 2 * c + 1] - py) - dy * (corners[here, 2 * c] - px)
                if side >= 0.0:
                    above, edge = side, (c + 1) % 3
                else:
                    below, edge = side, (c + 2) % 3
    return triangle[:used], segment[:used], shares[:used]
