"""Entries carried to a corrected shape: the new flat map with where each lay on the old one."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

import shapely

from mapper.drawing.display import DisplayList
from mapper.drawing.frame import Frame
from mapper.drawing.framed import draw_names, finished
from mapper.drawing.ground import (
    draw_grid,
    draw_ground,
    grid_lines,
)
from mapper.drawing.regions import draw_entries
from mapper.drawing.view import sheet_of
from mapper.job.entry import Entry, Outline
from mapper.surface.geometry import Geometry
from mapper.units import Units

BEFORE = "before"


def busiest(geometry: Geometry, outlines: Iterable[Outline | None]) -> tuple[str, str]:
    """Skin and face of most outlines; the first of either where there are none."""
    count = Counter((o.skin, o.face) for o in outlines if o is not None)
    there = [(s.name, f) for s in geometry.skins for f in s.face_names]
    return max(there, key=lambda face: count[face])


def draw_moves(
    old: Geometry,
    new: Geometry,
    skin_name: str,
    face: str,
    pairs: Sequence[tuple[Entry, Entry]],
    *,
    units: Units | str = "metric",
    title: str = "",
    width: float = 180.0,
    height: float = 150.0,
) -> DisplayList:
    """The flat map of a face of the corrected shape with the entries as carried over, and dashed
    the old edge of the sheet and each entry where it lay on the old flat map.

    pairs: (before, after) of each entry; one that is not on the new sheet is drawn dashed only.
    Both maps have the root's leading edge in one point. An old shape without that skin, or with
    other charts, has another flat map: nothing is drawn dashed, and the subtitle says so.
    """
    system = units if isinstance(units, Units) else Units(units)
    skin = new.skin(skin_name)
    frame = Frame(new, skin, face, None, system.system, (width, height), None)
    pad = frame.pad
    same = next((s for s in old.skins if s.name == skin_name), None)
    alike = same is not None and [c.patch.kind for c in same.charts] == [
        c.patch.kind for c in skin.charts
    ]
    grid = grid_lines(frame)
    draw_ground(frame, shapely.MultiPolygon())
    draw_grid(frame, grid)
    now = [a for b, a in pairs if _on(a, skin_name, face) and _moved(b, a)]
    drawn = draw_entries(frame, tuple(now))
    if alike and same is not None:
        pad.lines(sheet_of(same).boundary, BEFORE, "outline")
        for entry, _ in pairs:
            if _on(entry, skin_name, face) and entry.outline is not None:
                shape = entry.outline.shape
                if shape.area > 0:
                    pad.lines(shape.boundary, BEFORE, "regions")
                elif shape.length > 0:
                    pad.lines(shape, BEFORE, "regions")
                else:
                    for xy in shapely.get_coordinates(shape):
                        pad.dot(xy, BEFORE)
        pad.row("before the correction", BEFORE, 0, "line")
    draw_names(frame, grid, drawn, {a.id: str(i) for i, (_, a) in enumerate(pairs, 1)})
    words = f"{skin.name}: {face} face, moves of a correction, {frame.view.words}"
    if not alike:
        words += "; the old flat map differs and is not drawn"
    title = title or new.part
    return finished(
        frame,
        title,
        words,
        lambda: f"{title}. {words}. {len(drawn)} entries are drawn as carried over.",
    )


def _on(entry: Entry, skin: str, face: str) -> bool:
    outline = entry.outline
    return outline is not None and (outline.skin, outline.face) == (skin, face)


def _moved(before: Entry, after: Entry) -> bool:
    """Whether the entry was carried over: one that is off the sheet stays on its old version."""
    return before.geometry != after.geometry
