"""The map of one face of one skin as a display list: what is drawn where; the pens draw it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
import shapely
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from mapper.drawing.display import DisplayList
from mapper.drawing.frame import ABOVE, BELOW, LEFT, RIGHT, Frame, polygons_of
from mapper.drawing.furniture import draw_bar, draw_compass, draw_legend, draw_title
from mapper.drawing.ground import (
    NOT_LOOKED_AT,
    draw_edges,
    draw_grid,
    draw_ground,
    draw_laps,
    draw_sides,
    draw_structure,
    grid_lines,
    label_grid,
    legend_of_grid,
)
from mapper.drawing.naming import name_edges, name_lines, name_panels, number_entries
from mapper.drawing.pad import Pad
from mapper.drawing.regions import draw_entries
from mapper.drawing.show import Show, looked_at, on_face
from mapper.drawing.view import Side, face_number
from mapper.errors import MapperError
from mapper.job.entry import Entry
from mapper.surface.geometry import Geometry
from mapper.units import Units

# A narrow sheet still gets this much paper for title, scale bar and legend, mm.
NARROWEST = 90.0


def draw_furniture(frame: Frame, title: str, subtitle: str) -> tuple[float, float, float, float]:
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


def _describe(
    title: str, subtitle: str, sides: tuple[Side, ...], pad: Pad, unseen: float | None
) -> str:
    """The drawing in words."""
    words = [f"{title}. {subtitle}."]
    for side in sides:
        for direction in side.directions:
            x, y = pad.view.turn([direction.flat])[0]
            way = ("right" if x > 0 else "left") if abs(x) > abs(y) else ("up" if y > 0 else "down")
            where = f"On the {side.name} side " if side.name else ""
            words.append(f"{where}{direction.word} is {way}.".strip().capitalize())
    counted = [f"{row.text} {row.count}" for row in pad.rows if row.count]
    words.append(f"Drawn: {', '.join(counted)}." if counted else "No entries are drawn.")
    if unseen is not None:
        words.append(f"Not looked at: {100 * unseen:.0f} % of the flat sheet drawn.")
    return " ".join(words)


def _unseen(frame: Frame, looked: BaseGeometry) -> MultiPolygon:
    """The metal that nobody has looked at."""
    if looked.is_empty:
        return frame.metal
    seen = polygons_of(shapely.intersection(looked, frame.metal, grid_size=1e-4))
    return polygons_of(shapely.difference(frame.metal, seen, grid_size=1e-4))


def draw_map(
    geometry: Geometry,
    skin_name: str,
    face: str,
    entries: Iterable[Entry],
    *,
    show: Show | None = None,
    units: Units | str = "metric",
    title: str = "",
    width: float = 180.0,
    height: float = 150.0,
    scale: float | None = None,
    numbers: Mapping[str, str] | None = None,
    region: MultiPolygon | None = None,
    ground: bool = True,
) -> DisplayList:
    """The flat map of one face of one skin.

    entries: any of the part's; those with an outline on this face that `show` chooses are drawn,
    none is an empty map, hatched all over as not looked at. units: "metric" or "inch", for stations
    and the scale bar. width, height: mm on paper the whole width and the sheet's own height should
    keep within; text and hatches are sized for it. scale: flat mm per mm on paper instead (1.0 for
    a tracing at 1:1). numbers: entry id -> short text at it; None numbers them in the order given.
    region: draw only this part of the flat plane, with a margin. ground: whether what was not
    looked at is hatched and told; False for a bare shape without a record.
    MapperError for unknown skins and faces, a paper too small, or a region off the sheet.
    """
    skin = geometry.skin(skin_name)
    face_number(skin, face)
    system = units.system if isinstance(units, Units) else Units(units).system
    if not (np.isfinite([width, height]).all() and width >= 60.0 and height >= 20.0):
        raise MapperError(
            f"A paper of {width} x {height} mm.", "At least 60 mm wide and 20 mm high is needed."
        )
    if scale is not None and not (np.isfinite(scale) and scale > 0):
        raise MapperError(f"Scale {scale}.", "Flat mm per mm on paper, above 0: 1 is full size.")
    show = show or Show()
    frame = Frame(geometry, skin, face, region, system, (width, height), scale)
    pad = frame.pad
    mine = on_face(entries, skin.name, face)
    chosen = tuple(entry for entry in mine if show.shows(entry))
    unseen = _unseen(frame, looked_at(mine, show)) if ground else MultiPolygon()
    if numbers is None:
        numbers = {entry.id: str(i) for i, entry in enumerate(chosen, 1)}

    grid = grid_lines(frame)
    draw_ground(frame, unseen)
    draw_grid(frame, grid)
    draw_laps(frame)
    drawn = draw_entries(frame, chosen)
    if not unseen.is_empty:
        pad.row(NOT_LOOKED_AT, NOT_LOOKED_AT)
    named = draw_structure(frame)
    draw_edges(frame)
    legend_of_grid(frame, grid)
    draw_sides(frame)
    label_grid(frame, grid)
    name_panels(frame, drawn)
    name_edges(frame)
    number_entries(frame, drawn, numbers)
    name_lines(frame, named)

    title = title or geometry.part
    words = f"{skin.name}: {face} face, {frame.view.words}"
    low_x, low_y, high_x, high_y = draw_furniture(frame, title, words)
    corners = frame.view.turn([[low_x, low_y], [high_x, high_y]])
    bounds = (*corners.min(axis=0).tolist(), *corners.max(axis=0).tolist())
    share = unseen.area / frame.metal.area if frame.metal.area else 0.0
    told = share if ground else None
    return DisplayList(
        items=tuple(pad.items),
        bounds=bounds,
        sheet_bounds=frame.window.bounds,
        scale=pad.scale,
        view=frame.view,
        title=title,
        face=face,
        description=_describe(title, words, frame.sides, pad, told),
        legend=tuple(pad.rows),
        numbers={e.id: numbers[e.id] for e, _ in drawn if e.id in numbers},
    )
