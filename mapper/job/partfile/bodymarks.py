"""The lines on a body's skin: seams, frames, longerons and rivet rows; and the bays between."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
import shapely
from shapely import LineString, MultiLineString

from mapper.job.partfile.bodyparts import frames_of
from mapper.job.partfile.naming import extent, round_bay_words, unique
from mapper.job.partfile.spec import PartSpec
from mapper.surface.geometry import Bay, MapLine, Opening
from mapper.surface.lines import station_line
from mapper.surface.panels import cut_by_lines
from mapper.surface.region import difference, union, whole
from mapper.surface.round import angle_box, angle_line, height_line
from mapper.surface.skin import Skin

Row = Mapping[str, Any]
# Ends reach this far (mm, degrees) past their limit, so that a seam that stops at another one meets
# it in spite of rounding.
REACH = 1e-3


class BodyMarks:
    """The lines of one part file on a body's skin."""

    def __init__(self, spec: PartSpec, skin: Skin) -> None:
        self.spec = spec
        self.skin = skin

    def _rows(self, table: str) -> tuple[Row, ...]:
        return tuple(self.spec.own.get(table, ()))

    def lines(self) -> tuple[MapLine, ...]:
        """Every named line; PartFileError for one that lies off the sheet."""
        return tuple(self._lines())

    def _lines(self) -> Iterator[MapLine]:
        skin = self.skin.name
        named: dict[str, Row] = {}
        for table in ("seam", "frame", "longeron"):
            for row in self._rows(table):
                named[row["name"]] = row
                flat = self.line(row)
                if flat.is_empty:
                    key = next(k for k in ("waterline", "angle", "station") if k in row)
                    raise self.spec.error(
                        (*row["path"], key),
                        "the line lies off the sheet;",
                        "a place on the body is allowed.",
                        "Measure it from the part's own zero.",
                    )
                yield MapLine(row["name"], table, skin, flat)
        for row in self._rows("rivet_row"):
            flat = self._beside(named[row["along"]], float(row.get("offset", 0.0)))
            if flat.is_empty:
                raise self.spec.error(
                    (*row["path"], "offset"),
                    "the row lies off the sheet;",
                    "a row on the skin is allowed.",
                    "Make the offset smaller, or turn its sign.",
                )
            yield MapLine(row["name"], "rivet row", skin, flat, pitch=float(row["pitch"]))

    def line(self, row: Row) -> MultiLineString:
        """The line of a seam, frame or longeron, flat mm."""
        low = row.get("from_station", float(np.nanmin(self.skin.station)))
        high = row.get("to_station", float(np.nanmax(self.skin.station)))
        limits = (float(low) - REACH, float(high) + REACH)
        if "angle" in row:
            return angle_line(self.skin, float(row["angle"]), limits)
        if "waterline" in row:
            height = float(row["waterline"])
            return height_line(self.skin, height, str(row.get("side", "both")), limits)
        found = station_line(self.skin, float(row["station"]))
        if "from_angle" not in row:
            return found
        first, last = float(row["from_angle"]) - REACH, float(row["to_angle"]) + REACH
        station = float(row["station"])
        reach = angle_box(self.skin, angles=(first, last), stations=(station - 1.0, station + 1.0))
        return _only_lines(shapely.intersection(found, reach.buffer(1e-6)))

    def _beside(self, row: Row, offset: float) -> MultiLineString:
        """A line `offset` mm aft of a line round, or outboard-first round from one along."""
        along = self.line(row)
        if offset == 0.0:
            return along
        pieces: list[LineString] = []
        axis = 0 if "station" in row else 1
        # Growing angles run towards smaller flat y on a right-hand part.
        sign = 1.0 if axis == 0 else (1.0 if self.skin.mirrored else -1.0)
        for piece in along.geoms:
            two = [piece.offset_curve(d) for d in (offset, -offset)]
            middle = [float(shapely.get_coordinates(one)[:, axis].mean()) for one in two]
            further = int(np.argmax(sign * np.array(middle)))
            pieces.extend(shapely.get_parts(two[further if offset > 0.0 else 1 - further]))
        return _only_lines(shapely.intersection(MultiLineString(pieces), whole(self.skin)))


def _only_lines(shape: shapely.Geometry) -> MultiLineString:
    parts = [p for p in shapely.get_parts(shapely.line_merge(shape)) if isinstance(p, LineString)]
    return MultiLineString([p for p in parts if p.length > 0.0])


def body_bays(
    spec: PartSpec, skin: Skin, openings: tuple[Opening, ...], lines: tuple[MapLine, ...]
) -> tuple[Bay, ...]:
    """Every bay between frames and longerons, openings taken off; none without either."""
    bounds = [line.flat for line in lines if line.kind in ("frame", "longeron")]
    if not bounds:
        return ()
    cells = cut_by_lines(skin, bounds)
    everything = extent(skin, whole(skin))
    frames = [(row.name, row.station) for row in frames_of(spec)]
    names = unique(round_bay_words(extent(skin, cell), everything, frames) for cell in cells)
    shapes = [o.flat for o in openings if o.skin == skin.name]
    taken = union(*shapes) if shapes else None
    return tuple(
        Bay(name, skin.name, cell if taken is None else difference(cell, taken))
        for name, cell in zip(names, cells)
    )
