"""The SVG pen: a display list as one SVG in millimetres, for pages, prints and tracings at 1:1."""

from __future__ import annotations

from collections.abc import Iterable
from xml.sax.saxutils import escape, quoteattr

import numpy as np
import shapely
from matplotlib.path import Path as MplPath
from numpy.typing import ArrayLike, NDArray
from shapely.geometry.base import BaseGeometry

from mapper.drawing.display import DisplayList, Dot, Fill, Hatch, Item, Label, Stroke
from mapper.drawing.marks import mark_paths
from mapper.drawing.style import style
from mapper.drawing.text import HALF_CAP, outline_of, visible
from mapper.errors import MapperError

Array = NDArray[np.float64]

# Sizes in thousandths of a mm, so that a tracing is as large as the part. Points in hundredths of a
# mm on paper, 2540 to the inch: finer than any printer, and short to write.
DIGITS, POINT_DIGITS = 3, 2
# Points nearer than this (mm on paper) to the line of their neighbours are left out: outlines come
# dense enough to measure on, twenty times finer than a drawn line is wide.
FINE = 0.01
_LETTER = {MplPath.MOVETO: "M", MplPath.LINETO: "L", MplPath.CURVE3: "Q", MplPath.CURVE4: "C"}
_LONG = {MplPath.CURVE3: 2, MplPath.CURVE4: 3}


def _number(value: float) -> str:
    text = f"{value:.{DIGITS}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _rounded(xy: Array) -> list[float]:
    """All numbers in a row, rounded; + 0 turns -0 into 0."""
    row: list[float] = (np.round(xy, POINT_DIGITS) + 0.0).ravel().tolist()
    return row


def _points(xy: Array) -> str:
    row = _rounded(xy)
    # .12g writes a rounded number without needless zeros, and without an exponent below 10^12.
    return ("%.12g " * len(row) % tuple(row))[:-1]


class _Writer:
    """Turns items into elements; paper mm, y down from the top left corner."""

    def __init__(self, drawing: DisplayList, scale: float, *, as_paths: bool) -> None:
        self.drawing = drawing
        self.scale = scale  # flat mm per mm of this paper
        self.as_paths = as_paths
        self.style = style()
        # Line widths keep their share of the drawing when it is printed at another scale.
        self.width = drawing.scale / scale
        x0, y0, x1, y1 = drawing.bounds
        corners = drawing.view.turn([[x0, y0], [x1, y1]])
        self.left, self.top = float(corners[:, 0].min()), float(corners[:, 1].max())

    def paper(self, flat: ArrayLike) -> Array:
        turned = self.drawing.view.turn(flat)
        return (turned - [self.left, self.top]) * [1, -1] / self.scale

    def pen(self, token_name: str, width: float | None = None, *, dashes: bool = True) -> str:
        token = self.style.token(token_name)
        wide = token.width if width is None else width
        words = f'fill="none" stroke="{token.line}" stroke-width="{_number(wide * self.width)}"'
        words += ' stroke-linejoin="round"'
        if dashes and token.dash:
            dash = " ".join(_number(v * self.width) for v in token.dash)
            words += f' stroke-dasharray="{dash}"'
            if min(token.dash) < token.width:
                words += ' stroke-linecap="round"'
        return words

    def stroke(self, item: Stroke) -> str:
        points = self.paper(item.points)
        if item.closed:
            return f'<path d="M{_points(_ring(points))}Z" {self.pen(item.style)}/>'
        return f'<path d="M{_points(_thinned(points))}" {self.pen(item.style)}/>'

    def fill(self, item: Fill) -> str:
        token = self.style.token(item.style)
        if not token.fill:
            return ""
        rings = [
            f"M{_points(_ring(self.paper(shapely.get_coordinates(ring)[:-1])))}Z"
            for ring in _rings(item.shape)
        ]
        thin = f' fill-opacity="{token.opacity}"' if token.opacity < 1 else ""
        return f'<path d="{"".join(rings)}" fill="{token.fill}" fill-rule="evenodd"{thin}/>'

    def hatch(self, item: Hatch) -> str:
        row = _rounded(self.paper(item.lines.reshape(-1, 2)))
        lines = "M%.12g %.12gL%.12g %.12g" * len(item.lines) % tuple(row)
        return f'<path d="{lines}" {self.pen(item.style, item.width, dashes=False)}/>'

    def label(self, item: Label) -> str:
        x, y = self.paper([item.at])[0]
        size = item.size / self.scale
        token, halo = self.style.token(item.style), self.style.token("halo")
        look = f'fill="{token.line}"'
        if item.halo:
            look += (
                f' stroke="{halo.fill}" stroke-width="{_number(halo.width * self.width)}"'
                ' stroke-linejoin="round" paint-order="stroke"'
            )
        turn = f" rotate({_number(-item.angle)})" if item.angle else ""
        place = f'transform="translate({_number(x)} {_number(y)}){turn}"'
        if self.as_paths:
            path = outline_of(item.text, size, anchor=item.anchor, bold=item.bold)
            if not len(path.vertices):
                return ""
            return f'<path d="{_glyphs(path)}" {place} {look}/>'
        weight = ' font-weight="bold"' if item.bold else ""
        family = quoteattr(f"{self.style.family}, sans-serif")
        return (
            f'<text {place} y="{_number(HALF_CAP * size)}" font-family={family}{weight}'
            f' font-size="{_number(size)}" text-anchor="{item.anchor}" {look}>'
            f"{escape(visible(item.text))}</text>"
        )

    def dot(self, item: Dot) -> str:
        token, halo = self.style.token(item.style), self.style.token("halo")
        at = self.paper([item.at])[0]
        out = []
        for closed, points in mark_paths(item.mark, item.size / self.scale):
            d = f"M{_points(points * [1, -1] + at)}{'Z' if closed else ''}"
            fill = (token.fill or "#ffffff") if closed else "none"
            wide = _number(token.width * 2.6 * self.width)
            out.append(
                f'<path d="{d}" fill="{fill}" stroke="{halo.fill}" stroke-width="{wide}"/>'
                f'<path d="{d}" {self.pen(item.style, dashes=False)} stroke-linecap="round"/>'
            )
        return "".join(out)

    def element(self, item: Item) -> str:
        match item:
            case Stroke():
                return self.stroke(item)
            case Fill():
                return self.fill(item)
            case Hatch():
                return self.hatch(item)
            case Label():
                return self.label(item)
            case Dot():
                return self.dot(item)


