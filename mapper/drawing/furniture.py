"""What stands round a map: title, scale bar, arrows for directions, legend of what is drawn.

Works in view coordinates (flat mm, turned as on paper): x to the right, y up.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon, box

from mapper.drawing.display import Dot, Hatch, LegendRow, Stroke
from mapper.drawing.grid import LengthUnit, plain_number
from mapper.drawing.hatch import hatch_lines
from mapper.drawing.labels import Spot, text_box
from mapper.drawing.pad import Pad
from mapper.drawing.text import fit, width_of, wrap
from mapper.drawing.view import Side

Array = NDArray[np.float64]
Box = tuple[float, float, float, float]


def bar_length(longest: float, unit: LengthUnit) -> float:
    """The longest round length (1, 2 or 5 times a power of ten of the unit) up to `longest`, mm."""
    value = longest / unit.mm
    power = 10.0 ** np.floor(np.log10(value))
    factor = max(f for f in (1.0, 2.0, 5.0) if f * power <= value * (1 + 1e-9))
    return float(factor * power * unit.mm)


def bar_words(length: float, unit: LengthUnit) -> str:
    """The length of a scale bar in words: 500 mm, 2 m, 50 in."""
    if unit.sign == "mm" and length >= 1000:
        return f"{plain_number(length / 1000)} m"
    return f"{plain_number(length / unit.mm)} {unit.sign}"


def draw_bar(pad: Pad, left: float, top: float, width: float, unit: LengthUnit) -> Box:
    """A scale bar with its upper left corner there, no longer than `width`; the box it takes."""
    length = bar_length(min(width, pad.gap("bar_longest")), unit)
    size = pad.size("bar")
    high = pad.mm(1.6)
    y = top - size * 1.5 - high
    first = length / unit.mm / 10 ** np.floor(np.log10(length / unit.mm * (1 + 1e-9)))
    parts = {1: 5, 2: 4, 5: 5}[round(first)]
    for i in range(parts):
        cell = box(left + i * length / parts, y, left + (i + 1) * length / parts, y + high)
        if i % 2 == 0:
            pad.fill(pad.seen(cell), "bar", "bar")
        pad.lines(pad.seen(cell).exterior, "bar", "bar")
    text_y = y + high + size * 0.8
    words = bar_words(length, unit)
    pad.label("0", Spot((left, text_y), anchor="start"), size, "bar", halo=False)
    end = left + length
    anchor = "end" if width_of(words, size) < length - size else "start"
    at = end if anchor == "end" else left + size * 1.4
    pad.label(words, Spot((at, text_y), anchor=anchor), size, "bar", halo=False)
    right = max(end, at + (width_of(words, size) if anchor == "start" else 0.0))
    return left, y, right, top


def squared(d: Array) -> Array:
    """A direction within 5 degrees of an axis of the paper, along that axis: on a tapered sheet the
    mean direction is off by that much, and no arrow is finer."""
    axis = np.zeros(2)
    axis[np.argmax(np.abs(d))] = np.sign(d[np.argmax(np.abs(d))])
    return axis if float(d @ axis) > np.cos(np.deg2rad(5.0)) else d


def _arrow(pad: Pad, start: Array, direction: Array) -> Array:
    """An arrow from a point; where its head ends."""
    tip = start + direction * pad.gap("arrow")
    neck = tip - direction * pad.mm(2.4)
    across = np.array([-direction[1], direction[0]]) * pad.mm(0.8)
    pad.items.append(Stroke(pad.view.turn([start, neck]), "bar", "bar"))
    pad.fill(pad.seen(Polygon([tip, neck + across, neck - across])), "bar", "bar")
    return tip


def draw_compass(pad: Pad, side: Side, left: float, top: float) -> Box | None:
    """The arrows of one side with their words, its name above; None where it has no directions."""
    if not side.directions:
        return None
    size = pad.size("bar")
    arrows = []
    boxes = []
    for direction in side.directions:
        d = squared(pad.view.turn([direction.flat])[0])
        tip = d * pad.gap("arrow")
        if abs(d[0]) > 0.7:
            spot = Spot(
                (tip[0] + np.sign(d[0]) * size * 0.5, tip[1]), anchor="start" if d[0] > 0 else "end"
            )
        else:
            spot = Spot((tip[0], tip[1] + np.sign(d[1]) * size * 0.75))
        arrows.append((d, direction.word, spot))
        boxes.append(text_box(direction.word, spot.at, size, anchor=spot.anchor))
    x0, y0, x1, y1 = shapely.total_bounds(
        np.array([*boxes, Polygon([d * pad.gap("arrow") for d, *_ in arrows] + [(0, 0), (0, 0)])])
    )
    caption = f"{side.name} side" if side.name else ""
    head = size * 1.5 if caption else 0.0
    x1 = max(x1, x0 + width_of(caption, size, bold=True))
    shift = np.array([left - x0, top - head - y1])
    if caption:
        spot = Spot((left, top - size * 0.6), anchor="start")
        pad.label(caption, spot, size, "bar", bold=True, halo=False)
    for d, word, spot in arrows:
        _arrow(pad, shift, d)
        at = (spot.at[0] + shift[0], spot.at[1] + shift[1])
        pad.label(word, Spot(at, anchor=spot.anchor), size, "bar", halo=False)
    return left, float(y0 + shift[1]), float(x1 + shift[0]), top


def _sample(pad: Pad, row: LegendRow, cell: Polygon) -> None:
    """A swatch drawn as on the map: the same fill, hatch and outline, line, or mark."""
    x0, y0, x1, y1 = cell.bounds
    middle = (y0 + y1) / 2
    if row.sample == "line":
        line = pad.view.turn([[x0, middle], [x1, middle]])
        pad.items.append(Stroke(line, row.style, "legend"))
    elif row.sample == "point":
        mark = pad.style.token(row.style).mark
        x, y = pad.view.turn([[(x0 + x1) / 2, middle]])[0]
        at = (float(x), float(y))
        pad.items.append(Dot(at, pad.gap("mark"), mark, row.style, "legend"))
    else:
        flat = pad.seen(cell)
        pad.fill(flat, row.style, "legend")
        for family in pad.style.token(row.style).hatch:
            # Laid from the swatch's own middle: a wide hatch would miss a small swatch otherwise.
            centre = np.array([(x0 + x1) / 2, middle])
            moved = shapely.transform(flat, lambda p: p - pad.view.turn([centre])[0])  # noqa: B023
            lines = hatch_lines(moved, family, pad.scale, pad.view)
            if len(lines):
                lines = lines + pad.view.turn([centre])[0]
                pad.items.append(Hatch(lines, row.style, "legend", family.width))
        pad.lines(flat.exterior, row.style, "legend")


def draw_legend(pad: Pad, left: float, top: float, width: float) -> float:
    """The legend in as many columns as fit; the y below it. Nothing, and `top`, without rows."""
    if not pad.rows:
        return top
    size = pad.size("legend")
    swatch_x, swatch_y = (v * pad.scale for v in pad.style.layout["swatch"])
    step = pad.gap("legend_row")
    texts = [f"{row.text} ({row.count})" if row.count else row.text for row in pad.rows]
    widest = max(width_of(text, size) for text in texts)
    column = swatch_x + size + widest + pad.mm(5.0)
    columns = max(1, min(len(texts), int((width + pad.mm(5.0)) // column)))
    per_column = -(-len(texts) // columns)
    for i, (row, text) in enumerate(zip(pad.rows, texts, strict=True)):
        x = left + (i // per_column) * column
        y = top - (i % per_column) * step
        _sample(pad, row, box(x, y - swatch_y, x + swatch_x, y))
        room = left + width - (x + swatch_x + size * 0.6)
        spot = Spot((x + swatch_x + size * 0.6, y - swatch_y / 2), anchor="start")
        text = fit(text, size, max(room, size * 8))
        pad.label(text, spot, size, "legend", halo=False)
    return top - per_column * step


def draw_title(
    pad: Pad, title: str, subtitle: str, left: float, bottom: float, width: float
) -> float:
    """Title and subtitle above a line y = bottom, broken where too wide; the y above them."""
    big, small = pad.size("title"), pad.size("subtitle")
    lines = [(line, big, True) for line in wrap(title, big, width, bold=True)]
    lines += [(line, small, False) for line in wrap(subtitle, small, width)]
    y = bottom
    for line, size, bold in reversed(lines):
        y += size * 0.75
        spot = Spot((left, y), anchor="start")
        pad.label(line, spot, size, "title", bold=bold, halo=False)
        y += size * 0.7
    return y
