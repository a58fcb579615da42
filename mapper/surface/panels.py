"""Cutting a skin into cells by lines: panels by seams, bays by ribs and spars."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.surface.clip import GRID, clean, finite, sheets
from mapper.surface.edges import glued_edges, spans_on
from mapper.surface.skin import Skin

Array = NDArray[np.float64]

REACH = 0.05  # mm: a line that stops this short of an edge or of another line is meant to meet it
THIN = 2e-3  # mm: a cell narrower than this is rounding beside a line, and goes to its neighbour
SHORTEST = 1.0  # mm of common chart edge that make two cells one


def cut_by_lines(skin: Skin, lines: Sequence[BaseGeometry]) -> tuple[MultiPolygon, ...]:
    """The cells into which lines cut a skin, in order along the flat map (outboard, then aft).

    lines: LineString or MultiLineString in flat mm, in any chart. Each line is made .05 mm longer
    at both ends first, so one that stops short by rounding still cuts; a line that ends inside a
    cell cuts nothing there. Cells that meet across a glued chart edge are one cell, unless a line
    runs along that edge. Without lines the whole skin is one cell (or one for each piece of it that
    hangs together). Openings are not taken off: `on_sheet` does that. Raises MapperError for other
    shapes and for coordinates that are no numbers.
    """
    paths = []
    for line in lines:
        finite(line)
        if line.geom_type not in ("LineString", "LinearRing", "MultiLineString"):
            raise MapperError(
                f"A {line.geom_type} was given to cut along.", "Lines in flat mm are allowed."
            )
        paths += [_longer(p) for p in shapely.get_parts(line) if p.length > 0]
    cells: list[Polygon] = []
    for sheet in sheets(skin):
        cells += _chart_cells(sheet, paths)
    return tuple(sorted((clean(g) for g in _united(skin, cells, paths)), key=_place))


def _longer(line: BaseGeometry) -> LineString:
    """A line made REACH mm longer at both ends, straight on; a closed one as it is."""
    points = shapely.get_coordinates(line)
    if np.array_equal(points[0], points[-1]):
        return LineString(points)
    first, last = points[0] - points[1], points[-1] - points[-2]
    for end, way in ((0, first), (-1, last)):
        size = float(np.hypot(*way))
        if size > 0:
            points[end] = points[end] + way * (REACH / size)
    return LineString(points)


def _chart_cells(sheet: Polygon, paths: list[LineString]) -> list[Polygon]:
    near = [p for p in paths if sheet.intersects(p)]
    if not near:
        return [sheet]
    noded = shapely.union_all([sheet.boundary, *near], grid_size=GRID)
    found = shapely.get_parts(shapely.polygonize(list(shapely.get_parts(noded))))
    inside = [c for c in found if sheet.covers(c.representative_point())]
    return _without_slivers(inside)


def _without_slivers(cells: list[Polygon]) -> list[Polygon]:
    """Cells, those narrower than THIN joined to the neighbour they share most edge with."""
    thin = 2 * shapely.area(cells) <= THIN * shapely.length(cells)
    kept = [c for c, narrow in zip(cells, thin) if not narrow]
    left = [c for c, narrow in zip(cells, thin) if narrow]
    # A sliver may lie behind another one: as long as any is joined, the rest are looked at again.
    while kept and left:
        sliver, cell = shapely.STRtree(kept).query(left, predicate="intersects")
        edges = shapely.boundary(kept)
        shapely.prepare(edges)
        shared = shapely.length(shapely.intersection(edges[cell], shapely.boundary(left)[sliver]))
        joining: dict[int, list[Polygon]] = {}
        after: list[Polygon] = []
        for k, one in enumerate(left):
            mine = np.flatnonzero((sliver == k) & (shared > 0))
            if len(mine):
                best = mine[int(np.argmax(shared[mine]))]
                joining.setdefault(int(cell[best]), []).append(one)
            else:
                after.append(one)
        for k, slivers in joining.items():
            joined = shapely.union_all([kept[k], *slivers], grid_size=GRID)
            # In the largest piece, should rounding ever leave two.
            kept[k] = max(shapely.get_parts(joined), key=lambda part: float(part.area))
        if not joining:
            break
        left = after
    return kept


def _united(skin: Skin, cells: list[Polygon], paths: list[LineString]) -> list[MultiPolygon]:
    """Cells joined over the glued edges on which no line runs."""
    leader = list(range(len(cells)))

    def lead(k: int) -> int:
        while leader[k] != k:
            leader[k] = leader[leader[k]]
            k = leader[k]
        return k

    every = shapely.MultiLineString(paths) if paths else None
    for edge in glued_edges(skin):
        sides = []
        for line in (edge.here, edge.there):
            path = LineString(line)
            near = np.flatnonzero(shapely.dwithin(cells, path, 5 * GRID)).tolist()
            spans = [(k, spans_on(line, cells[k].boundary, SHORTEST)) for k in near]
            sides.append([(k, s) for k, s in spans if len(s)])
        cuts = (
            [] if every is None else [spans_on(e, every, SHORTEST) for e in (edge.here, edge.there)]
        )
        closed = np.concatenate(cuts) if cuts else np.zeros((0, 2))
        reached = _reached(edge.here)
        for k, mine in sides[0]:
            for other, theirs in sides[1]:
                if _open_length(mine, theirs, closed, reached) > SHORTEST:
                    leader[lead(k)] = lead(other)
    groups: dict[int, list[Polygon]] = {}
    for k, cell in enumerate(cells):
        groups.setdefault(lead(k), []).append(cell)
    return [MultiPolygon(group) for group in groups.values()]


def _reached(line: Array) -> Array:
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])


def _open_length(mine: Array, theirs: Array, closed: Array, reached: Array) -> float:
    """mm of chart edge that two cells share where no line runs."""
    count = np.arange(len(reached))
    total = 0.0
    for a, b in mine.tolist():
        for c, d in theirs.tolist():
            low, high = max(a, c), min(b, d)
            if low >= high:
                continue
            ends = np.interp([low, high], count, reached)
            free = float(ends[1] - ends[0])
            for e, f in closed.tolist():
                if max(low, e) < min(high, f):
                    off = np.interp([max(low, e), min(high, f)], count, reached)
                    free -= float(off[1] - off[0])
            total += free
    return total


def _place(cell: MultiPolygon) -> tuple[float, float]:
    middle = cell.centroid
    return round(float(middle.x), 3), round(float(middle.y), 3)
