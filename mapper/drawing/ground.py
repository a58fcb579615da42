"""The ground of a flat map: sheet, grid of stations and % chord, structure, openings, edges."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiLineString, box
from shapely.geometry.base import BaseGeometry

from mapper.drawing.frame import LEFT, Frame
from mapper.drawing.grid import chords_for, plain_number, stations_for
from mapper.drawing.kept import kept
from mapper.drawing.labels import Spot, text_box
from mapper.drawing.text import width_of
from mapper.drawing.view import upper_of
from mapper.surface.lines import chord_line, station_line
from mapper.surface.round import angle_line, has_angles
from mapper.surface.skin import Skin

Array = NDArray[np.float64]

NOT_LOOKED_AT = "not looked at"
# Drawn in this order, so that what matters most lies on top; the same words stand in the legend.
LINE_KINDS = (
    "longeron", "stringer", "rivet row", "frame", "rib", "spar", "hinge line", "seam",
)  # fmt: skip
NAMED_LINES = frozenset({"rib", "spar", "frame", "longeron", "hinge line", "stringer"})


def draw_ground(frame: Frame, unseen: BaseGeometry) -> None:
    pad = frame.pad
    pad.fill(frame.sheet, "sheet", "sheet")
    pad.fill(unseen, NOT_LOOKED_AT, "unseen")
    pad.hatch(pad.thin(unseen), NOT_LOOKED_AT, "unseen")


def grid_lines(frame: Frame) -> list[tuple[str, BaseGeometry]]:
    """(label, lines) of the round stations in the window, and of % chord or angles round."""
    skin, pad = frame.skin, frame.pad
    inside = shapely.contains_xy(frame.window.buffer(1e-6), skin.flat[:, 0], skin.flat[:, 1])
    near = skin.station[inside] if inside.any() else skin.station
    found = []
    for station in stations_for(
        float(near.min()), float(near.max()), pad.gap("station_gap"), frame.unit
    ):
        lines = frame.cut(_station(skin, station))
        found.append((f"{plain_number(station / frame.unit.mm)} {frame.unit.sign}", lines))
    if np.isfinite(skin.chord).any():
        for chord in chords_for(_depth(skin), pad.gap("chord_gap")):
            lines = frame.cut(_chord(skin, chord))
            found.append((f"{plain_number(chord)} %", lines))
    if has_angles(skin):
        found.extend((f"{angle}°", frame.cut(_angle(skin, angle))) for angle in ROUND)
    return [(label, lines) for label, lines in found if not lines.is_empty]


# Angles round a closed body that have a line, degrees; 180 is the cut along the bottom.
ROUND = tuple(range(0, 180, 30)) + tuple(range(210, 360, 30))


def _angle(skin: Skin, angle: float) -> BaseGeometry:
    return kept(
        skin,
        ("angle", angle),
        lambda: shapely.simplify(angle_line(skin, angle, close=COARSE), COARSE),
    )


# Grid lines come a thousand times finer than this, for areas; a drawn line is ten times wider, mm.
COARSE = 0.02


def _station(skin: Skin, station: float) -> BaseGeometry:
    return kept(
        skin, ("station", station), lambda: shapely.simplify(station_line(skin, station), COARSE)
    )


def _chord(skin: Skin, chord: float) -> BaseGeometry:
    return kept(skin, ("chord", chord), lambda: shapely.simplify(chord_line(skin, chord), COARSE))


def _depth(skin: Skin) -> float:
    """How far apart 0 and 100 % chord lie on the map, mm, by its mean slope on a side."""
    return kept(skin, "depth", lambda: _measured_depth(skin))


def _measured_depth(skin: Skin) -> float:
    upper = upper_of(skin)
    side = skin.triangles[upper if upper.any() else ~upper].ravel()
    side = side[np.isfinite(skin.chord[side])]
    flat = skin.flat[side] - skin.flat[side].mean(axis=0)
    slope, *_ = np.linalg.lstsq(flat, skin.chord[side] - skin.chord[side].mean(), rcond=None)
    return 100.0 / max(float(np.hypot(*slope)), 1e-9)


def draw_grid(frame: Frame, grid: list[tuple[str, BaseGeometry]]) -> None:
    for _, lines in grid:
        frame.pad.lines(lines, "grid", "grid")


def legend_of_grid(frame: Frame, grid: list[tuple[str, BaseGeometry]]) -> None:
    words = []
    if any(not label.endswith(("%", "°")) for label, _ in grid):
        words.append(f"station ({frame.unit.sign})")
    if any(label.endswith("%") for label, _ in grid):
        words.append("% chord")
    if any(label.endswith("°") for label, _ in grid):
        words.append("degrees round from the top, outboard first")
    if words:
        frame.pad.row(", ".join(words), "grid", 0, "line")


def label_grid(frame: Frame, grid: list[tuple[str, BaseGeometry]]) -> None:
    """Numbers beyond the ends of the grid lines, outside the sheet."""
    pad = frame.pad
    size, gap = pad.size("grid"), pad.gap("label_gap")
    # Leaving the sheet by a hair must not count as over it.
    sheet = pad.seen(frame.sheet).buffer(-0.2 * gap)
    shapely.prepare(sheet)
    for label, lines in grid:
        for part in shapely.get_parts(shapely.line_merge(lines)):
            xy = frame.view.turn(shapely.get_coordinates(part))
            for end, before in (
                (xy[0], xy[min(3, len(xy) - 1)]),
                (xy[-1], xy[-min(4, len(xy))]),
            ):
                out = (end - before) / max(float(np.hypot(*(end - before))), 1e-12)
                for far in (1.0, 2.0, 3.2, 4.6):
                    spot = _beyond(end, out, gap * far, size)
                    patch = text_box(label, spot.at, size, 0.0, spot.anchor)
                    if not sheet.intersects(patch) and pad.placer.free(patch):
                        pad.placer.take(patch)
                        pad.label(label, spot, size, "labels", token="quiet", halo=False)
                        break


def _beyond(end: Array, out: Array, gap: float, size: float) -> Spot:
    """Where a grid label stands beyond the end of its line, which leaves the sheet along `out`."""
    if abs(out[0]) > abs(out[1]):
        side = float(np.sign(out[0]))
        return Spot(
            (float(end[0]) + side * gap, float(end[1])), anchor="start" if side > 0 else "end"
        )
    return Spot((float(end[0]), float(end[1] + np.sign(out[1]) * (gap + size * 0.45))))


def draw_structure(frame: Frame) -> list[tuple[str, BaseGeometry]]:
    """Ribs, spars, rivet rows and the rest; (name, lines) of those that want a name."""
    named = []
    mine = [line for line in frame.geometry.lines if line.skin == frame.skin.name]
    for kind in (*LINE_KINDS, *sorted({line.kind for line in mine} - set(LINE_KINDS))):
        drawn = [(line.name, frame.cut(line.flat)) for line in mine if line.kind == kind]
        drawn = [(name, lines) for name, lines in drawn if not lines.is_empty]
        for name, lines in drawn:
            frame.pad.lines(lines, kind, "structure")
            if kind in NAMED_LINES:
                named.append((name, lines))
        if drawn:
            frame.pad.row(kind, kind, 0, "line")
    return named


def draw_edges(frame: Frame) -> None:
    """Laps, openings with crossed diagonals, the outline, and where charts go on."""
    pad = frame.pad
    if not frame.openings.is_empty:
        pad.fill(frame.openings, "opening", "openings")
        for hole in frame.openings.geoms:
            x0, y0, x1, y1 = hole.bounds
            cross = MultiLineString([[(x0, y0), (x1, y1)], [(x0, y1), (x1, y0)]])
            pad.lines(shapely.intersection(cross, hole), "leader", "openings")
        pad.lines(frame.openings.boundary, "opening", "openings")
        pad.row("opening", "opening")
    if any(item.layer == "laps" for item in pad.items):
        pad.row("lap", "lap")
    boundary = shapely.intersection(frame.rim, frame.window)
    if frame.edges:
        hidden = shapely.union_all([line for line, _ in frame.edges]).buffer(
            frame.hair, quad_segs=2
        )
        boundary = shapely.difference(boundary, hidden)
    pad.lines(boundary, "sheet", "outline")
    for line, _ in frame.edges:
        pad.lines(line, "chart edge", "outline")
    if frame.edges:
        pad.row("sheet goes on at the same letter", "chart edge", 0, "line")


def draw_laps(frame: Frame) -> None:
    laps = [frame.cut(lap.flat) for lap in frame.geometry.laps if lap.skin == frame.skin.name]
    for lap in laps:
        if not lap.is_empty:
            frame.pad.area(lap, "lap", "laps")


def draw_sides(frame: Frame) -> None:
    """ "upper" and "lower" written up the left margin beside their half of the sheet."""
    pad = frame.pad
    size = pad.size("side")
    for side in frame.sides:
        if not side.name:
            continue
        shape = shapely.intersection(box(*side.bounds), frame.window)
        if shape.is_empty:
            continue
        _, y0, _, y1 = pad.seen(shape).bounds
        if y1 - y0 < 1.1 * width_of(side.name, size, bold=True):
            continue
        spot = Spot((float(frame.low[0]) - pad.mm(LEFT - 2.0), (y0 + y1) / 2), 90.0)
        pad.placer.take(text_box(side.name, spot.at, size, 90.0, bold=True))
        pad.label(side.name, spot, size, "labels", bold=True, halo=False)
