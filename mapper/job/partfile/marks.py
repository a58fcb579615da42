"""The lines on a part's main skin: ribs, spars, stringers, seams, rivet rows; and its laps."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiLineString, MultiPolygon

from mapper.job.partfile.spec import PartSpec, RibSpec, SeamSpec, SparSpec, StringerSpec
from mapper.surface.geometry import Lap, MapLine
from mapper.surface.lines import chord_line, station_line
from mapper.surface.measure import area
from mapper.surface.place import flat_of, place_of
from mapper.surface.region import box, clean, intersection, union, whole
from mapper.surface.skin import Skin
from meshes.loft import LoftPlan

Array = NDArray[np.float64]

Line = RibSpec | SparSpec | StringerSpec | SeamSpec
NO_LINE = MultiLineString()
# Ends reach this far past their limit (mm, or % chord), so that a seam that stops at another one
# meets it in spite of rounding; what sticks out bounds nothing.
REACH = 1e-3
_STEPS = 65


class Marks:
    """The lines of one part file on one skin, by name and side."""

    def __init__(self, spec: PartSpec, skin: Skin, plan: LoftPlan) -> None:
        self.spec = spec
        self.skin = skin
        self.plan = plan
        lines: list[Line] = [*spec.rib, *spec.spar, *spec.stringer, *spec.seam]
        self.named = {line.name: line for line in lines}

    def lines(self) -> tuple[MapLine, ...]:
        """Every named line of the part, in the order of the table of keys."""
        return tuple(self._lines())

    def _lines(self) -> Iterator[MapLine]:
        skin = self.skin.name
        for seam in self.spec.seam:
            yield MapLine(seam.name, "seam", skin, self.line(seam, seam.side), side=seam.side)
        for rib in self.spec.rib:
            yield MapLine(rib.name, "rib", skin, self.line(rib, "both"))
        for spar in self.spec.spar:
            yield MapLine(spar.name, "spar", skin, self.line(spar, "both"))
        for stringer in self.spec.stringer:
            flat = self.line(stringer, stringer.side)
            yield MapLine(stringer.name, "stringer", skin, flat, side=stringer.side)
        for row in self.spec.rivet_row:
            if row.along:
                flat = self.beside(self.named[row.along], row.side, row.offset)
            else:
                ends = StringerSpec(
                    row.path,
                    row.name,
                    row.from_station or 0.0,
                    row.from_chord or 0.0,
                    row.to_station or 0.0,
                    row.to_chord or 0.0,
                )
                flat = self.line(ends, row.side)
            if flat.is_empty:
                raise self.spec.error(
                    (*row.path, "offset" if row.offset else "along"),
                    "the row lies off the sheet;",
                    "a row on the skin is allowed.",
                    "Make the offset smaller, or turn its sign, or choose the other side.",
                )
            yield MapLine(row.name, "rivet row", skin, flat, pitch=row.pitch, side=row.side)

    def line(self, line: Line, side: str) -> MultiLineString:
        """The line on one side or both, flat mm; a seam's own side narrows it."""
        if isinstance(line, SeamSpec) and line.side != "both":
            if side not in (line.side, "both"):
                return NO_LINE
            side = line.side
        if isinstance(line, StringerSpec):
            if line.side != "both":
                if side not in (line.side, "both"):
                    return NO_LINE
                side = line.side
            return self._straight(line, side)
        if isinstance(line, SparSpec) or (isinstance(line, SeamSpec) and line.chord is not None):
            low = self.plan.stations[0] if line.from_station is None else line.from_station
            high = self.plan.stations[-1] if line.to_station is None else line.to_station
            low = max(low - REACH, self.plan.stations[0])
            high = min(high + REACH, self.plan.stations[-1])
            chord = float(line.chord or 0.0)
            # The two edges are one line each, whichever side is asked for.
            side = "upper" if chord == 0.0 and side == "both" else side
            return chord_line(self.skin, chord, side, stations=(low, high))
        low = line.from_chord or 0.0
        high = 100.0 if line.to_chord is None else line.to_chord
        found = station_line(self.skin, float(line.station or 0.0), side)
        if low <= 0.0 and high >= 100.0:
            return found
        reach = box(self.skin, chord=(max(low - REACH, 0.0), min(high + REACH, 100.0)), side=side)
        return _only_lines(shapely.intersection(found, reach))

    def _straight(self, line: StringerSpec, side: str) -> MultiLineString:
        """Straight in plan between its two ends; one piece for each interval between sections."""
        ends = []
        for station, chord in (
            (line.from_station, line.from_chord),
            (line.to_station, line.to_chord),
        ):
            lead, tail = self.plan.chord_line(station)
            ends.append((station, float(lead[0] + 0.01 * chord * tail[0])))
        (y0, x0), (y1, x1) = ends
        cuts = [0.0, 1.0]
        if y0 != y1:
            cuts += [(b - y0) / (y1 - y0) for b in self.plan.stations]
        cuts = sorted({c for c in cuts if 0.0 <= c <= 1.0})
        pieces = []
        for upper in {"upper": (True,), "lower": (False,), "both": (True, False)}[side]:
            for a, b in pairwise(cuts):
                # A hair inside, so that each piece lies on one chart.
                u = np.linspace(a + 1e-9, b - 1e-9, _STEPS)
                stations = y0 + u * (y1 - y0)
                across = x0 + u * (x1 - x0)
                chords = [self._percent(s, x) for s, x in zip(stations, across)]
                flat = flat_of(self.skin, stations, np.array(chords), np.full(len(u), upper))
                if np.isfinite(flat).all():
                    pieces.append(LineString(flat))
        return MultiLineString(pieces)

    def _percent(self, station: float, aft: float) -> float:
        lead, tail = self.plan.chord_line(float(station))
        return float(np.clip(100.0 * (aft - lead[0]) / tail[0], 0.0, 100.0))

    def beside(self, line: Line, side: str, offset: float) -> MultiLineString:
        """A line `offset` mm aft or outboard of another one, measured along the skin."""
        along = self.line(line, side)
        if offset == 0.0:
            return along
        pieces = []
        for piece in along.geoms:
            moved = [piece.offset_curve(d) for d in (offset, -offset)]
            # An offset that folds on itself comes back in several lines.
            pieces.extend(shapely.get_parts(self._further(line, moved, offset > 0.0)))
        return _only_lines(shapely.intersection(MultiLineString(pieces), whole(self.skin)))

    def _further(self, line: Line, two: list[LineString], aft: bool) -> LineString:
        """Of two lines, the one that lies further aft (beside a spanwise line) or outboard."""
        return two[
            int(np.argmax(self._measure(line, two)) if aft else np.argmin(self._measure(line, two)))
        ]

    def _measure(self, line: Line, shapes: list[LineString] | list[MultiPolygon]) -> Array:
        across = isinstance(line, RibSpec) or (isinstance(line, SeamSpec) and line.chord is None)
        values = []
        for shape in shapes:
            points = shapely.get_coordinates(shape)
            places = place_of(self.skin, points)
            known = places.station if across else places.chord
            values.append(float(np.nanmean(known)) if np.isfinite(known).any() else np.nan)
        # A shape off the sheet altogether lies beyond the edge that the other one does not.
        array = np.array(values)
        other = np.nanmean(array) if np.isfinite(array).any() else 0.0
        line_at = self._own(line)
        return np.where(np.isnan(array), 2.0 * line_at - other, array)

    def _own(self, line: Line) -> float:
        if isinstance(line, RibSpec):
            return line.station
        if isinstance(line, SparSpec):
            return line.chord
        if isinstance(line, SeamSpec):
            return float(line.station if line.chord is None else line.chord)  # type: ignore[arg-type]
        return 0.5 * (line.from_chord + line.to_chord)

    def laps(self) -> tuple[Lap, ...]:
        """Every lap: its strip on the skin, and both hidden surfaces below it, mm2."""
        return tuple(self._laps())

    def _laps(self) -> Iterator[Lap]:
        for lap in self.spec.lap:
            line = self.named[lap.along]
            sheet = whole(self.skin)
            strips = [
                intersection(self._strip(line, piece, lap.width, lap.towards), sheet)
                for piece in self.line(line, lap.side).geoms
            ]
            strip = union(*strips) if strips else MultiPolygon()
            if strip.is_empty:
                raise self.spec.error(
                    (*lap.path, "along"),
                    "the strip lies off the sheet;",
                    "a line on the skin is allowed.",
                    "Choose the other side, or where the strip lies from its line.",
                )
            yield Lap(lap.name, self.skin.name, strip, 2.0 * area(self.skin, strip))

    def _strip(self, line: Line, piece: LineString, width: float, towards: str) -> MultiPolygon:
        if towards == "both":
            return clean(piece.buffer(0.5 * width, cap_style="flat"))
        two = [clean(piece.buffer(w, single_sided=True)) for w in (width, -width)]
        measure = self._measure(line, two)
        return two[
            int(np.argmax(measure) if towards in ("aft", "outboard") else np.argmin(measure))
        ]


def _only_lines(shape: shapely.Geometry) -> MultiLineString:
    parts = [p for p in shapely.get_parts(shapely.line_merge(shape)) if isinstance(p, LineString)]
    return MultiLineString([p for p in parts if p.length > 0.0])
