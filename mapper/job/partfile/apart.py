"""What `mapper distance` asks for: places and lines by name, true distances along the sheet.

A place is a station and a % chord with the side ("1200 25 upper"); on a round body a station and
the angle round in degrees ("2400 90"); anywhere flat mm of the part's map ("flat 300 120").
"""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.surface.distance import between, to_lines
from mapper.surface.geometry import Geometry
from mapper.surface.measure import area
from mapper.surface.near import free_edges, nearest_lines
from mapper.surface.place import flat_of, param_of_flat, place_of, space_of
from mapper.surface.region import disc, on_sheet, openings_of, stroke
from mapper.surface.round import flat_at_angle, has_angles
from mapper.surface.skin import Array, Skin
from mapper.units import Units

SIDES = ("upper", "lower")
ON_IT = 0.01  # mm: as near as that a place lies on a line
_WIDE = 96


@dataclass(frozen=True)
class Question:
    """What is asked, as typed: start and end are places, line a line's name, within a distance in
    mm. "" and None: not asked. side: for places that do not name theirs."""

    skin: str = ""
    start: str = ""
    end: str = ""
    line: str = ""
    within: float | None = None
    side: str = ""


def place_on(skin: Skin, text: str, side: str, units: Units) -> Array:
    """The flat point (2,) mm of a place in words on a skin. MapperError saying what is allowed."""
    words = text.split()
    if words[:1] == ["flat"]:
        return _flat_place(skin, text, words[1:], units)
    if words and words[-1].lower() in SIDES:
        side, words = words[-1].lower(), words[:-1]
    if len(words) < 2:
        raise MapperError(
            f"The place {text.strip()!r} was given.",
            'Allowed: station and % chord ("1200 25 upper"), on a round body station and angle '
            '("2400 90"), or flat mm of the map ("flat 300 120").',
        )
    station = units.parse(" ".join(words[:-1]), "mm")
    if has_angles(skin):
        angle = units.parse(words[-1], "%")
        found = flat_at_angle(skin, station, angle)[0]
        return _known(skin, found, text, units, "angle round in degrees from the top")
    if not np.isfinite(skin.chord).any():
        raise MapperError(
            f"The skin {skin.name!r} has no % chord and no angle round.",
            'A place on it is flat mm of its map: "flat 300 120".',
        )
    chord = units.parse(words[-1].removesuffix("%"), "%")
    if not 0.0 <= chord <= 100.0:
        raise MapperError(f"{chord:g} % chord was given.", "Allowed: 0 to 100.")
    if side not in SIDES:
        raise MapperError(
            f"The side of the place {text.strip()!r} is not said.",
            "A place by station and % chord is on one side.",
            'Say it with the place ("1200 25 upper"), or --side upper for all.',
        )
    found = flat_of(skin, station, chord, side == "upper")[0]
    return _known(skin, found, text, units, "% chord")


def _flat_place(skin: Skin, text: str, words: list[str], units: Units) -> Array:
    if len(words) != 2:
        raise MapperError(f"The place {text!r} was given.", 'Allowed: "flat X Y", two lengths.')
    found = np.array([units.parse(word, "mm") for word in words])
    if param_of_flat(skin, found)[0][0] < 0:
        corners = np.concatenate([chart.rim for chart in skin.charts])
        low = [units.show(float(v), "mm") for v in corners.min(axis=0)]
        high = [units.show(float(v), "mm") for v in corners.max(axis=0)]
        raise MapperError(
            f"The place {text!r} is off the skin {skin.name!r}.",
            f"Its map reaches from x {low[0]} to {high[0]} and from y {low[1]} to {high[1]}; not "
            "all of that is sheet.",
        )
    return found


def _known(skin: Skin, found: Array, text: str, units: Units, second: str) -> Array:
    if np.isfinite(found).all():
        return found
    low, high = (round(float(v), 2) for v in (skin.station.min(), skin.station.max()))
    raise MapperError(
        f"{skin.name!r} has no place {text.strip()!r}.",
        f"A place is a station from {units.told(low, 'mm')} to {units.told(high, 'mm')} and a "
        f"{second}.",
    )


def line_on(geometry: Geometry, skin: Skin, name: str) -> BaseGeometry:
    """The rib, spar, stringer, rivet row, seam, free edge or opening of a name, in the flat plane.

    "edge" is all free edges together. MapperError naming what the skin has.
    """
    lines: dict[str, list[BaseGeometry]] = {}
    for line in geometry.lines:
        if line.skin == skin.name and line.kind != "hinge line" and not line.flat.is_empty:
            lines.setdefault(line.name, []).append(line.flat)
    edges = free_edges(skin)
    for edge, shape in edges.items():
        lines.setdefault(edge, []).append(shape)
    for opening in geometry.openings:
        if opening.skin == skin.name:
            lines.setdefault(opening.name, []).append(opening.flat.boundary)
    if edges:
        lines.setdefault("edge", list(edges.values()))
    wanted = name.strip().casefold()
    found = [s for key, shapes in lines.items() if key.casefold() == wanted for s in shapes]
    if not found:
        raise MapperError(
            f"The skin {skin.name!r} of {geometry.part} has no line {name!r}.",
            f"It has {'; '.join(lines) or 'none'}.",
        )
    return shapely.union_all(found)


