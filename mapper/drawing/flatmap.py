"""The map of one face of one skin as a display list: what is drawn where; the pens draw it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiLineString, MultiPolygon, box
from shapely.geometry.base import BaseGeometry

from mapper.drawing.display import DisplayList, Stroke
from mapper.drawing.furniture import draw_bar, draw_compass, draw_legend, draw_title
from mapper.drawing.grid import chords_for, length_unit, level_lines, plain_number, stations_for
from mapper.drawing.labels import Spot, along, around, inner_spots, text_box
from mapper.drawing.pad import Pad
from mapper.drawing.show import Show, looked_at, on_face
from mapper.drawing.style import style
from mapper.drawing.text import width_of
from mapper.drawing.view import Side, face_number, sheet_of, sides_of, view_of
from mapper.errors import MapperError
from mapper.job.entry import Entry
from mapper.job.kinds import KINDS
from mapper.surface.geometry import Geometry
from mapper.surface.skin import Chart, Skin
from mapper.units import Units

Array = NDArray[np.float64]

NOT_LOOKED_AT = "not looked at"
# Drawn in this order, so that what matters most lies on top; the same words stand in the legend.
LINE_KINDS = ("stringer", "rivet row", "rib", "spar", "hinge line", "seam")
NAMED_LINES = frozenset({"rib", "spar", "hinge line", "stringer"})
LEFT, RIGHT, ABOVE, BELOW = 15.0, 12.0, 5.5, 5.5
NARROWEST = 90.0


def edge_line(chart: Chart, edge: str) -> MultiLineString:
    """One side ("s0", "s1", "t0", "t1") of a chart's parameter rectangle on the flat map."""
    lines = chart.patch.s_lines if edge[0] == "s" else chart.patch.t_lines
    across = chart.patch.t_lines if edge[0] == "s" else chart.patch.s_lines
    fixed = float(lines[0] if edge[1] == "0" else lines[-1])
    run = np.unique(np.concatenate([np.linspace(across[0], across[-1], 257), across]))
    param = np.stack([np.full_like(run, fixed), run], axis=1)
    return MultiLineString([chart.flat_map.to_flat(param if edge[0] == "s" else param[:, ::-1])])


def _polygons(shape: BaseGeometry) -> MultiPolygon:
    parts = [p for p in shapely.get_parts(shape) if p.geom_type == "Polygon" and p.area > 0]
    return MultiPolygon(parts)


