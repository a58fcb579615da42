"""Numbers of entries and names of panels, lines and edges, placed so that none covers another."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import islice

import numpy as np
import shapely
from shapely import box
from shapely.geometry.base import BaseGeometry

from mapper.drawing.display import Stroke
from mapper.drawing.frame import Frame, polygons_of, thinned
from mapper.drawing.labels import Spot, along, around, inner_spots, text_box
from mapper.drawing.text import width_of
from mapper.job.entry import Entry

# Spots tried inside a region before its number goes beside it.
MOST_SPOTS = 60


def _on_line(shape: BaseGeometry) -> shapely.Point:
    """A point of a line's middle, or the first of some points."""
    if shape.length > 0:
        longest = max(shapely.get_parts(shape), key=lambda part: part.length)
        return shapely.line_interpolate_point(longest, 0.5, normalized=True)
    return shapely.Point(shapely.get_coordinates(shape)[0])


def _may_hold(region: BaseGeometry, text: str, size: float) -> bool:
    """Whether a text is not plainly too large for a region: saves trying every spot in it."""
    x0, y0, x1, y1 = region.bounds
    return x1 - x0 > width_of(text, size, bold=True) and y1 - y0 > size


def number_entries(
    frame: Frame, drawn: list[tuple[Entry, BaseGeometry]], numbers: Mapping[str, str]
) -> None:
    """The short number of each entry: inside its region where it fits, else beside it."""
    pad = frame.pad
    size = pad.size("number")
    for entry, shape in sorted(drawn, key=lambda pair: pair[1].area):
        text = numbers.get(entry.id, "")
        if not text:
            continue
        seen = pad.seen(shape)
        if seen.area > 0 and _may_hold(seen, text, size):
            spots = islice(inner_spots(seen, upright=False), MOST_SPOTS)
            spot = pad.placer.place(text, size, spots, inside=seen, bold=True)
            if spot is not None:
                pad.label(text, spot, size, "numbers", bold=True)
                continue
        point = seen.representative_point() if seen.area > 0 else _on_line(seen)
        at = (float(point.x), float(point.y))
        steps = [pad.gap("leader") * f for f in (1.0, 1.5, 2.1, 2.8, 3.6, 4.6, 6.0)]
        spot = pad.placer.place(text, size, around(at, steps), inside=frame.around(), bold=True)
        if spot is None:
            # Nowhere free: a number over another drawing is better than none.
            spot = Spot((at[0], at[1] + pad.gap("leader")))
        # From the edge of a mark, so that the line does not cross it out.
        start = np.asarray(at)
        if seen.area == 0 or max(np.ptp(np.reshape(seen.bounds, (2, 2)), axis=0)) < pad.gap("mark"):
            way = np.asarray(spot.at) - start
            start = start + way / max(float(np.hypot(*way)), 1e-9) * 0.55 * pad.gap("mark")
        pad.items.append(Stroke(frame.view.turn([start, spot.at]), "leader", "numbers"))
        pad.label(text, spot, size, "numbers", bold=True)


def name_panels(frame: Frame, drawn: list[tuple[Entry, BaseGeometry]]) -> None:
    """Each panel's name inside it, clear of small entries where there is room."""
    pad = frame.pad
    small = [shape for _, shape in drawn if 0 < shape.area < 0.1 * frame.sheet.area]
    mark = pad.gap("mark")
    thin = [shapely.simplify(shape, mark / 4) for _, shape in drawn if shape.area == 0]
    points = list(shapely.buffer(thin, mark, quad_segs=2)) if thin else []
    busy = pad.seen(shapely.union_all(small + points)) if small or points else None
    for panel in frame.geometry.panels:
        if panel.skin != frame.skin.name:
            continue
        flat = thinned(panel, "flat", frame.step, lambda panel=panel: panel.flat)
        seen = polygons_of(pad.seen(shapely.intersection(flat, frame.metal, grid_size=1e-4)))
        if seen.is_empty:
            continue
        clear = seen if busy is None else polygons_of(shapely.difference(seen, busy))
        # On each side it has, before across the nose, where a part bends the name away.
        halves = _halves(frame, seen)
        free = [half if clear is seen else polygons_of(shapely.intersection(half, clear))
                for half in halves]  # fmt: skip
        named = [
            any(_name(frame, panel.name, room) for room in ((one,) if one is half else (one, half)))
            for one, half in zip(free, halves, strict=True)
        ]
        if not any(named) and not (len(halves) > 1 and _name(frame, panel.name, seen)):
            _name_beside(frame, panel.name, seen)


