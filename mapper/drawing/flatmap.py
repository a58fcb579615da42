"""The map of one face of one skin as a display list: what is drawn where; the pens draw it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
import shapely
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from mapper.drawing.display import DisplayList
from mapper.drawing.frame import Frame, polygons_of
from mapper.drawing.framed import draw_names, finished
from mapper.drawing.ground import (
    NOT_LOOKED_AT,
    draw_grid,
    draw_ground,
    draw_laps,
    grid_lines,
)
from mapper.drawing.pad import Pad
from mapper.drawing.regions import draw_entries, under_all
from mapper.drawing.show import Show, looked_at, on_face
from mapper.drawing.view import Side, face_number
from mapper.errors import MapperError
from mapper.job.entry import Entry
from mapper.surface.geometry import Geometry
from mapper.units import Units


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
    """The metal that nobody has looked at, without the hairs between thinned outlines."""
    if looked.is_empty:
        return frame.metal
    seen = polygons_of(shapely.intersection(looked, frame.metal, grid_size=1e-4))
    return frame.wide(shapely.difference(frame.metal, seen, grid_size=1e-4))


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
    counts: Mapping[str, int] | None = None,
) -> DisplayList:
    """The flat map of one face of one skin.

    entries: any of the part's; those with an outline on this face that `show` chooses are drawn,
    none is an empty map, hatched all over as not looked at. units: "metric" or "inch", for stations
    and the scale bar. width, height: mm on paper the whole width and the sheet's own height should
    keep within; text and hatches are sized for it. scale: flat mm per mm on paper instead (1.0 for
    a tracing at 1:1). numbers: entry id -> short text at it; None numbers them in the order given.
    region: draw only this part of the flat plane, with a margin. ground: whether what was not
    looked at is hatched and told; False for a bare shape without a record. counts: entry id -> how
    many entries its outline stands for, where not one.
    Of work and coats that cover all that is drawn the last is hatched; the others are named under
    the title.
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
    unseen = _unseen(frame, looked_at(mine, show, frame.drawn)) if ground else MultiPolygon()
    if numbers is None:
        numbers = {entry.id: str(i) for i, entry in enumerate(chosen, 1)}

    grid = grid_lines(frame)
    draw_ground(frame, unseen)
    draw_grid(frame, grid)
    draw_laps(frame)
    under = under_all(frame, chosen)
    drawn = draw_entries(frame, tuple(e for e in chosen if e not in under), counts)
    if not unseen.is_empty:
        pad.row(NOT_LOOKED_AT, NOT_LOOKED_AT)
    draw_names(frame, grid, drawn, numbers)

    title = title or geometry.part
    words = f"{skin.name}: {face} face, {frame.view.words}"
    if under:
        named = (f"{e.kind} {numbers.get(e.id, '')}".strip() for e in under)
        words += f"; over all of it too, and not hatched: {', '.join(named)}"
    share = unseen.area / frame.metal.area if frame.metal.area else 0.0
    told = share if ground else None
    return finished(
        frame,
        title,
        words,
        lambda: _describe(title, words, frame.sides, pad, told),
        {e.id: numbers[e.id] for e, _ in drawn if e.id in numbers},
    )
