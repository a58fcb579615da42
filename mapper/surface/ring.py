"""Kernel: the ends of a fan of straight lines that stay on one chart and meet no closed edge.

The lines are followed all together: the triangles are unfolded into the plane of the one that the
lines start in, each corner parts those that pass it on its right from those that pass it on its
left, and so a triangle is visited once for all neighbouring lines that cross it. Only near the
lines' ends is each looked at by itself. `trace` follows any lines, one by one; where something is
met, this answers so and that is asked.

Compiled once per machine (numba's file cache), so a command line does not wait for it.
"""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mapper.surface.intrinsic import Net

Array = NDArray[np.float64]
Ints = NDArray[np.int32]

SAME = 1e-9  # of a side's length, by which it may be longer in one triangle than in the other


@dataclass(frozen=True, eq=False)
class Unfolding:
    """across (M, 3): 4 times the triangle across each side and that side's number there; -1 where
    lines are not followed: at closed edges, from chart to chart, and where the side is not as long
    there. apex (M, 3, 2): where the corner facing a side lies, seen from the side's second end
    towards its first: share of its length along it, and to the left."""

    across: Ints
    apex: Array


_UNFOLDINGS: WeakKeyDictionary[Net, Unfolding] = WeakKeyDictionary()


def unfolding_of(net: Net) -> Unfolding:
    """The unfolding of a net, made once."""
    found = _UNFOLDINGS.get(net)
    if found is None:
        found = _UNFOLDINGS[net] = _unfolding(net)
    return found


def _unfolding(net: Net) -> Unfolding:
    first, second = np.roll(net.lay, -1, axis=1), np.roll(net.lay, -2, axis=1)
    side, beyond = first - second, net.lay - second
    square = np.sum(side * side, axis=2)
    part = 1.0 / np.where(square > 0.0, square, 1.0)
    along = np.sum(beyond * side, axis=2) * part
    left = (side[..., 0] * beyond[..., 1] - side[..., 1] * beyond[..., 0]) * part
    there = net.opp >= 0
    other = np.where(there, square[net.opp, net.back], 0.0)
    there &= (net.seam < 0) & (square > 0.0) & (np.abs(square - other) <= 2.0 * SAME * square)
    across = np.where(there, 4 * net.opp + net.back, -1).astype(np.int32)
    return Unfolding(across, np.ascontiguousarray(np.stack([along, left], axis=-1)))