def _halves(frame: Frame, seen: BaseGeometry) -> list[BaseGeometry]:
    """The parts of a panel on the sides of the sheet; the whole where it lies on one alone."""
    if len(frame.sides) < 2:
        return [seen]
    halves = [frame.pad.seen(box(*side.bounds)) for side in frame.sides]
    parts = [polygons_of(shapely.intersection(seen, half)) for half in halves]
    parts = [part for part in parts if part.area > 0.15 * seen.area]
    return parts if len(parts) > 1 else [seen]


def _name(frame: Frame, name: str, room: BaseGeometry) -> bool:
    if room.is_empty:
        return False
    spots: list[Spot] | None = None
    x0, y0, x1, y1 = room.bounds
    shapely.prepare(room)
    for share in (1.0, 0.85, 0.7):
        size = frame.pad.size("panel") * share
        if width_of(name, size, bold=True) > max(x1 - x0, y1 - y0):
            continue
        spots = list(inner_spots(room)) if spots is None else spots
        spot = frame.pad.placer.place(name, size, spots, inside=room, bold=True)
        if spot is not None:
            frame.pad.label(name, spot, size, "names", bold=True)
            return True
    return False


def _name_beside(frame: Frame, name: str, room: BaseGeometry) -> None:
    """A name too long for its panel stands near it, with a line to it."""
    pad = frame.pad
    size = pad.size("panel") * 0.7
    point = room.representative_point()
    at = (float(point.x), float(point.y))
    steps = [pad.gap("leader") * f for f in (1.5, 2.5, 4.0, 6.0, 9.0)]
    spot = pad.placer.place(name, size, around(at, steps), inside=frame.around(), bold=True)
    if spot is not None:
        pad.items.append(Stroke(frame.view.turn([at, spot.at]), "leader", "names"))
        pad.label(name, spot, size, "names", bold=True)


def name_lines(frame: Frame, named: list[tuple[str, BaseGeometry]]) -> None:
    pad = frame.pad
    size = pad.size("line")
    sheet = pad.seen(frame.sheet)
    shapely.prepare(sheet)
    shares = (0.06, 0.94, 0.12, 0.88, 0.3, 0.7, 0.5)
    for name, lines in named:
        merged = shapely.line_merge(lines)
        parts = sorted(shapely.get_parts(merged), key=lambda part: -part.length)
        for part in parts[: max(1, len(frame.sides))]:
            if part.length < 2 * width_of(name, size):
                continue
            xy = frame.view.turn(shapely.get_coordinates(part))
            spot = pad.placer.place(name, size, along(xy, size * 0.62, shares), inside=sheet)
            if spot is not None:
                pad.label(name, spot, size, "names", token="quiet")


def name_edges(frame: Frame) -> None:
    """The same letter at both chart edges that are one line on the part."""
    pad = frame.pad
    size = pad.size("match")
    sheet = pad.seen(frame.sheet)
    shapely.prepare(sheet)
    for line, number in frame.edges:
        if line.is_empty:
            continue
        xy = frame.view.turn(shapely.get_coordinates(line))
        letter = chr(ord("A") + number % 26)
        spots = along(xy, size * 0.9, (0.5, 0.35, 0.65, 0.2, 0.8))
        for spot in spots:
            upright = Spot(spot.at)
            patch = text_box(letter, upright.at, size, bold=True)
            if sheet.covers(patch) and pad.placer.free(patch):
                pad.placer.take(patch)
                pad.label(letter, upright, size, "names", bold=True)
                break