def _thinned(points: Array) -> Array:
    """A line without the points that nobody can see are missing; ends and corners stay."""
    if len(points) < 3:
        return points
    return shapely.get_coordinates(
        shapely.LineString(points).simplify(FINE, preserve_topology=False)
    )


def _ring(points: Array) -> Array:
    """The same for a closed ring (first point not repeated); never fewer than three points."""
    thin = _thinned(np.concatenate([points, points[:1]]))[:-1]
    return thin if len(thin) >= 3 else points


def _rings(shape: BaseGeometry) -> list[shapely.LinearRing]:
    polygons = [p for p in shapely.get_parts(shape) if p.geom_type == "Polygon"]
    return [ring for p in polygons for ring in (p.exterior, *p.interiors)]


def _glyphs(path: MplPath) -> str:
    out = []
    i = 0
    while i < len(path.codes):
        code = path.codes[i]
        if code == MplPath.CLOSEPOLY:
            out.append("Z")
            i += 1
            continue
        count = _LONG.get(code, 1)
        out.append(_LETTER[code] + _points(path.vertices[i : i + count] * [1, -1]))
        i += count
    return "".join(out)


def to_svg(
    drawing: DisplayList,
    *,
    width_mm: float | None = None,
    scale: float | None = None,
    layers: Iterable[str] | None = None,
    text: str = "text",
    alternative: str = "",
) -> str:
    """The drawing as a self-contained SVG, sized in mm.

    scale: flat mm per mm on paper, exact (1.0: a tracing at full size); width_mm: the width on
    paper instead; neither: the drawing's own scale. layers: None for all. text: "text" (DejaVu Sans
    by name) or "paths" (looks the same everywhere). alternative: the words for those who cannot see
    it; the drawing's own description by default.
    Characters no font has are replaced by a visible [U+XXXX]. MapperError on contradictory sizes.
    """
    if scale is not None and width_mm is not None:
        raise MapperError(f"Scale {scale} and width {width_mm} mm.", "Only one sets the size.")
    if text not in ("text", "paths"):
        raise MapperError(f"Text as {text!r}.", 'It is drawn as "text" or as "paths".')
    x0, y0, x1, y1 = drawing.bounds
    size = scale if scale is not None else drawing.scale
    if width_mm is not None:
        size = (x1 - x0) / width_mm if width_mm > 0 else float("nan")
    if not (np.isfinite(size) and size > 0):
        raise MapperError(f"Scale {scale}, width {width_mm} mm.", "Both are above 0.")
    writer = _Writer(drawing, float(size), as_paths=text == "paths")
    wide, high = _number((x1 - x0) / size), _number((y1 - y0) / size)
    title = escape(visible(drawing.title))
    words = escape(visible(alternative or drawing.description))
    groups = []
    layer = ""
    for item in drawing.on(layers):
        if item.layer != layer:
            groups.append(f'{"</g>" if layer else ""}<g data-layer="{item.layer}">')
            layer = item.layer
        groups.append(writer.element(item))
    groups.append("</g>" if layer else "")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}mm" height="{high}mm"'
        f' viewBox="0 0 {wide} {high}" role="img" aria-label={quoteattr(visible(drawing.title))}>'
        f"<title>{title}</title><desc>{words}</desc>"
        f'<rect width="{wide}" height="{high}" fill="{writer.style.token("paper").fill}"/>'
        + "\n".join(groups)
        + "</svg>\n"
    )
