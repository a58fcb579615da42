"""exp(-time M^-1 K) as a series in the matrix itself: products of it, and no factor of anything.

Chebyshev's polynomials on the range of the eigenvalues, whose coefficients for the exponential are
scaled Bessel functions (Abramowitz and Stegun 9.6.34 with an imaginary argument, from memory); the
terms needed grow with the width over the smallest triangle, and are known beforehand. Where they
are not many, that is done long before a factor would be found. What is left out is TAIL.

A few corners of triangles far smaller than the others would ask for many terms. One after another,
the stiffest first, they are let follow their neighbours, as a net at rest does (K_bb u_b = -K_ba
u_a; Guyan 1965, from memory), which hands their mass and their loads to those neighbours. Sheet and
sums stay; of two corners a hair apart one stays, and the other is as good as moved to it.
"""

from __future__ import annotations

import heapq
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy import sparse, special
from scipy.sparse import csgraph

from mapper.surface.assemble import ordered

Array = NDArray[np.float64]
Ints = NDArray[np.int32]

MOST_TERMS = 500  # more take longer than a factor
TAIL = 1e-10  # of what lies at a corner at the start: a millionth of the peak or less
FEW = 1e-3  # share of the corners that may follow their neighbours
# Only corners of triangles of a thirtieth of the width or less follow: 4 (width / size)2. A source
# at one is blunted by a thousandth of its peak at most.
SMALL = 4000.0
DEEP = 8  # terms that follow each other over the sheet at once
LARGE = 1.2  # those whose eigenvalues may be so much larger than all but the few


class Series:
    """The exponential for given masses (N,), stiffness (N, N) and time, mm2; see `series_of`."""

    def __init__(self, mass: Array, stiff: Any, time: float) -> None:
        mass, stiff, self._own, self._following, self._share = _condensed(mass, stiff, time)
        largest = float((_bound(mass, stiff)[self._own]).max(initial=0.0))
        order = csgraph.reverse_cuthill_mckee(stiff, symmetric_mode=True)
        number = np.full(len(mass), -1, np.intp)
        number[self._own] = np.arange(len(self._own))
        order = order[number[order] >= 0].astype(np.int32)
        self._order = number[order]
        step = 2.0 / (max(largest, 1e-300) * mass[order])
        self._step = ordered(stiff.indptr, stiff.indices, stiff.data, order, step)
        self._mass = mass[self._own]
        share_of = special.ive(np.arange(MOST_TERMS + 1), 0.5 * time * largest)
        share_of[1:] *= 2.0  # all of them together are 1
        left = 1.0 - np.cumsum(share_of)
        self.terms = int(np.argmax(left < TAIL)) + 1 if left[-1] < TAIL else MOST_TERMS + 1
        part = share_of[: self.terms]
        self._part = part / part.sum()

    def spread(self, load: Array) -> Array:
        """What a load (N,) or (N, K) becomes: per mm2 at every corner."""
        columns = load.reshape(len(load), -1)
        inner = columns[self._own] + self._share.T @ columns[self._following]
        start = inner / self._mass[:, None]
        out = np.empty_like(columns)
        for first in range(0, columns.shape[1], 2):
            some = slice(first, min(first + 2, columns.shape[1]))
            two = np.zeros((len(start), 2))
            two[:, : some.stop - first] = start[self._order, some]
            found = np.empty_like(two)
            found[self._order] = terms(*self._step, self._part, two)
            found = found[:, : some.stop - first]
            out[self._own, some] = found
            out[self._following, some] = self._share @ found
        return np.asarray(out.reshape(load.shape))


def series_of(mass: Array, stiff: Any, time: float) -> Series | None:
    """The series for masses (N,) mm2, a stiffness (N, N) without unit and a time (mm2, half the
    width's square), None where it would have too many terms."""
    made = Series(mass, stiff.tocsr(), time)
    return made if made.terms <= MOST_TERMS else None


def _bound(mass: Array, stiff: Any) -> Array:
    """(N,) no eigenvalue of M^-1 K is larger than the largest of these (Gershgorin)."""
    return np.asarray(np.abs(stiff).sum(axis=1)).ravel() / mass


