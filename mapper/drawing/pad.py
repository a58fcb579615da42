"""The pad a drawing is made on: turns shapes into strokes, fills and hatches."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import ArrayLike
from shapely import MultiLineString
from shapely.affinity import scale as stretch
from shapely.geometry.base import BaseGeometry

from mapper.drawing.display import Dot, Fill, Hatch, Item, Label, LegendRow, Stroke, View
from mapper.drawing.hatch import hatch_lines
from mapper.drawing.labels import Placer, Spot
from mapper.drawing.style import Style, style

# A twentieth of a thin line's width, mm on paper.
FINE = 0.01


@dataclass(eq=False)
class Pad:
    """Items so far. scale: flat mm per mm on paper. glue: lines where outlines are not drawn,
    because the sheet goes on there in another chart. hair: flat mm within which an outline lies on
    such a line, more than the rim's own sagitta and the .0001 mm grid, far below a line's width."""

    view: View
    scale: float
    glue: MultiLineString = field(default_factory=MultiLineString)
    hair: float = 0.05
    style: Style = field(default_factory=style)
    items: list[Item] = field(default_factory=list)
    rows: list[LegendRow] = field(default_factory=list)
    placer: Placer = field(default_factory=Placer)

    def __post_init__(self) -> None:
        self._no_line = self.glue.buffer(self.hair, quad_segs=2) if not self.glue.is_empty else None

    def mm(self, paper: float) -> float:
        """mm on paper as flat mm."""
        return paper * self.scale

    def size(self, name: str) -> float:
        """A text size as flat mm."""
        return self.style.text[name] * self.scale

    def gap(self, name: str) -> float:
        """A distance of the layout as flat mm."""
        return float(self.style.layout[name]) * self.scale

    def thin(self, shape: BaseGeometry) -> BaseGeometry:
        """A shape without the points that nobody can see are missing on paper.

        Outlines come dense enough to measure on; drawn, they need far fewer.
        """
        thin = shapely.simplify(shape, FINE * self.scale)
        return shape if thin.is_empty else thin

    def fill(self, shape: BaseGeometry, token: str, layer: str) -> None:
        """Fill an area, if there is any."""
        if not shape.is_empty and shape.area > 0:
            self.items.append(Fill(shape, token, layer))

    def hatch(self, shape: BaseGeometry, token: str, layer: str) -> None:
        """All hatch families of a token inside an area."""
        for family in self.style.token(token).hatch:
            lines = hatch_lines(shape, family, self.scale, self.view)
            if len(lines):
                self.items.append(Hatch(lines, token, layer, family.width))

    def lines(self, shape: BaseGeometry, token: str, layer: str) -> None:
        """Every line in a shape as a stroke."""
        if shape.is_empty:
            return
        if shape.geom_type in ("MultiLineString", "GeometryCollection"):
            parts = [
                p for p in shapely.get_parts(shape) if p.geom_type in ("LineString", "LinearRing")
            ]
            merged = shapely.line_merge(shapely.multilinestrings(parts)) if parts else shape
            parts = list(shapely.get_parts(merged))
        else:
            parts = [shape]
        for part in parts:
            xy = shapely.get_coordinates(part)
            if len(xy) > 1:
                closed = bool((xy[0] == xy[-1]).all()) and len(xy) > 3
                self.items.append(Stroke(xy[:-1] if closed else xy, token, layer, closed))

    def outline(self, shape: BaseGeometry, token: str, layer: str) -> None:
        """The boundary of an area, left open where the sheet goes on in another chart."""
        boundary = shape.boundary
        if self._no_line is not None:
            boundary = shapely.difference(boundary, self._no_line)
        self.lines(boundary, token, layer)

    def area(self, shape: BaseGeometry, token: str, layer: str) -> None:
        """Fill, hatch and outline."""
        self.fill(shape, token, layer)
        shape = self.thin(shape)
        self.hatch(shape, token, layer)
        self.outline(shape, token, layer)

    def dot(self, at: ArrayLike, token: str, layer: str = "points") -> None:
        """A mark of readable size at a flat point."""
        x, y = np.asarray(at, dtype=float)
        mark = self.style.token(token).mark
        self.items.append(Dot((float(x), float(y)), self.gap("mark"), mark, token, layer))

    def label(
        self,
        text: str,
        spot: Spot,
        size: float,
        layer: str,
        *,
        token: str = "title",
        bold: bool = False,
        halo: bool = True,
    ) -> None:
        """Text at a spot given in view coordinates."""
        x, y = self.view.turn([spot.at])[0]
        at = (float(x), float(y))
        self.items.append(Label(text, at, size, token, layer, spot.angle, spot.anchor, bold, halo))

    def seen(self, shape: BaseGeometry) -> BaseGeometry:
        """A flat shape in view coordinates, or one in view coordinates as flat."""
        return stretch(shape, self.view.x, self.view.y, origin=(0, 0))

    def row(self, text: str, token: str, count: int = 0, sample: str = "area") -> None:
        """A line of the legend."""
        self.rows.append(LegendRow(text, token, count, sample))
