"""Which triangle of a flat map holds a point: the middles that are nearest are asked first.

A tree of polygons answers the same, ten times slower; it is left for what the middles do not tell
(long thin triangles), and is made only then.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from mapper.late import Late

if TYPE_CHECKING:
    from scipy import spatial
else:
    spatial = Late("scipy.spatial")

Array = NDArray[np.float64]
Numbers = NDArray[np.int64]

ASKED = 10  # triangles whose middles are nearest to a point
ON = -1e-9  # least share of each corner for a point that a triangle holds
MANY = 4000  # points at a time


class Finder:
    """Finds triangles: corners (M, 3, 2) flat mm, counter-clockwise or not, none without area;
    ring (K, 2): the outline of them all, its side k from point k to the next; beside (K,): the
    triangle that has that side."""

    def __init__(self, corners: Array, ring: Array, beside: Numbers) -> None:
        self.corners, self.ring, self.beside = corners, ring, beside

    @cached_property
    def _middles(self) -> spatial.cKDTree:
        return spatial.cKDTree(self.corners.mean(axis=1))

    @cached_property
    def _polygons(self) -> shapely.STRtree:
        return shapely.STRtree(shapely.polygons(self.corners))

    @cached_property
    def _outline(self) -> shapely.Polygon:
        outline = shapely.Polygon(self.ring)
        shapely.prepare(outline)
        return outline

    @cached_property
    def _sides(self) -> shapely.STRtree:
        return shapely.STRtree(
            shapely.linestrings(np.stack([self.ring, np.roll(self.ring, -1, axis=0)], axis=1))
        )

    def shares(self, found: Numbers, flat: Array) -> Array:
        """(..., 2) the shares of the second and third corner of triangles (...) at points (..., 2);
        outside a triangle one of the three shares is below 0."""
        corner = self.corners[found]
        one, two = corner[..., 1, :] - corner[..., 0, :], corner[..., 2, :] - corner[..., 0, :]
        rest = flat - corner[..., 0, :]
        double = one[..., 0] * two[..., 1] - one[..., 1] * two[..., 0]
        b1 = (rest[..., 0] * two[..., 1] - rest[..., 1] * two[..., 0]) / double
        b2 = (one[..., 0] * rest[..., 1] - one[..., 1] * rest[..., 0]) / double
        return np.stack([b1, b2], axis=-1)

    def holding(self, flat: Array, reach: float = np.inf) -> Numbers:
        """(K,) the triangle that holds each flat point (K, 2), else the one beside the nearest
        place of the outline; -1 for points more than `reach` mm outside."""
        parts = [self._holding(flat[k : k + MANY], reach) for k in range(0, len(flat), MANY)]
        return np.concatenate(parts) if parts else np.zeros(0, np.int64)

    def _holding(self, flat: Array, reach: float) -> Numbers:
        asked = min(ASKED, len(self.corners))
        near = self._middles.query(flat, asked)[1].reshape(len(flat), asked).astype(np.int64)
        share = self.shares(near, flat[:, None])
        least = np.minimum(share.min(axis=-1), 1.0 - share.sum(axis=-1))
        best = np.argmax(least, axis=1)
        rows = np.arange(len(flat))
        found: Numbers = near[rows, best]
        lost = np.flatnonzero(least[rows, best] < ON)
        if len(lost) == 0:
            return found
        inner = shapely.contains_xy(self._outline, flat[lost])
        within = lost[inner]
        if len(within):
            found[within] = self._polygons.nearest(shapely.points(flat[within]))
        outer = lost[~inner]
        found[outer] = -1
        limit = None if np.isinf(reach) else reach
        one, side = self._sides.query_nearest(
            shapely.points(flat[outer]), max_distance=limit, all_matches=False
        )
        found[outer[one]] = self.beside[side]
        return found