class _Map:
    """One drawing in the making."""

    def __init__(
        self,
        geometry: Geometry,
        skin: Skin,
        face: str,
        region: MultiPolygon | None,
        units: str,
        paper: tuple[float, float],
        scale: float | None,
    ) -> None:
        self.geometry, self.skin, self.face = geometry, skin, face
        self.unit = length_unit(units)
        self.view = view_of(geometry, skin, face)
        whole = sheet_of(skin)
        self.window = self._window(whole, region)
        self.sheet = _polygons(shapely.intersection(whole, self.window))
        if self.sheet.is_empty:
            raise MapperError(
                f"The region asked for lies off the sheet of skin {skin.name!r}.",
                "A region on the sheet can be drawn.",
            )
        openings = [o.flat for o in geometry.openings if o.skin == skin.name]
        holes = shapely.union_all(openings, grid_size=1e-4) if openings else MultiPolygon()
        self.openings = _polygons(shapely.intersection(holes, self.sheet))
        self.metal = _polygons(shapely.difference(self.sheet, self.openings, grid_size=1e-4))
        x0, y0, x1, y1 = self.window.bounds
        corners = self.view.turn([[x0, y0], [x1, y1]])
        self.low, self.high = corners.min(axis=0), corners.max(axis=0)
        wide, tall = self.high - self.low
        if scale is None:
            edge = 2 * float(style().layout["margin"])
            scale = max(wide / (paper[0] - LEFT - RIGHT - edge), tall / paper[1])
        edges = [
            (edge_line(skin.charts[chart], edge), number)
            for number, glue in enumerate(skin.glue)
            for chart, edge in ((glue.chart_a, glue.edge_a), (glue.chart_b, glue.edge_b))
        ]
        self.edges = [(shapely.intersection(line, self.window), number) for line, number in edges]
        glue = shapely.union_all([line for line, _ in edges]) if edges else MultiLineString()
        glue = glue if isinstance(glue, MultiLineString) else MultiLineString([glue])
        self.pad = Pad(self.view, float(scale), glue)
        self.sides = sides_of(geometry, skin)

    @staticmethod
    def _window(whole: MultiPolygon, region: MultiPolygon | None) -> BaseGeometry:
        """The box that is drawn: the whole sheet, or a region with a margin."""
        if region is None or region.is_empty:
            return box(*whole.bounds)
        x0, y0, x1, y1 = region.bounds
        edge = 0.06 * max(x1 - x0, y1 - y0)
        a0, b0, a1, b1 = whole.bounds
        return box(max(x0 - edge, a0), max(y0 - edge, b0), min(x1 + edge, a1), min(y1 + edge, b1))

    def cut(self, shape: BaseGeometry) -> BaseGeometry:
        """What of a shape lies in the drawn window."""
        return shapely.intersection(shape, self.window)

    # ----- the sheet -------------------------------------------------------------------------

    def draw_ground(self, unseen: BaseGeometry) -> None:
        pad = self.pad
        pad.fill(self.sheet, "sheet", "sheet")
        pad.fill(unseen, NOT_LOOKED_AT, "unseen")
        pad.hatch(unseen, NOT_LOOKED_AT, "unseen")

    def grid_lines(self) -> list[tuple[str, BaseGeometry]]:
        """(label, lines) of the round stations and % chord in the window."""
        skin, pad = self.skin, self.pad
        inside = shapely.contains_xy(self.window.buffer(1e-6), skin.flat[:, 0], skin.flat[:, 1])
        near = skin.station[inside] if inside.any() else skin.station
        found = []
        for station in stations_for(
            float(near.min()), float(near.max()), pad.gap("station_gap"), self.unit
        ):
            lines = self.cut(level_lines(skin, skin.station, station))
            found.append((f"{plain_number(station / self.unit.mm)} {self.unit.sign}", lines))
        if np.isfinite(skin.chord).any():
            deep = min(s.bounds[3] - s.bounds[1] for s in self.sides)
            for chord in chords_for(float(deep), pad.gap("chord_gap")):
                lines = self.cut(level_lines(skin, skin.chord, chord))
                found.append((f"{plain_number(chord)} %", lines))
        return [(label, lines) for label, lines in found if not lines.is_empty]

    def draw_grid(self, grid: list[tuple[str, BaseGeometry]]) -> None:
        for _, lines in grid:
            self.pad.lines(lines, "grid", "grid")

    def legend_of_grid(self, grid: list[tuple[str, BaseGeometry]]) -> None:
        if grid:
            words = f"station in {self.unit.sign} and % chord"
            has_chord = any(label.endswith("%") for label, _ in grid)
            self.pad.row(words if has_chord else f"station in {self.unit.sign}", "grid", 0, "line")

    def label_grid(self, grid: list[tuple[str, BaseGeometry]]) -> None:
        """Numbers beyond the ends of the grid lines, outside the sheet."""
        pad = self.pad
        size, gap = pad.size("grid"), pad.gap("label_gap")
        # Leaving the sheet by a hair must not count as over it.
        sheet = pad.seen(self.sheet).buffer(-0.2 * gap)
        shapely.prepare(sheet)
        for label, lines in grid:
            for part in shapely.get_parts(shapely.line_merge(lines)):
                xy = self.view.turn(shapely.get_coordinates(part))
                for end, before in (
                    (xy[0], xy[min(3, len(xy) - 1)]),
                    (xy[-1], xy[-min(4, len(xy))]),
                ):
                    out = (end - before) / max(float(np.hypot(*(end - before))), 1e-12)
                    flat_end = shapely.Point(self.view.turn([end])[0])
                    if any(line.distance(flat_end) < 1.0 for line, _ in self.edges):
                        continue
                    if abs(out[0]) > abs(out[1]):
                        at = (end[0] + np.sign(out[0]) * gap, end[1])
                        spot = Spot(at, anchor="start" if out[0] > 0 else "end")
                    else:
                        spot = Spot((end[0], end[1] + np.sign(out[1]) * (gap + size * 0.45)))
                    patch = text_box(label, spot.at, size, 0.0, spot.anchor)
                    if not sheet.intersects(patch) and pad.placer.free(patch):
                        pad.placer.take(patch)
                        pad.label(label, spot, size, "labels", token="quiet", halo=False)

    def draw_structure(self) -> list[tuple[str, BaseGeometry]]:
        """Ribs, spars, rivet rows and the rest; (name, lines) of those that want a name."""
        named = []
        mine = [line for line in self.geometry.lines if line.skin == self.skin.name]
        for kind in (*LINE_KINDS, *sorted({line.kind for line in mine} - set(LINE_KINDS))):
            drawn = [(line.name, self.cut(line.flat)) for line in mine if line.kind == kind]
            drawn = [(name, lines) for name, lines in drawn if not lines.is_empty]
            for name, lines in drawn:
                self.pad.lines(lines, kind, "structure")
                if kind in NAMED_LINES:
                    named.append((name, lines))
            if drawn:
                self.pad.row(kind, kind, 0, "line")
        return named

    def draw_edges(self) -> None:
        """Laps, openings with crossed diagonals, the outline, and where charts go on."""
        pad = self.pad
        if not self.openings.is_empty:
            pad.fill(self.openings, "opening", "openings")
            for hole in self.openings.geoms:
                x0, y0, x1, y1 = hole.bounds
                cross = MultiLineString([[(x0, y0), (x1, y1)], [(x0, y1), (x1, y0)]])
                pad.lines(shapely.intersection(cross, hole), "leader", "openings")
            pad.lines(self.openings.boundary, "opening", "openings")
            pad.row("opening", "opening")
        if any(item.layer == "laps" for item in pad.items):
            pad.row("lap", "lap")
        boundary = shapely.intersection(sheet_of(self.skin).boundary, self.window)
        if self.edges:
            hidden = shapely.union_all([line for line, _ in self.edges]).buffer(0.05)
            boundary = shapely.difference(boundary, hidden)
        pad.lines(boundary, "sheet", "outline")
        for line, _ in self.edges:
            pad.lines(line, "chart edge", "outline")
        if self.edges:
            pad.row("sheet goes on at the same letter", "chart edge", 0, "line")

    def draw_laps(self) -> None:
        laps = [self.cut(lap.flat) for lap in self.geometry.laps if lap.skin == self.skin.name]
        for lap in laps:
            if not lap.is_empty:
                self.pad.area(lap, "lap", "laps")

    # ----- entries ---------------------------------------------------------------------------

    def draw_entries(self, entries: tuple[Entry, ...]) -> list[tuple[Entry, BaseGeometry]]:
        """Regions from large to small, then lines, then points; what was drawn, with its shape."""
        pad = self.pad
        drawn = []
        samples: dict[str, tuple[int, str]] = {}
        tokens: dict[str, str] = {}
        rank = {"Polygon": 0, "MultiPolygon": 0, "LineString": 1, "MultiLineString": 1}
        shapes = []
        for entry in entries:
            if entry.outline is None:
                continue
            shape = self.cut(entry.outline.shape)
            if shape.area > 0:
                shape = _polygons(shapely.intersection(shape, self.metal, grid_size=1e-4))
            if not shape.is_empty:
                shapes.append((entry, shape))
        shapes.sort(key=lambda pair: (rank.get(pair[1].geom_type, 2), -pair[1].area))
        for entry, shape in shapes:
            token = token_of(entry)
            kind = rank.get(shape.geom_type, 2)
            if kind == 0:
                pad.area(shape, token, "regions")
                x0, y0, x1, y1 = shape.bounds
                if max(x1 - x0, y1 - y0) < pad.gap("mark"):
                    # Too small to be seen at this scale: a mark stands over it.
                    pad.dot(shapely.get_coordinates(shape.representative_point())[0], token)
            elif kind == 1:
                pad.lines(shape, token, "regions")
            else:
                for xy in shapely.get_coordinates(shape):
                    pad.dot(xy, token)
            count, sample = samples.get(entry.kind, (0, ("area", "line", "point")[kind]))
            samples[entry.kind] = (count + 1, sample)
            tokens[entry.kind] = token
            drawn.append((entry, shape))
        for name, (count, sample) in sorted(samples.items()):
            pad.row(name, tokens[name], count, sample)
        return drawn

    def number_entries(
        self, drawn: list[tuple[Entry, BaseGeometry]], numbers: Mapping[str, str]
    ) -> None:
        """The short number of each entry: inside its region where it fits, else beside it."""
        pad = self.pad
        size = pad.size("number")
        frame = box(*self.low, *self.high).buffer(pad.mm(4.0), join_style="mitre")
        for entry, shape in sorted(drawn, key=lambda pair: pair[1].area):
            text = numbers.get(entry.id, "")
            if not text:
                continue
            seen = pad.seen(shape)
            if seen.area > 0:
                spot = pad.placer.place(
                    text, size, inner_spots(seen, upright=False), inside=seen, bold=True
                )
                if spot is not None:
                    pad.label(text, spot, size, "numbers", bold=True)
                    continue
            point = seen.representative_point() if seen.area > 0 else _on_line(seen)
            at = (float(point.x), float(point.y))
            steps = [pad.gap("leader") * f for f in (1.0, 1.5, 2.1, 2.8, 3.6, 4.6, 6.0)]
            spot = pad.placer.place(text, size, around(at, steps), inside=frame, bold=True)
            if spot is None:
                # Nowhere free: a number over another drawing is better than none.
                spot = Spot((at[0], at[1] + pad.gap("leader")))
            ends = self.view.turn([at, spot.at])
            pad.items.append(Stroke(ends, "leader", "numbers"))
            pad.label(text, spot, size, "numbers", bold=True)

    # ----- names -----------------------------------------------------------------------------

    def name_panels(self, drawn: list[tuple[Entry, BaseGeometry]]) -> None:
        """Each panel's name inside it, clear of small entries where there is room."""
        pad = self.pad
        small = [shape for _, shape in drawn if 0 < shape.area < 0.1 * self.sheet.area]
        points = [shape.buffer(pad.gap("mark")) for _, shape in drawn if shape.area == 0]
        busy = pad.seen(shapely.union_all(small + points)) if small or points else None
        for panel in self.geometry.panels:
            if panel.skin != self.skin.name:
                continue
            seen = _polygons(pad.seen(shapely.intersection(panel.flat, self.metal, grid_size=1e-4)))
            if seen.is_empty:
                continue
            clear = seen if busy is None else _polygons(shapely.difference(seen, busy))
            for room in (clear, seen):
                if self._name(panel.name, room):
                    break
            else:
                self._name_beside(panel.name, seen)

    def _name(self, name: str, room: BaseGeometry) -> bool:
        if room.is_empty:
            return False
        shapely.prepare(room)
        for share in (1.0, 0.85, 0.7):
            size = self.pad.size("panel") * share
            spot = self.pad.placer.place(name, size, inner_spots(room), inside=room, bold=True)
            if spot is not None:
                self.pad.label(name, spot, size, "names", bold=True)
                return True
        return False

    def _name_beside(self, name: str, room: BaseGeometry) -> None:
        """A name too long for its panel stands near it, with a line to it."""
        pad = self.pad
        size = pad.size("panel") * 0.7
        point = room.representative_point()
        at = (float(point.x), float(point.y))
        steps = [pad.gap("leader") * f for f in (1.5, 2.5, 4.0, 6.0, 9.0)]
        frame = box(*self.low, *self.high).buffer(pad.mm(4.0), join_style="mitre")
        spot = pad.placer.place(name, size, around(at, steps), inside=frame, bold=True)
        if spot is not None:
            pad.items.append(Stroke(self.view.turn([at, spot.at]), "leader", "names"))
            pad.label(name, spot, size, "names", bold=True)

    def name_lines(self, named: list[tuple[str, BaseGeometry]]) -> None:
        pad = self.pad
        size = pad.size("line")
        window = box(*self.low, *self.high)
        shares = (0.06, 0.94, 0.12, 0.88, 0.3, 0.7, 0.5)
        for name, lines in named:
            merged = shapely.line_merge(lines)
            parts = sorted(shapely.get_parts(merged), key=lambda part: -part.length)
            for part in parts[: max(1, len(self.sides))]:
                if part.length < 2 * width_of(name, size):
                    continue
                xy = self.view.turn(shapely.get_coordinates(part))
                spot = pad.placer.place(name, size, along(xy, size * 0.62, shares), inside=window)
                if spot is not None:
                    pad.label(name, spot, size, "names", token="quiet")

    def name_edges(self) -> None:
        """The same letter at both chart edges that are one line on the part."""
        pad = self.pad
        size = pad.size("match")
        for line, number in self.edges:
            if line.is_empty:
                continue
            xy = self.view.turn(shapely.get_coordinates(line))
            letter = chr(ord("A") + number % 26)
            spots = along(xy, size * 0.9, (0.5, 0.35, 0.65, 0.2, 0.8))
            for spot in spots:
                upright = Spot(spot.at)
                patch = text_box(letter, upright.at, size, bold=True)
                if pad.seen(self.sheet).covers(patch) and pad.placer.free(patch):
                    pad.placer.take(patch)
                    pad.label(letter, upright, size, "names", bold=True)
                    break

    # ----- round the sheet -------------------------------------------------------------------

    def draw_sides(self) -> None:
        """ "upper" and "lower" written up the left margin beside their half of the sheet."""
        pad = self.pad
        size = pad.size("side")
        for side in self.sides:
            if not side.name:
                continue
            shape = shapely.intersection(box(*side.bounds), self.window)
            if shape.is_empty:
                continue
            _, y0, _, y1 = pad.seen(shape).bounds
            if y1 - y0 < 1.1 * width_of(side.name, size, bold=True):
                continue
            spot = Spot((float(self.low[0]) - pad.mm(LEFT - 2.0), (y0 + y1) / 2), 90.0)
            pad.placer.take(text_box(side.name, spot.at, size, 90.0, bold=True))
            pad.label(side.name, spot, size, "labels", bold=True, halo=False)

    def draw_furniture(self, title: str, subtitle: str) -> tuple[float, float, float, float]:
        """Title, bar, arrows and legend; the bounds of the whole drawing in view coordinates."""
        pad = self.pad
        margin = pad.gap("margin")
        left, right = self.low[0] - pad.mm(LEFT), self.high[0] + pad.mm(RIGHT)
        right = max(right, left + pad.mm(NARROWEST))
        width = right - left
        top = draw_title(pad, title, subtitle, left, self.high[1] + pad.mm(ABOVE), width)
        row = self.low[1] - pad.mm(BELOW) - margin
        bar = draw_bar(pad, left, row, min(width * 0.45, pad.gap("bar_longest")), self.unit)
        x, low = bar[2] + pad.mm(10.0), bar[1]
        for side in self.sides:
            taken = draw_compass(pad, side, x, row)
            if taken is not None:
                x, low = taken[2] + pad.mm(8.0), min(low, taken[1])
        right = max(right, x - pad.mm(8.0))
        bottom = draw_legend(pad, left, low - margin * 1.5, right - left)
        return left - margin, bottom - margin, right + margin, top + margin


