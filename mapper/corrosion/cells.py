"""Equal cells on the flat map: what shares and clumping are counted in.

A share of affected *area* has no exact interval: neighbouring places of a sheet are not independent
draws. Equal square cells come nearer to it, and the same cells show whether findings clump.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry


@dataclass(frozen=True)
class CellCounts:
    """cells: wholly inspected ones; affected: those a finding lies in or reaches into; findings:
    how many lie in each, by a point inside them, so that each is in one cell at most."""

    cells: int
    affected: int
    findings: tuple[int, ...]


def count_cells(
    region: MultiPolygon, inspected: MultiPolygon, shapes: list[BaseGeometry], side: float
) -> CellCounts:
    """Cells of `side` mm laid from the lower left corner of a panel's region (flat mm), of which
    only those wholly inside the inspected area count. None fits: zeros."""
    if region.is_empty or inspected.is_empty:
        return CellCounts(0, 0, ())
    x0, y0, x1, y1 = region.bounds
    columns, rows = int((x1 - x0) // side) + 1, int((y1 - y0) // side) + 1
    left, low = np.meshgrid(x0 + side * np.arange(columns), y0 + side * np.arange(rows))
    boxes = shapely.box(left.ravel(), low.ravel(), left.ravel() + side, low.ravel() + side)
    # Outlines lie on a grid of 1e-4 mm: a cell along an edge must not fall out for that.
    within = shapely.buffer(inspected, 1e-3)
    shapely.prepare(within)
    inside = shapely.covers(within, boxes)
    if not inside.any():
        return CellCounts(0, 0, ())
    numbers = np.flatnonzero(inside)
    affected: set[int] = set()
    counts = dict.fromkeys(numbers.tolist(), 0)
    tree = shapely.STRtree(boxes[numbers])
    for shape in shapes:
        affected.update(numbers[tree.query(shape, predicate="intersects")].tolist())
        at = shapely.point_on_surface(shape)
        cell = int((at.y - y0) // side) * columns + int((at.x - x0) // side)
        if cell in counts:
            counts[cell] += 1
    return CellCounts(len(numbers), len(affected), tuple(counts.values()))