def distance_record(geometry: Geometry, asked: Question, units: Units) -> dict[str, Any]:
    """The answer of `mapper distance`, JSON-able, lengths in mm and in full precision.

    Between two places or from a place to a line: distance_mm (None: no way), straight_mm through
    space between two places. From a place alone: lines, a list of kind, name and distance_mm,
    nearest first. within: area_mm2 of all within that distance of the place, or of the line where
    no place is given, openings off. MapperError for what does not go together or is not there.
    """
    skin = geometry.skin(asked.skin) if asked.skin else geometry.skins[0]
    _goes_together(asked)
    openings = openings_of(geometry, skin.name)
    record: dict[str, Any] = {
        "part": geometry.part,
        "skin": skin.name,
        "tolerance_percent": geometry.tolerance.percent,
        "how": geometry.tolerance.how,
    }
    start = end = None
    if asked.start:
        start = place_on(skin, asked.start, asked.side, units)
        record["from"] = _told(skin, start)
    if asked.end:
        end = place_on(skin, asked.end, asked.side, units)
        record["to"] = _told(skin, end)
    if asked.line:
        record["line"] = asked.line
    if asked.within is not None:
        region = _within(geometry, skin, asked, start, openings)
        record |= {"within_mm": asked.within, "area_mm2": area(skin, region)}
    elif start is not None and end is not None:
        record["distance_mm"] = _finite(between(skin, start, end, openings))
        one, other = space_of(skin, np.stack([start, end]))
        record["straight_mm"] = float(np.linalg.norm(one - other))
    elif start is not None and asked.line:
        line = line_on(geometry, skin, asked.line)
        record["distance_mm"] = _finite(float(to_lines(skin, start, [line], openings)[0]))
    elif start is not None:
        near = nearest_lines(geometry, skin.name, start)
        record["lines"] = [
            {"kind": n.kind, "name": n.name, "distance_mm": n.distance} for n in near
        ]
    return record


def _goes_together(asked: Question) -> None:
    if asked.within is not None:
        if bool(asked.start) == bool(asked.line) or asked.end:
            raise MapperError(
                "--within was given with --from and a line, with --to, or with neither.",
                "It is about one place (--from) or one line (--to-line).",
            )
        if not np.isfinite(asked.within) or asked.within <= 0:
            raise MapperError(
                f"--within {asked.within:g} mm was given.", "A distance above 0 is allowed."
            )
    elif not asked.start:
        raise MapperError("No place to start from was given.", 'Add --from "1200 25 upper".')
    elif asked.end and asked.line:
        raise MapperError("--to and --to-line were given at once.", "One of them is allowed.")


def _within(
    geometry: Geometry, skin: Skin, asked: Question, start: Array | None, openings: MultiPolygon
) -> MultiPolygon:
    within = float(asked.within or 0.0)
    if start is not None:
        found = disc(skin, start, within, openings)
    else:
        found = stroke(skin, line_on(geometry, skin, asked.line), within, openings)
    return on_sheet(geometry, skin.name, found)


def _finite(value: float) -> float | None:
    return value if np.isfinite(value) else None


def _told(skin: Skin, flat: Array) -> dict[str, Any]:
    place = place_of(skin, flat)
    chord = float(place.chord[0])
    return {
        "flat_mm": [float(v) for v in flat],
        "station_mm": _finite(float(place.station[0])),
        "chord_percent": _finite(chord),
        "side": ("upper" if place.upper[0] else "lower") if np.isfinite(chord) else "",
    }


def distance_lines(geometry: Geometry, asked: Question, units: Units) -> list[str]:
    """The answer of `mapper distance` in words; lengths carry half the tolerance of areas."""
    record = distance_record(geometry, asked, units)
    percent = record["tolerance_percent"]
    head = [f"{geometry.part}, skin {record['skin']}"]
    if asked.start:
        head.append(f"from {asked.start.strip()}")
    if asked.end:
        head.append(f"to {asked.end.strip()}")
    if asked.line:
        head.append(f"to {asked.line.strip()}" if asked.start else f"line {asked.line.strip()}")
    lines = textwrap.wrap(", ".join(head), _WIDE)
    if "area_mm2" in record:
        shown = units.with_tolerance(record["area_mm2"], "mm2", percent)
        far = units.told(record["within_mm"], "mm")
        return [*lines, f"Within {far} along the sheet: area {shown}; openings taken off"]
    if "lines" in record:
        rows = [
            f"  {_length(row['distance_mm'], percent, units):>12}  {row['kind']}: {row['name']}"
            for row in record["lines"]
        ]
        none = ["  no named line, edge or opening on this skin"]
        return [*lines, "Nearest along the sheet:", *(rows or none)]
    if record["distance_mm"] is None:
        return [*lines, "No way on the sheet leads there."]
    far = units.with_tolerance(record["distance_mm"], "mm", percent / 2.0)
    words = f"Distance {far} along the sheet, {record['how']}"
    if "straight_mm" in record:
        straight = _length(record["straight_mm"], percent, units)
        words += f"; straight through space {straight}"
    return [*lines, words]


def _length(value: float, percent: float, units: Units) -> str:
    if value < ON_IT:
        value = 0.0
    return units.show(value, "mm", tolerance=value * percent / 200.0 or None)
