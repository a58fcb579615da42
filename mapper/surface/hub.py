"""Where the lines of a fan start: a point inside a triangle of the net, or a corner of its edge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mapper.surface.intrinsic import Net

Array = NDArray[np.float64]
Ints = NDArray[np.int32]

INSIDE = 1e-9  # least share of each corner of a triangle for a point that lines start from
ALONG = 1e-7  # rad: the outermost lines from a corner of the edge keep off the edge by this
SHALLOW = 0.3  # rad: at a corner that sticks in by more, both sides are swept


@dataclass(frozen=True, eq=False)
class Hub:
    """What lines start from: a point inside a triangle, or a corner of the sheet's own edge.

    Parts of the full (or, at an edge, lesser) turn start in different triangles: from turn
    start[p] on, rad, in triangle[p] at place (P, 2) of its frame, in the direction base[p] there.
    flat (2,): the point on the flat map. low, high: the turns to be swept; on a full turn inside a
    sheet the last line has the first for a neighbour (ring).
    """

    triangle: NDArray[np.int32]
    place: Array
    start: Array
    base: Array
    low: float
    high: float
    ring: bool
    flat: Array


def hub_inside(net: Net, triangle: int, shares: Array) -> Hub:
    """The point of a triangle with these shares of its corners, kept a hair off its sides."""
    weight = np.maximum(shares, INSIDE)
    weight = weight / weight.sum()
    half = np.array([-np.pi])
    return Hub(
        np.array([triangle], np.int32), (weight @ net.lay[triangle])[None], half, half,
        -np.pi, np.pi, True, weight @ net.flat[triangle],
    )  # fmt: skip


def inside(net: Net, triangles: NDArray[np.integer], shares: Array) -> tuple[Ints, Array]:
    """Where ways start at points of triangles (S,), known by the shares (S, 3) of their corners:
    the triangles, and places (S, 2) in their frames, kept a hair off their sides."""
    weight = np.maximum(shares, INSIDE)
    weight = weight / weight.sum(axis=1, keepdims=True)
    return triangles.astype(np.int32), np.einsum("kc,kcx->kx", weight, net.lay[triangles])


def hubs_at_corner(net: Net, corner: int, distance: Array) -> list[Hub]:
    """A corner of the sheet's own edge that sticks into the sheet: what a way may bend to.

    Lines from it go out next to its two closed sides, as far from each as the angle there exceeds
    half a turn; all else is seen by whatever sees the corner. distance (N,): of all corners from
    where the disc has its centre: only ways that come nearly along one side bend to the other.
    """
    m, k = divmod(int(net.corner[corner]), 3)
    flat = net.flat[m, k]
    right = _along_side(net, distance, m, k, (k + 1) % 3)
    triangle, place, start, base = [], [], [], []
    total = 0.0
    while True:
        u, v = net.lay[m, (k + 1) % 3] - net.lay[m, k], net.lay[m, (k + 2) % 3] - net.lay[m, k]
        triangle.append(m)
        place.append(net.lay[m, k])
        start.append(total)
        base.append(float(np.arctan2(u[1], u[0])))
        total += float(np.arctan2(u[0] * v[1] - u[1] * v[0], u @ v))
        side = (k + 1) % 3
        there = int(net.opp[m, side])
        if there < 0 or there == triangle[0]:
            break
        m, k = there, (int(net.back[m, side]) + 1) % 3
    left = _along_side(net, distance, m, k, (k + 2) % 3)
    past = total - np.pi
    sweeps = [(ALONG, past), (total - past, total - ALONG)]
    if past < SHALLOW:
        sweeps = [sweep for sweep, come in zip(sweeps, (left, right)) if come]
    return [
        Hub(
            np.array(triangle, np.int32), np.array(place), np.array(start), np.array(base),
            low, high, False, flat,
        )
        for low, high in sweeps
        if high > low
    ]  # fmt: skip


def _along_side(net: Net, distance: Array, m: int, corner: int, end: int) -> bool:
    """Whether the way to a corner may come nearly along a side: its other end is nearer, by most of
    the side's length. (A way at b rad to it, from a point d off, is longer than the way to that end
    by no less than the side's length times cos b - length / (2 d).)"""
    long = float(np.linalg.norm(net.lay[m, end] - net.lay[m, corner]))
    gain = float(distance[net.vertex[m, corner]] - distance[net.vertex[m, end]])
    return gain > 0.6 * long or float(distance[net.vertex[m, corner]]) < 3.0 * long