@njit(cache=True, nogil=True)
def ends(
    across: Ints, apex: Array, lay: Array, flat: Array,
    start: int, shares: Array, least: float, count: int, reach: float, grid: float,
) -> tuple[Array, float, float]:  # fmt: skip
    """Where lines end that start at one point inside a triangle, evenly turned, from -pi on.

    across, apex: of `Unfolding`; lay, flat: of `Net`; start: the triangle; shares (3,): the point's
    shares of its corners, taken as `least` where they are less; count: lines; reach: their length,
    mm. Answers the ends (count + 1, 2) on the flat map, rounded to the grid (mm), the last the same
    as the first; how far apart two neighbours are at most, mm; and twice the area inside. Nothing
    (0, 2) if a line meets what is not followed.
    """
    step = 2.0 * np.pi / count
    toward = np.empty((count, 2))
    for k in range(count):
        toward[k, 0], toward[k, 1] = np.cos(k * step - np.pi), np.sin(k * step - np.pi)
    out = np.empty((count + 1, 2))
    nothing = np.empty((0, 2))
    # What waits: the triangle and the side come in by, the lines, and the side's two ends.
    wait_for = np.empty((count + 4, 3), np.int64)
    wait_at = np.empty((count + 4, 4))
    waiting = 0
    px = py = whole = 0.0
    for k in range(3):
        share = max(shares[k], least)
        whole += share
        px += share * lay[start, k, 0]
        py += share * lay[start, k, 1]
    px /= whole
    py /= whole
    first = np.empty(3, np.int64)
    for k in range(3):
        turn = np.arctan2(lay[start, k, 1] - py, lay[start, k, 0] - px)
        first[k] = int(np.ceil((turn + np.pi) / step))
    # Of the present triangle the corners, and of those the ones at the side to go out by.
    x = np.empty(3)
    y = np.empty(3)
    square = reach * reach
    m, come, low, high = start, -1, 0, 0
    for k in range(3):
        x[k], y[k] = lay[start, k, 0] - px, lay[start, k, 1] - py
    while True:
        for turn in range(3):
            if come < 0:
                side = turn
                right, left = (side + 1) % 3, (side + 2) % 3
                begin = first[right]
                stop = first[left]
                if stop < begin:
                    stop += count
            elif turn == 2:
                break
            else:
                side = (come + 1 + turn) % 3
                right, left = (side + 1) % 3, (side + 2) % 3
                if turn == 0:
                    # The first line that leaves the corner on its right.
                    begin, stop = low, high
                    while begin < stop:
                        middle = (begin + stop) >> 1
                        n = middle if middle < count else middle - count
                        if toward[n, 0] * y[come] - toward[n, 1] * x[come] >= 0.0:
                            begin = middle + 1
                        else:
                            stop = middle
                    parted = begin
                    begin, stop = low, parted
                else:
                    begin, stop = parted, high
            if begin >= stop:
                continue
            ox, oy, tx, ty = x[right], y[right], x[left], y[left]
            if ox * ox + oy * oy > square or tx * tx + ty * ty > square:
                # Some may end before the side; those that go on are neighbours.
                ex, ey = tx - ox, ty - oy
                on_from, on_to = stop, begin
                for line in range(begin, stop):
                    n = line if line < count else line - count
                    qx, qy = reach * toward[n, 0], reach * toward[n, 1]
                    if ex * (qy - oy) - ey * (qx - ox) >= 0.0:
                        ux, uy = x[1] - x[0], y[1] - y[0]
                        vx, vy = x[2] - x[0], y[2] - y[0]
                        double = ux * vy - uy * vx
                        if double <= 0.0:
                            return nothing, 0.0, 0.0
                        qx -= x[0]
                        qy -= y[0]
                        b = (qx * vy - qy * vx) / double
                        c = (ux * qy - uy * qx) / double
                        for axis in range(2):
                            a0 = flat[m, 0, axis]
                            out[n, axis] = (
                                a0 + b * (flat[m, 1, axis] - a0) + c * (flat[m, 2, axis] - a0)
                            )
                    else:
                        on_from, on_to = min(on_from, line), max(on_to, line + 1)
                begin, stop = on_from, on_to
                if begin >= stop:
                    continue
            code = across[m, side]
            if code < 0 or waiting == wait_at.shape[0]:
                return nothing, 0.0, 0.0
            wait_for[waiting, 0], wait_for[waiting, 1], wait_for[waiting, 2] = code, begin, stop
            wait_at[waiting, 0], wait_at[waiting, 1] = ox, oy
            wait_at[waiting, 2], wait_at[waiting, 3] = tx, ty
            waiting += 1
        if waiting == 0:
            break
        waiting -= 1
        m, come = wait_for[waiting, 0] >> 2, wait_for[waiting, 0] & 3
        low, high = wait_for[waiting, 1], wait_for[waiting, 2]
        ox, oy, tx, ty = (
            wait_at[waiting, 0], wait_at[waiting, 1], wait_at[waiting, 2], wait_at[waiting, 3]
        )  # fmt: skip
        left, right = (come + 1) % 3, (come + 2) % 3
        along, aside = apex[m, come, 0], apex[m, come, 1]
        x[left], y[left], x[right], y[right] = tx, ty, ox, oy
        x[come] = ox + along * (tx - ox) - aside * (ty - oy)
        y[come] = oy + along * (ty - oy) + aside * (tx - ox)
    apart = area = 0.0
    for n in range(count):
        after = n + 1 if n + 1 < count else 0
        ex, ey = out[after, 0] - out[n, 0], out[after, 1] - out[n, 1]
        apart = max(apart, ex * ex + ey * ey)
        area += (out[n, 0] - out[0, 0]) * ey - (out[n, 1] - out[0, 1]) * ex
    for n in range(count):
        out[n, 0], out[n, 1] = np.rint(out[n, 0] / grid) * grid, np.rint(out[n, 1] / grid) * grid
    out[count, 0], out[count, 1] = out[0, 0], out[0, 1]
    return out, np.sqrt(apart), area
