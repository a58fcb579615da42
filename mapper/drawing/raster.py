"""The raster pen: a display list as pixels, by matplotlib's Agg and one packaged font."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.colors import to_rgb
from matplotlib.path import Path as MplPath
from matplotlib.transforms import Affine2D
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from mapper.drawing.display import DisplayList, Dot, Fill, Hatch, Label, Stroke
from mapper.drawing.marks import mark_paths
from mapper.drawing.style import style
from mapper.drawing.text import outline_of
from mapper.errors import MapperError

Pixels = NDArray[np.uint8]

# Agg counts pixels in 16 bits; more than this in all would need gigabytes.
LONGEST_SIDE = 16_384
MOST_PIXELS = 120_000_000
# Thinner lines than this would fade instead of getting thinner.
THINNEST = 0.75


def shape_path(shape: BaseGeometry) -> MplPath:
    """One path of all rings of a polygon or multipolygon, holes running the other way."""
    vertices, codes = [], []
    for part in shapely.get_parts(shape):
        if part.geom_type != "Polygon":
            continue
        polygon = orient(part)
        for ring in (polygon.exterior, *polygon.interiors):
            xy = shapely.get_coordinates(ring)
            code = np.full(len(xy), MplPath.LINETO, dtype=np.uint8)
            code[0], code[-1] = MplPath.MOVETO, MplPath.CLOSEPOLY
            vertices.append(xy)
            codes.append(code)
    if not vertices:
        return MplPath(np.zeros((0, 2)))
    return MplPath(np.concatenate(vertices), np.concatenate(codes))


class _Pen:
    """Draws items with a renderer; `to_paper` takes flat mm to pixels."""

    def __init__(self, drawing: DisplayList, width: int, height: int, per_mm: float) -> None:
        self.drawing = drawing
        self.renderer = RendererAgg(width, height, 72)
        self.per_mm = per_mm
        self.paper = per_mm * drawing.scale  # pixels per mm on paper
        self.style = style()
        self.flat = Affine2D()

    def context(self, line: str, width: float, dash: tuple[float, ...] = (), cap: str = "butt"):
        context = self.renderer.new_gc()
        context.set_foreground(to_rgb(line))
        context.set_linewidth(max(width * self.paper, THINNEST))
        context.set_capstyle("round" if dash and min(dash) < width else cap)
        context.set_joinstyle("round")
        if dash:
            context.set_dashes(0, [v * self.paper for v in dash])
        return context

    def path(self, context, path: MplPath, transform, face=None) -> None:
        if len(path.vertices):
            self.renderer.draw_path(context, path, transform, face)
        context.restore()

    def area(self, path: MplPath, transform, fill: str, opacity: float = 1.0) -> None:
        context = self.renderer.new_gc()
        context.set_linewidth(0.0)
        context.set_alpha(opacity)
        self.path(context, path, transform, (*to_rgb(fill), opacity))

    def stroke(self, item: Stroke) -> None:
        token = self.style.token(item.style)
        points = np.concatenate([item.points, item.points[:1]]) if item.closed else item.points
        codes = np.full(len(points), MplPath.LINETO, dtype=np.uint8)
        codes[0] = MplPath.MOVETO
        if item.closed:
            codes[-1] = MplPath.CLOSEPOLY
        context = self.context(token.line, token.width, token.dash)
        self.path(context, MplPath(points, codes), self.flat)

    def fill(self, item: Fill) -> None:
        token = self.style.token(item.style)
        if token.fill:
            self.area(shape_path(item.shape), self.flat, token.fill, token.opacity)

    def hatch(self, item: Hatch) -> None:
        token = self.style.token(item.style)
        # Many short paths: Agg's cell memory ends with one path of all lines of a large hatch.
        for begin in range(0, len(item.lines), 500):
            xy = item.lines[begin : begin + 500].reshape(-1, 2)
            codes = np.tile([MplPath.MOVETO, MplPath.LINETO], len(xy) // 2).astype(np.uint8)
            self.path(self.context(token.line, item.width), MplPath(xy, codes), self.flat)

    def upright(self, at: tuple[float, float], angle: float = 0.0) -> Affine2D:
        x, y = self.flat.transform(at)
        return Affine2D().scale(self.per_mm).rotate_deg(angle).translate(x, y)

    def label(self, item: Label) -> None:
        path = outline_of(item.text, item.size, anchor=item.anchor, bold=item.bold)
        where = self.upright(item.at, item.angle)
        if item.halo:
            halo = self.style.token("halo")
            context = self.context(halo.fill, halo.width)
            self.path(context, path, where, to_rgb(halo.fill))
        self.area(path, where, self.style.token(item.style).line)

    def dot(self, item: Dot) -> None:
        token = self.style.token(item.style)
        where = self.upright(item.at)
        for closed, points in mark_paths(item.mark, item.size):
            codes = np.full(len(points), MplPath.LINETO, dtype=np.uint8)
            codes[0] = MplPath.MOVETO
            if closed:
                codes[-1] = MplPath.CLOSEPOLY
            path = MplPath(points, codes)
            halo = self.context(self.style.token("halo").fill, token.width * 2.6, cap="round")
            self.path(halo, path, where, to_rgb(token.fill or "#ffffff") if closed else None)
            self.path(self.context(token.line, token.width, cap="round"), path, where)


def to_pixels(
    drawing: DisplayList,
    pixels_per_mm: float | None = None,
    *,
    width: int | None = None,
    layers: Iterable[str] | None = None,
    bounds: tuple[float, float, float, float] | None = None,
    background: str | None = "#ffffff",
) -> Pixels:
    """The drawing as (H, W, 4) RGBA pixels, row 0 at the top, turned as its view says.

    pixels_per_mm: pixels per flat mm, or `width` in pixels instead. layers: None for all, or some
    of display.LAYERS (TEXTURE_LAYERS for a texture). bounds: flat mm, the drawing's own by default;
    sheet_bounds for a texture. background: None leaves it clear.
    MapperError where the picture would be larger than this pen can draw.
    """
    x0, y0, x1, y1 = bounds or drawing.bounds
    if (pixels_per_mm is None) == (width is None):
        raise MapperError(
            f"pixels_per_mm {pixels_per_mm} and width {width}.",
            "Exactly one of them sets the size.",
        )
    per_mm = float(pixels_per_mm) if pixels_per_mm is not None else float(width or 0) / (x1 - x0)
    if not (np.isfinite(per_mm) and per_mm > 0):
        raise MapperError(f"{per_mm} pixels per mm.", "It is above 0.")
    wide, high = max(1, round((x1 - x0) * per_mm)), max(1, round((y1 - y0) * per_mm))
    if max(wide, high) > LONGEST_SIDE or wide * high > MOST_PIXELS:
        raise MapperError(
            f"A picture of {wide:,} x {high:,} pixels was asked for.",
            f"At most {LONGEST_SIDE:,} a side and {MOST_PIXELS:,} in all can be drawn.",
            "Ask for fewer pixels per mm.",
        )
    pen = _Pen(drawing, wide, high, per_mm)
    view = drawing.view
    left = min(view.x * x0, view.x * x1)
    low = min(view.y * y0, view.y * y1)
    # Agg's y runs up from the bottom; the exact ratio is kept on both sides of the rounding.
    pen.flat = (
        Affine2D()
        .scale(view.x, view.y)
        .translate(-left, -low)
        .scale(wide / (x1 - x0), high / (y1 - y0))
    )
    if background is not None:
        sheet = MplPath([[0, 0], [wide, 0], [wide, high], [0, high], [0, 0]], closed=True)
        pen.area(sheet, Affine2D(), background)
    draw = {Stroke: pen.stroke, Fill: pen.fill, Hatch: pen.hatch, Label: pen.label, Dot: pen.dot}
    for item in drawing.on(layers):
        draw[type(item)](item)
    return np.array(pen.renderer.buffer_rgba(), dtype=np.uint8)
