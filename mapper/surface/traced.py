"""Lines followed through the triangles of a skin: the pieces that lie in each, once.

A line on the sheet's edge lies now on this side of it, now on that, by the grid's rounding; what
lies beside the edge by no more than that is taken to lie on it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from mapper.late import Late
from mapper.surface.filled import Plane, plane_of
from mapper.surface.skin import Skin

if TYPE_CHECKING:
    from mapper.surface import walk
else:
    # numba is slow to load, and sheets that lie flat need none of it.
    walk = Late("mapper.surface.walk")

Array = NDArray[np.float64]
Ints = NDArray[np.int32]


@dataclass(frozen=True, eq=False)
class Pieces:
    """Lines cut at the edges of a skin's triangles, in the order they run, each part once.

    triangle (P,); segment (P,): number of the point of the input array where the piece's segment
    starts; shares (P, 2, 3): barycentric shares of both ends.
    """

    triangle: Ints
    segment: Ints
    shares: Array


def trace_all(skin: Skin, lines: Array, firsts: Ints, beside: float) -> Pieces:
    """Cut polylines at the edges of the skin's triangles; what lies off the sheet is left out.

    lines (K, 2) flat mm; firsts (L + 1,): where each polyline begins, and K. Points must lie in the
    plane's box. beside: mm; what is this near to the sheet's edge counts as on it.
    """
    plane = plane_of(skin)
    lines = np.ascontiguousarray(lines)
    triangle, segment, shares = walk.pieces(
        plane.corners, plane.across, plane.seeds, plane.frame, lines, firsts
    )
    on = triangle < plane.own
    pieces = [Pieces(triangle[on], segment[on], shares[on])]
    if not np.all(on):
        off = plane.tri[triangle[~on]]
        ends = np.einsum("pec,pcd->ped", shares[~on], plane.xy[off])
        pieces.append(_beside(plane, segment[~on], ends, beside))
    return _once(plane, lines, pieces)


def _beside(plane: Plane, segment: Ints, ends: Array, beside: float) -> Pieces:
    """What of pieces off the sheet (ends (P, 2, 2), flat mm) lies beside its edge, at the feet on
    that edge, in the sheet's triangle there. Where two edges meet it may come twice."""
    sheet, edge = np.nonzero(~_within(plane.across[: plane.own] >> 2, plane.own))
    p, q = (plane.tri[sheet, (edge + k) % 3] for k in (1, 2))
    tree = shapely.STRtree(shapely.linestrings(plane.xy[np.stack([p, q], axis=1)]))
    piece, rim = tree.query(shapely.linestrings(ends), predicate="dwithin", distance=beside)
    sheet, p, q, ends = sheet[rim], p[rim], q[rim], ends[piece]
    side = plane.xy[q] - plane.xy[p]
    square = np.sum(side * side, axis=1)[:, None]
    out = ends - plane.xy[p][:, None]
    foot = np.einsum("pec,pc->pe", out, side) / square
    gap = out[..., 1] * side[:, None, 0] - out[..., 0] * side[:, None, 1]
    gap = gap / np.sqrt(square)
    # Shares of the piece between which it lies before the edge and near it: all are linear.
    low, high = np.zeros(len(foot)), np.ones(len(foot))
    for first, last in (foot.T, (1.0 - foot).T, (beside - gap).T, (beside + gap).T):
        with np.errstate(divide="ignore", invalid="ignore"):
            zero = first / (first - last)
        low = np.where(first < 0.0, np.where(last > 0.0, np.fmax(low, zero), np.inf), low)
        high = np.where((last < 0.0) & (first >= 0.0), np.fmin(high, zero), high)
    rows = np.flatnonzero(high > low)
    cuts = np.stack([low[rows], high[rows]], axis=1)
    at = (1.0 - cuts) * foot[rows, :1] + cuts * foot[rows, 1:]
    at = np.clip(at, 0.0, 1.0)[..., None]
    corners = plane.tri[sheet[rows]][:, None]
    shares = (1.0 - at) * (corners == p[rows, None, None]) + at * (corners == q[rows, None, None])
    return Pieces(sheet[rows].astype(np.int32), segment[piece[rows]], shares)


def _within(triangle: Ints, own: int) -> NDArray[np.bool_]:
    return (triangle >= 0) & (triangle < own)


def _once(plane: Plane, lines: Array, found: list[Pieces]) -> Pieces:
    """Each part of a line once, in the order it runs.

    Where a line runs along an edge of triangles, or through a tip where many meet, the place at
    which it changes over from one to the other is known to rounding only: a piece may run back or
    beyond the segment's end, and another one lies on it.
    """
    triangle = np.concatenate([p.triangle for p in found])
    segment = np.concatenate([p.segment for p in found])
    shares = np.concatenate([p.shares for p in found])
    ends = np.einsum("pec,pcd->ped", shares, plane.xy[plane.tri[triangle]])
    start = lines[segment]
    way = lines[segment + 1] - start
    square = np.sum(way * way, axis=1)
    along = np.einsum("pec,pc->pe", ends - start[:, None], way)
    along /= np.where(square > 0.0, square, 1.0)[:, None]
    # Numbers of segments before shares of them: one running maximum serves all segments.
    low, high = (segment + np.clip(a, 0.0, 1.0) for a in (along.min(axis=1), along.max(axis=1)))
    order = np.argsort(low, kind="stable")
    reach = np.maximum.accumulate(high[order])
    begin = low[order]
    begin[1:] = np.maximum(begin[1:], reach[:-1])
    left = high[order] > begin
    rows = order[left]
    cuts = np.stack([begin[left], high[rows]], axis=1) - segment[rows, None]
    first, last = along[rows, :1], along[rows, 1:]
    share = np.clip((cuts - first) / (last - first), 0.0, 1.0)[..., None]
    both = shares[rows]
    return Pieces(triangle[rows], segment[rows], (1.0 - share) * both[:, :1] + share * both[:, 1:])