def _condensed(
    mass: Array, stiff: Any, time: float
) -> tuple[Array, Any, NDArray[np.intp], NDArray[np.intp], Any]:
    """Mass and stiffness, nothing in the rows and columns of corners that follow others; which
    corners stay, which follow them, and by what shares (few, others)."""
    count = len(mass)
    bound = _bound(mass, stiff)
    limit = max(LARGE * float(np.quantile(bound, 1.0 - FEW)), SMALL / time)
    mass, rows = mass.copy(), {}
    first, column, value = stiff.indptr, stiff.indices, stiff.data

    def row_of(k: int) -> dict[int, float]:
        if k not in rows:
            some = slice(first[k], first[k + 1])
            rows[k] = dict(zip(column[some].tolist(), value[some].tolist()))
        return rows[k]

    waiting = [(-float(bound[k]), k) for k in np.flatnonzero(bound > limit).tolist()]
    heapq.heapify(waiting)
    shares: dict[int, dict[int, float]] = {}
    while waiting and len(shares) < FEW * count:
        large, k = heapq.heappop(waiting)
        if k in shares or -large != bound[k]:
            continue
        mine = row_of(k)
        share = {j: -v / mine[k] for j, v in mine.items() if j != k and v != 0.0}
        if not share or min(mass[j] + v * mass[k] for j, v in share.items()) <= 0.0:
            continue
        shares[k] = share
        for j, v in share.items():
            other = row_of(j)
            back = other.pop(k)
            for to, part in share.items():
                other[to] = other.get(to, 0.0) + back * part
            mass[j] += v * mass[k]
            bound[j] = sum(map(abs, other.values())) / mass[j]
            if bound[j] > limit:
                heapq.heappush(waiting, (-float(bound[j]), j))
    few = np.array(sorted(shares), np.intp)
    stays = np.ones(count, np.bool_)
    stays[few] = False
    own = np.flatnonzero(stays)
    if not shares:
        return mass, stiff, own, few, sparse.csr_array((0, count))
    touched = np.array(sorted(rows), np.intp)
    new = [(k, j, v) for k in touched.tolist() if k not in shares for j, v in rows[k].items()]
    row, col, values = (np.array(x) for x in zip(*new))
    stiff = stiff.copy()
    for k in touched.tolist():
        stiff.data[stiff.indptr[k] : stiff.indptr[k + 1]] = 0.0
    stiff = stiff + sparse.csr_array((values, (row, col)), (count, count))
    # Who follows one that follows later itself, follows those that one follows.
    for k in reversed(shares):
        whole: dict[int, float] = {}
        for j, v in shares[k].items():
            for to, part in shares.get(j, {j: 1.0}).items():
                whole[to] = whole.get(to, 0.0) + v * part
        shares[k] = whole
    place = np.zeros(count, np.intp)
    place[own] = np.arange(len(own))
    found = [(r, place[j], v) for r, k in enumerate(few.tolist()) for j, v in shares[k].items()]
    row, col, values = (np.array(x) for x in zip(*found))
    matrix = sparse.csr_array((values, (row, col)), (len(few), len(own)))
    return mass, stiff, own, few, matrix


@njit(cache=True, nogil=True)
def terms(
    start: Ints, column: Ints, weight: Array, band: int, part: Array, at: Array
) -> Array:  # fmt: skip
    """The sum of part[k] T_k(1 - A) u for two fields u (N, 2), by Clenshaw's recurrence.

    (A u)_i is the sum of weight_ij (u_i - u_j), given by rows: start (N + 1,), column, weight; no
    column is farther than band from its row. A term needs of the one before only so many rows
    more: DEEP of them run over the sheet one behind the other, in what the processor has at hand.
    """
    now, before = np.zeros_like(at), np.zeros_like(at)
    count, some = at.shape[0], band + 1
    pieces = (count + some - 1) // some
    left = part.shape[0]
    while left > 0:
        deep = min(DEEP, left)
        for turn in range(pieces + 2 * (deep - 1)):
            for level in range(deep):
                piece = turn - 2 * level
                if piece < 0 or piece >= pieces:
                    continue
                low, high = piece * some, min(count, (piece + 1) * some)
                k = left - 1 - level
                one, other = (now, before) if level % 2 == 0 else (before, now)
                twice = 1.0 if k == 0 else 2.0
                _next(start, column, weight, one, other, at, part[k], twice, low, high)
        if deep % 2 == 1:
            now, before = before, now
        left -= deep
    return now


@njit(cache=True, nogil=True, fastmath={"contract"})
def _next(
    start: Ints, column: Ints, weight: Array, now: Array, before: Array, at: Array, share: float,
    twice: float, low: int, high: int,
) -> None:  # fmt: skip
    """The next of the recurrence for rows from low to high, in the place of the one before.

    Numbers of rows are made unsigned: numba looks at every other one for whether it counts from the
    end, which is a third of the time."""
    first = np.uintp(start[low])
    for number in range(low, high):
        row = np.uintp(number)
        last = np.uintp(start[row + np.uintp(1)])
        a, b = now[row, 0], now[row, 1]
        out_a = out_b = 0.0
        for place in range(first, last):
            other, part = np.uintp(column[place]), weight[place]
            out_a += part * (a - now[other, 0])
            out_b += part * (b - now[other, 1])
        first = last
        before[row, 0] = share * at[row, 0] + twice * (a - out_a) - before[row, 0]
        before[row, 1] = share * at[row, 1] + twice * (b - out_b) - before[row, 1]
