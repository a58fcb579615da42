"""The frame of one flat map: what part of which sheet is drawn, how it is turned, at what scale."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from shapely import MultiLineString, MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry

from mapper.drawing.display import View
from mapper.drawing.grid import length_unit
from mapper.drawing.kept import kept
from mapper.drawing.pad import FINE, Pad
from mapper.drawing.style import style
from mapper.drawing.view import sheet_of, sides_of, view_of
from mapper.errors import MapperError
from mapper.job.entry import Entry
from mapper.surface.geometry import Geometry
from mapper.surface.skin import Chart, Skin

# Paper kept free round the sheet for grid labels and the names of the sides, mm.
LEFT, RIGHT, ABOVE, BELOW = 15.0, 12.0, 5.5, 5.5


DENSE = 400  # points of a shape from which thinning it is worth while


def edge_line(chart: Chart, edge: str) -> MultiLineString:
    """One side ("s0", "s1", "t0", "t1") of a chart's parameter rectangle on the flat map."""
    lines = chart.patch.s_lines if edge[0] == "s" else chart.patch.t_lines
    across = chart.patch.t_lines if edge[0] == "s" else chart.patch.s_lines
    fixed = float(lines[0] if edge[1] == "0" else lines[-1])
    run = np.unique(np.concatenate([np.linspace(across[0], across[-1], 257), across]))
    param = np.stack([np.full_like(run, fixed), run], axis=1)
    return MultiLineString([chart.flat_map.to_flat(param if edge[0] == "s" else param[:, ::-1])])


def polygons_of(shape: BaseGeometry) -> MultiPolygon:
    parts = [p for p in shapely.get_parts(shape) if p.geom_type == "Polygon" and p.area > 0]
    return MultiPolygon(parts)


def step_of(scale: float) -> float:
    """How far (flat mm) what is drawn at a scale may lie from its true line: below a hundredth of
    FINE on paper, so that shares of areas are not touched by it; a power of two, so that drawings
    of nearly one scale share what they thin."""
    return float(2.0 ** np.floor(np.log2(FINE * scale / 128)))


def thinned(owner: object, key: Hashable, step: float, make: Callable[[], BaseGeometry]) -> Any:
    """A shape that belongs to an owner, without the points that nobody can see are missing; thinned
    once for all drawings of one step. One with few points stays as it is."""

    def thin() -> BaseGeometry:
        shape = make()
        if shapely.count_coordinates(shape) < DENSE:
            return shape
        found = shapely.simplify(shape, step)
        return shape if found.is_empty else found

    return kept(owner, ("thinned", key, step), thin)


def window_of(whole: MultiPolygon, region: MultiPolygon | None) -> BaseGeometry:
    """The box that is drawn: the whole sheet, or a region with a margin."""
    if region is None or region.is_empty:
        return box(*whole.bounds)
    x0, y0, x1, y1 = region.bounds
    edge = 0.06 * max(x1 - x0, y1 - y0)
    a0, b0, a1, b1 = whole.bounds
    return box(max(x0 - edge, a0), max(y0 - edge, b0), min(x1 + edge, a1), min(y1 + edge, b1))


def _holes(geometry: Geometry, skin: Skin) -> BaseGeometry:
    openings = [o.flat for o in geometry.openings if o.skin == skin.name]
    return shapely.union_all(openings, grid_size=1e-4) if openings else MultiPolygon()


def _extent(view: View, window: BaseGeometry) -> tuple[float, float]:
    """Width and height of a window as it is turned on paper, flat mm."""
    x0, y0, x1, y1 = window.bounds
    wide, tall = np.ptp(view.turn([[x0, y0], [x1, y1]]), axis=0)
    return float(wide), float(tall)


def _glued(skin: Skin, step: float) -> list[tuple[MultiLineString, int]]:
    """The chart edges that are one line on the part with another, with the number of the pair."""
    return [
        (shapely.simplify(edge_line(skin.charts[chart], edge), step), number)
        for number, glue in enumerate(skin.glue)
        for chart, edge in ((glue.chart_a, glue.edge_a), (glue.chart_b, glue.edge_b))
    ]


