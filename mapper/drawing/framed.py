"""What all maps of a skin have in common: structure and names over the middle, and the frame."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from shapely.geometry.base import BaseGeometry

from mapper.drawing.display import DisplayList
from mapper.drawing.frame import ABOVE, BELOW, LEFT, RIGHT, Frame
from mapper.drawing.furniture import draw_bar, draw_compass, draw_legend, draw_title
from mapper.drawing.ground import (
    draw_edges,
    draw_sides,
    draw_structure,
    label_grid,
    legend_of_grid,
)
from mapper.drawing.naming import name_edges, name_lines, name_panels, number_entries
from mapper.job.entry import Entry

# A narrow sheet still gets this much paper for title, scale bar and legend, mm.
NARROWEST = 90.0


def _furniture(frame: Frame, title: str, subtitle: str) -> tuple[float, float, float, float]:
    """Title, bar, arrows and legend; the bounds of the whole drawing in view coordinates."""
    pad = frame.pad
    margin = pad.gap("margin")
    left, right = frame.low[0] - pad.mm(LEFT), frame.high[0] + pad.mm(RIGHT)
    right = max(right, left + pad.mm(NARROWEST))
    width = right - left
    top = draw_title(pad, title, subtitle, left, frame.high[1] + pad.mm(ABOVE), width)
    row = frame.low[1] - pad.mm(BELOW) - margin
    bar = draw_bar(pad, left, row, min(width * 0.45, pad.gap("bar_longest")), frame.unit)
    x, low = bar[2] + pad.mm(10.0), bar[1]
    for side in frame.sides:
        taken = draw_compass(pad, side, x, row)
        if taken is not None:
            x, low = taken[2] + pad.mm(8.0), min(low, taken[1])
    right = max(right, x - pad.mm(8.0))
    bottom = draw_legend(pad, left, low - margin * 1.5, right - left)
    return left - margin, bottom - margin, right + margin, top + margin


def draw_names(
    frame: Frame,
    grid: list[tuple[str, BaseGeometry]],
    drawn: list[tuple[Entry, BaseGeometry]],
    numbers: Mapping[str, str],
) -> None:
    """Over what a map shows: ribs, spars and edges, then every name and number. grid: from
    `grid_lines`; drawn: the entries with their shapes, from `draw_entries`; [] for none."""
    named = draw_structure(frame)
    draw_edges(frame)
    legend_of_grid(frame, grid)
    draw_sides(frame)
    label_grid(frame, grid)
    name_panels(frame, drawn)
    name_edges(frame)
    number_entries(frame, drawn, numbers)
    name_lines(frame, named)


def finished(
    frame: Frame,
    title: str,
    subtitle: str,
    described: Callable[[], str],
    numbers: Mapping[str, str] | None = None,
) -> DisplayList:
    """The map with its title, scale bar, arrows and legend round it. described: its words for those
    who cannot see it, asked for when all is drawn; numbers: the text at each entry drawn."""
    pad = frame.pad
    low_x, low_y, high_x, high_y = _furniture(frame, title, subtitle)
    corners = frame.view.turn([[low_x, low_y], [high_x, high_y]])
    return DisplayList(
        items=tuple(pad.items),
        bounds=(*corners.min(axis=0).tolist(), *corners.max(axis=0).tolist()),
        sheet_bounds=frame.window.bounds,
        scale=pad.scale,
        view=frame.view,
        title=title,
        face=frame.face,
        description=described(),
        legend=tuple(pad.rows),
        numbers=dict(numbers or {}),
    )
