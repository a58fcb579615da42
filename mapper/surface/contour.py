"""Where on a sheet a smooth value is at least so much, as regions of the flat plane."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon

from mapper.surface.clip import clean
from mapper.surface.finer import SHORT, Fine

Array = NDArray[np.float64]

GRID = 1e-3  # mm: corners of contours lie on this grid


def above(fine: Fine, values: Array, level: float) -> MultiPolygon:
    """The region of the flat plane where values (N,), straight between corners, reach a level.

    Ends at the triangles' own edge, which a curved rim leaves by less than its sagitta. Values that
    are no numbers are below every level. Nothing above: an empty region.
    """
    over = np.nan_to_num(np.asarray(values, np.float64), nan=-np.inf)[fine.vertex] - level
    inside = over >= 0.0
    many = inside.sum(axis=1)
    flat = np.round(fine.flat / GRID) * GRID
    parts = [shapely.polygons(flat[many == 3])]
    for count in (1, 2):
        rows = np.flatnonzero(many == count)
        # Turned so that corner 0 is alone on its side of the level.
        alone = np.argmax(inside[rows] == (count == 1), axis=1)
        turn = (alone[:, None] + np.arange(3)) % 3
        spot = rows[:, None]
        at, value, name = flat[spot, turn], over[spot, turn], fine.vertex[spot, turn]
        cut = [_crossing(at, value, name, k) for k in (1, 2)]
        ring = [at[:, 0], *cut] if count == 1 else [cut[0], at[:, 1], at[:, 2], cut[1]]
        if len(rows):
            parts.append(shapely.polygons(np.stack(ring, axis=1)))
    pieces = np.concatenate(parts)
    pieces = pieces[shapely.is_valid(pieces) & (shapely.area(pieces) > 0.0)]
    if not len(pieces):
        return MultiPolygon()
    united = _united(pieces)
    closed = united.buffer(2 * SHORT, join_style="mitre").buffer(-2 * SHORT, join_style="mitre")
    return clean(closed)


def _united(pieces: NDArray[np.object_]) -> shapely.Geometry:
    """Pieces in one. They share their corners to the bit but where an opening's cut, or rounding a
    very small triangle, made two corners one; then by the slower way, which bears overlaps."""
    try:
        united = shapely.coverage_union_all(pieces)
    except shapely.errors.GEOSException:  # "incorrectly noded": some pieces overlap
        united = None
    if united is None or not united.is_valid:
        united = shapely.union_all(pieces, grid_size=GRID)
    return united


def _crossing(at: Array, value: Array, name: NDArray[np.int32], k: int) -> Array:
    """Where the level crosses the side from corner 0 to corner k, worked out the same way from
    both triangles at it: from the corner with the lower number."""
    first = (name[:, 0] <= name[:, k])[:, None]
    p, q = np.where(first, at[:, 0], at[:, k]), np.where(first, at[:, k], at[:, 0])
    a = np.where(first[:, 0], value[:, 0], value[:, k])
    b = np.where(first[:, 0], value[:, k], value[:, 0])
    low = np.isinf(a) | np.isinf(b)
    share = np.where(low, np.where(np.isinf(a), 1.0, 0.0), a / np.where(a == b, 1.0, a - b))
    return np.asarray(np.round((p + share[:, None] * (q - p)) / GRID) * GRID)