class Frame:
    """One drawing in the making: the sheet in its window, its openings and metal, and the pad."""

    def __init__(
        self,
        geometry: Geometry,
        skin: Skin,
        face: str,
        region: MultiPolygon | None,
        units: str,
        paper: tuple[float, float],
        scale: float | None,
    ) -> None:
        self.geometry, self.skin, self.face = geometry, skin, face
        self.unit = length_unit(units)
        self.view = view_of(geometry, skin, face)
        self.region = region
        whole = sheet_of(skin)
        wide, tall = _extent(self.view, window_of(whole, region))
        if scale is None:
            edge = 2 * float(style().layout["margin"])
            scale = max(wide / (paper[0] - LEFT - RIGHT - edge), tall / paper[1])
        # Sheets and outlines come dense enough to measure on: all that is drawn is thinned first.
        self.step = step = step_of(scale)
        whole = thinned(skin, "sheet", step, lambda: sheet_of(skin))
        self.rim = whole.boundary
        self.window = window_of(whole, region)
        self.sheet = whole
        if region is not None and not region.is_empty:
            self.sheet = polygons_of(shapely.intersection(whole, self.window))
        if self.sheet.is_empty:
            raise MapperError(
                f"The region asked for lies off the sheet of skin {skin.name!r}.",
                "A region on the sheet can be drawn.",
            )
        holes = kept(geometry, ("holes", skin.name), lambda: _holes(geometry, skin))
        self.openings = polygons_of(shapely.intersection(holes, self.sheet))
        self.metal = polygons_of(shapely.difference(self.sheet, self.openings, grid_size=1e-4))
        x0, y0, x1, y1 = self.window.bounds
        corners = self.view.turn([[x0, y0], [x1, y1]])
        self.low, self.high = corners.min(axis=0), corners.max(axis=0)
        edges = kept(skin, ("edges", step), lambda: _glued(skin, step))
        self.edges = [(shapely.intersection(line, self.window), number) for line, number in edges]
        glue = shapely.union_all([line for line, _ in edges]) if edges else MultiLineString()
        glue = glue if isinstance(glue, MultiLineString) else MultiLineString([glue])
        # Wide enough for what thinning leaves between a rim and the edge of its chart.
        self.hair = 0.05 + 3 * step
        self.pad = Pad(self.view, float(scale), glue, self.hair)
        self.sides = sides_of(geometry, skin)

    def drawn(self, entry: Entry) -> BaseGeometry:
        """The outline of an entry, thinned; an entry without one is not asked."""
        outline = entry.outline
        if outline is None:
            return MultiPolygon()
        return thinned(outline, "outline", self.step, lambda: outline.shape)

    @cached_property
    def goal(self) -> MultiPolygon:
        """The metal that the drawing is about: of the region asked for, or of all that is drawn."""
        if self.region is None or self.region.is_empty:
            return self.metal
        region = shapely.simplify(self.region, self.step)
        return polygons_of(shapely.intersection(region, self.metal, grid_size=1e-4))

    def wide(self, shape: BaseGeometry) -> MultiPolygon:
        """The polygons of a shape that are more than a hair between two thinned outlines."""
        parts = polygons_of(shape).geoms
        cores = shapely.buffer(list(parts), -2 * self.step, quad_segs=1) if len(parts) else []
        return MultiPolygon([p for p, core in zip(parts, cores, strict=True) if not core.is_empty])

    def cut(self, shape: BaseGeometry) -> BaseGeometry:
        """What of a shape lies in the drawn window."""
        return shapely.intersection(shape, self.window)

    def around(self, edge: float = 4.0) -> Polygon:
        """The window in view coordinates with `edge` mm of paper round it."""
        return box(*self.low, *self.high).buffer(self.pad.mm(edge), join_style="mitre")
