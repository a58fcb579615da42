"""From a skin to one of another sort, a wing to its scan: every place goes to the nearest point of
the new surface in space. Both lie in the part's frame."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from mapper.job.carry.through import STEP, chart_at, simple
from mapper.surface.place import flat_at_space, points_of, space_of
from mapper.surface.skin import Skin

Array = NDArray[np.float64]

HALVINGS = 40
OVER = 0.01  # mm: an outline that leaves a chart is drawn so far beyond its rim, to cut it through
REACH = 50.0  # mm: what is farther than that from the new surface is not on it


class ByNearest:
    """Carries flat points and shapes of a skin to the nearest points of another."""

    def __init__(self, old: Skin, new: Skin) -> None:
        self._old, self._new = old, new

    def points(self, flat: Array) -> Array:
        return _nearest(self._old, self._new, points_of(flat))

    def shape(self, shape: BaseGeometry) -> BaseGeometry:
        dimension = int(shapely.get_dimensions(shape))
        if dimension == 0:
            found = self.points(shapely.get_coordinates(shape))
            found = found[np.isfinite(found).all(axis=1)]
            return shapely.MultiPoint(found)
        lines: list[list[BaseGeometry]] = [[] for _ in self._new.charts]
        for line in _lines_of(shape):
            corners = shapely.get_coordinates(shapely.segmentize(line, STEP))
            self._draw(corners, lines)
        if dimension == 1:
            cut = [
                shapely.intersection(shapely.union_all(found), chart.outline)
                for found, chart in zip(lines, self._new.charts)
                if found
            ]
            return simple(shapely.GeometryCollection(cut), 1)
        return simple(shapely.GeometryCollection(self._cells(shape, lines)), 2)

    def _draw(self, corners: Array, lines: list[list[BaseGeometry]]) -> None:
        """Puts the new line through old flat corners on the charts that it crosses."""
        new = self.points(corners)
        good = np.asarray(np.isfinite(new).all(axis=1))
        charts = np.where(good, chart_at(self._new, np.where(good[:, None], new, 0.0)), -1)
        for i in range(len(corners) - 1):
            here, there = int(charts[i]), int(charts[i + 1])
            if here < 0 or there < 0:
                continue
            if here == there:
                lines[here].append(shapely.LineString(new[i : i + 2]))
                continue
            one, other = corners[i], corners[i + 1]
            a, b = new[i], new[i + 1]
            for _ in range(HALVINGS):
                middle = 0.5 * (one + other)
                found = self.points(middle[None])
                if not np.isfinite(found).all():
                    break
                if int(chart_at(self._new, found)[0]) == here:
                    one, a = middle, found[0]
                else:
                    other, b = middle, found[0]
                    there = int(chart_at(self._new, found)[0])
            lines[here].append(self._to_rim(new[i], a, here))
            lines[int(charts[i + 1])].append(self._to_rim(new[i + 1], b, int(charts[i + 1])))

    def _to_rim(self, start: Array, end: Array, number: int) -> BaseGeometry:
        """From a point of a chart by one near its rim to just beyond it."""
        outline = self._new.charts[number].outline
        foot = shapely.get_coordinates(shapely.shortest_line(outline.exterior, shapely.Point(end)))[
            0
        ]
        way = foot - outline_middle(outline, start, foot)
        size = float(np.linalg.norm(way))
        beyond = foot + way / size * OVER if size > 0 else foot
        return shapely.LineString([start, end, foot, beyond])

    def _cells(self, shape: BaseGeometry, lines: list[list[BaseGeometry]]) -> list[BaseGeometry]:
        """The pieces of each chart between the lines whose middle lies in the old shape."""
        found = []
        shapely.prepare(shape)
        for chart, drawn in zip(self._new.charts, lines):
            if drawn:
                net = shapely.union_all([*drawn, chart.outline.exterior])
                cells = list(shapely.get_parts(shapely.polygonize([*shapely.get_parts(net)])))
            else:
                cells = [chart.outline]
            if not cells:
                continue
            inner = shapely.get_coordinates(shapely.point_on_surface(cells))
            back = _nearest(self._new, self._old, inner)
            good = np.isfinite(back).all(axis=1)
            inside = np.zeros(len(cells), dtype=bool)
            inside[good] = np.asarray(shapely.intersects_xy(shape, back[good, 0], back[good, 1]))
            found += [
                shapely.intersection(cell, chart.outline)
                for cell, kept in zip(cells, inside)
                if kept
            ]
        return [shapely.union_all(found)] if found else []


def outline_middle(outline: BaseGeometry, start: Array, foot: Array) -> Array:
    """Where a line to the rim comes from: its start, or the chart's middle where that is there."""
    if float(np.linalg.norm(start - foot)) > OVER:
        return start
    return np.asarray(shapely.get_coordinates(shapely.point_on_surface(outline))[0])


def _nearest(one: Skin, other: Skin, flat: Array) -> Array:
    """Flat points (K, 2) of a skin nearest to flat points (K, 2) of another, NaN beyond reach."""
    result = np.full((len(flat), 2), np.nan)
    space = space_of(one, flat)
    good = np.isfinite(space).all(axis=1)
    if good.any():
        found, far = flat_at_space(other, space[good])
        found[~(far <= REACH)] = np.nan
        result[good] = found
    return result


def _lines_of(shape: BaseGeometry) -> list[BaseGeometry]:
    lines: list[BaseGeometry] = []
    for part in shapely.get_parts(shape):
        if part.geom_type == "Polygon":
            lines += [part.exterior, *part.interiors]
        else:
            lines.append(part)
    return lines