def token_of(entry: Entry) -> str:
    """The style token of an entry: its kind's own, "other" for a kind that has none yet."""
    kind = KINDS.get(entry.kind)
    return kind.style if kind is not None and kind.style in style().tokens else "other"


def _on_line(shape: BaseGeometry) -> shapely.Point:
    """A point of a line's middle, or the first of some points."""
    if shape.length > 0:
        longest = max(shapely.get_parts(shape), key=lambda part: part.length)
        return shapely.line_interpolate_point(longest, 0.5, normalized=True)
    return shapely.Point(shapely.get_coordinates(shape)[0])


def _describe(
    title: str, subtitle: str, sides: tuple[Side, ...], pad: Pad, unseen_share: float
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
    words.append(f"Not looked at: {100 * unseen_share:.0f} % of the flat sheet drawn.")
    return " ".join(words)


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
) -> DisplayList:
    """The flat map of one face of one skin.

    entries: any of the part's; those with an outline on this face that `show` chooses are drawn,
    none is an empty map, hatched all over as not looked at. units: "metric" or "inch", for stations
    and the scale bar. width, height: mm on paper the whole width and the sheet's own height should
    keep within; text and hatches are sized for it. scale: flat mm per mm on paper instead (1.0 for
    a tracing at 1:1). numbers: entry id -> short text at it; None numbers them in the order given.
    region: draw only this part of the flat plane, with a margin.
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
    work = _Map(geometry, skin, face, region, system, (width, height), scale)
    pad = work.pad
    mine = on_face(entries, skin.name, face)
    chosen = tuple(entry for entry in mine if show.shows(entry))
    seen = shapely.intersection(looked_at(mine, show), work.metal, grid_size=1e-4)
    unseen = _polygons(shapely.difference(work.metal, seen, grid_size=1e-4))
    if numbers is None:
        numbers = {entry.id: str(i) for i, entry in enumerate(chosen, 1)}

    grid = work.grid_lines()
    work.draw_ground(unseen)
    work.draw_grid(grid)
    work.draw_laps()
    drawn = work.draw_entries(chosen)
    if not unseen.is_empty:
        pad.row(NOT_LOOKED_AT, NOT_LOOKED_AT)
    named = work.draw_structure()
    work.draw_edges()
    work.legend_of_grid(grid)
    work.draw_sides()
    work.label_grid(grid)
    work.name_panels(drawn)
    work.name_edges()
    work.number_entries(drawn, numbers)
    work.name_lines(named)

    title = title or geometry.part
    words = f"{skin.name}: {face} face, {work.view.words}"
    low_x, low_y, high_x, high_y = work.draw_furniture(title, words)
    corners = work.view.turn([[low_x, low_y], [high_x, high_y]])
    bounds = (*corners.min(axis=0).tolist(), *corners.max(axis=0).tolist())
    share = unseen.area / work.metal.area if work.metal.area else 0.0
    return DisplayList(
        items=tuple(pad.items),
        bounds=bounds,
        sheet_bounds=work.window.bounds,
        scale=pad.scale,
        view=work.view,
        title=title,
        face=face,
        description=_describe(title, words, work.sides, pad, share),
        legend=tuple(pad.rows),
        numbers={e.id: numbers[e.id] for e, _ in drawn if e.id in numbers},
    )
