"""The keys inside the tables of a part file; a new key of a table is one line here."""

from __future__ import annotations

from dataclasses import replace

from mapper.job.partfile.bodykeys import BODIES, PLACE_ANGLE
from mapper.job.partfile.enteredkeys import ENTERED, FOUND
from mapper.job.partfile.key import FORMS, SHAPES, SIDES, Key


def _length(name: str, help: str, required: bool = False, **more: object) -> Key:
    return Key(name, "length", help, required, **more)  # type: ignore[arg-type]


def _chord(name: str, help: str, required: bool = False, default: str = "") -> Key:
    return Key(name, "percent", help, required, least=0.0, most=100.0, default=default)


def _size(name: str, help: str, required: bool = False, **more: object) -> Key:
    return Key(name, "length", help, required, above=0.0, **more)  # type: ignore[arg-type]


LOFTED = tuple(name for name, shape in SHAPES.items() if shape.sections)
WHOLE = tuple(name for name, shape in SHAPES.items() if shape.whole)

SIDE = Key("side", "choice", "upper or lower surface, or both", choices=SIDES, default="both")
ONE_SIDE = Key("side", "choice", "upper or lower surface", choices=("upper", "lower"))
NAME = Key("name", "text", "what people call it; no other in the file may have it", True)
LIMITS = (
    _length("from_station", "where it begins along the span", default="the first section"),
    _length("to_station", "where it ends along the span", default="the last section"),
    _chord("from_chord", "where it begins, % chord", default="0"),
    _chord("to_chord", "where it ends, % chord", default="100"),
)
STATION_LIMITS, CHORD_LIMITS = LIMITS[:2], LIMITS[2:]

SHEET = (
    Key("alloy", "text", 'alloy and temper in words ("2024-T3"); "" for not known'),
    _size("gauge", "thickness of the sheet"),
    Key(
        "gauge_how",
        "choice",
        "nominal (as the drawing says) or measured",
        choices=("nominal", "measured"),
        default="nominal",
    ),
    Key("cladding", "text", 'in words: "clad both sides", "bare"; "" for not known'),
    Key("thin", "yes/no", "thin or delicate: never blasted", default="false"),
)

FORM_SIZE = (
    _size("diameter", "of a round one"),
    _size("length", "of an oval or rectangle, outboard"),
    _size("width", "of an oval or rectangle, aft"),
    _length("corner_radius", "of a rectangle", least=0.0, default="0"),
    Key("corners", "points", "of a polygon: [outboard, aft] of each corner", count=3),
)

SECTION = (
    _length("station", "where the section is, along the span", True),
    _size("chord", "leading to trailing edge, straight, before twist", True),
    Key("profile", "text", 'four or five digits: "2412", "23012"', default="as the section before"),
    Key("coordinates", "text", "file with the profile's ordinates, two columns, beside this file"),
    Key(
        "twist",
        "angle",
        "nose up is positive, so washout is negative: twist = -2 at the tip",
        least=-30.0,
        most=30.0,
        default="straight between the sections that say it, else 0",
    ),
    _length(
        "leading_edge_aft",
        "leading edge aft of the first section's",
        default="straight between the sections that say it, else from sweep",
    ),
    Key(
        "sweep",
        "angle",
        "of the quarter-chord line from the first section, aft is positive",
        least=-70.0,
        most=70.0,
        default="straight between the sections that say it, else 0",
    ),
    _length(
        "height",
        "of the quarter chord above the first section's",
        default="straight between the sections that say it, else from dihedral",
    ),
    Key(
        "dihedral",
        "angle",
        "from the first section, up is positive",
        least=-60.0,
        most=60.0,
        default="straight between the sections that say it, else 0",
    ),
)

RIB_HOLE = (
    _chord("chord", "centre, % chord", True),
    _size("diameter", "of the hole", True),
    _length("height", "of the centre above the chord line", default="midway between the edges"),
)
WEB_HOLE = (
    _length("station", "centre, along the span", True),
    _size("diameter", "of the hole", True),
    _length("height", "of the centre above the middle between upper and lower edge", default="0"),
)
ANY_HOLE = (
    Key("station", "length", "centre, along the span", True, shapes=("spar web",)),
    Key("chord", "percent", "centre, % chord", True, least=0.0, most=100.0, shapes=("rib",)),
    RIB_HOLE[1],
    Key("height", "length", RIB_HOLE[2].help, default=RIB_HOLE[2].default, shapes=("rib",)),
    Key("height", "length", WEB_HOLE[2].help, default="0", shapes=("spar web",)),
)

WEB = Key("web", "yes/no", "true: its web counts as a skin of its own", default="false")

FIRST = Key(
    "first_number",
    "number",
    "with every: the number of the first one",
    least=0.0,
    most=999.0,
    default="1",
)


def _every(what: str) -> Key:
    return _size(
        "every", f"{what} so far apart, from from_station to to_station, numbered behind the name"
    )


RIB = (
    NAME,
    _length("station", "where it is, along the span; or every"),
    _every("ribs"),
    *STATION_LIMITS,
    FIRST,
    *CHORD_LIMITS,
    WEB,
    Key("lightening_hole", "tables", "a round hole in its web", of=RIB_HOLE),
    *SHEET[:4],
)
SPAR = (
    NAME,
    _chord("chord", "where it is, % chord", True),
    *STATION_LIMITS,
    WEB,
    Key("lightening_hole", "tables", "a round hole in its web", of=WEB_HOLE),
    *SHEET[:4],
)
ENDS = (
    _length("from_station", "one end: station"),
    _chord("from_chord", "one end: % chord"),
    _length("to_station", "other end: station"),
    _chord("to_chord", "other end: % chord"),
)
STRINGER = (
    NAME,
    *ENDS,
    Key(
        "every",
        "percent",
        "stringers so many % chord apart, from from_chord to to_chord, each at its % chord from"
        " end to end, numbered behind the name",
        above=0.0,
        most=100.0,
    ),
    FIRST,
    SIDE,
)
SEAM = (
    NAME,
    _length("station", "for a seam that runs chordwise: its station"),
    _chord("chord", "for a seam that runs spanwise: its % chord"),
    Key("along", "text", "or the name of the rib or spar it is along"),
    Key("side", "choice", "upper or lower surface, or both", choices=SIDES, default="both"),
    *LIMITS,
)
RIVET_ROW = (
    replace(NAME, required=False, default="rivets along ..."),
    Key("along", "text", "name of a rib, spar, stringer or seam; or give both ends"),
    *ENDS,
    _every("rows across the span"),
    FIRST,
    _length("offset", "aft or outboard of the line it is along (negative: forward, inboard)"),
    _size("pitch", "from rivet to rivet", True),
    SIDE,
)
LAP = (
    replace(NAME, required=False, default="lap along ..."),
    Key("along", "text", "name of the seam, rib, spar or stringer it is along", True),
    _size("width", "of the overlap", True),
    Key(
        "towards",
        "choice",
        "where the strip lies from its line",
        choices=("outboard", "inboard", "forward", "aft", "both"),
        default="both",
    ),
    SIDE,
)
# Flat pieces and tubes have no % chord to be placed by.
PLACED = (*WHOLE, "access cover")
PLACE = (
    _length("station", "centre, along the part", shapes=(*PLACED, *BODIES)),
    PLACE_ANGLE,
    Key("chord", "percent", "centre, % chord", least=0.0, most=100.0, shapes=PLACED),
    replace(ONE_SIDE, shapes=PLACED),
    Key("at", "point", "centre on the flat map: [outboard, towards the upper trailing edge]"),
)
OPENING = (
    NAME,
    Key("form", "choice", "what it looks like", True, choices=FORMS),
    *PLACE,
    *FORM_SIZE,
    Key("turned", "angle", "from outboard towards aft", least=-180, most=180, default="0"),
    Key("skin", "text", "name of the skin it is in", default="the first skin"),
)
PANEL = (
    NAME,
    _length("station", "of any place inside it", shapes=(*PLACED, *BODIES)),
    PLACE_ANGLE,
    Key("chord", "percent", "of any place inside it", least=0.0, most=100.0, shapes=PLACED),
    replace(ONE_SIDE, shapes=PLACED),
    Key("at", "point", "any place inside it on the flat map, instead of station and % chord"),
    *SHEET,
    Key("skin", "text", "name of the skin it is in", default="the first skin"),
)
MEASURED = (
    Key(
        "how",
        "choice",
        "what the sizes come from",
        True,
        choices=("tape", "drawing", "scan"),
        shapes=tuple(name for name in SHAPES if name not in ENTERED),
    ),
    Key(
        "how", "choice", "how the area was found", True, choices=tuple(FOUND), shapes=tuple(ENTERED)
    ),
    Key(
        "tolerance",
        "number",
        "+/- of the areas, percent, as a 95 % half-width: 19 times out of 20 the true area lies"
        " within it",
        True,
        least=0.0,
        most=50.0,
    ),
    Key("by", "text", "who measured"),
    Key("date", "date", "when, as 2026-05-31"),
    Key("note", "text", "anything else about the measuring"),
)
PLACEMENT = (
    Key("origin", "space point", "of the part in the aircraft's frame: aft, outboard, up"),
    Key(
        "rotation",
        "angles",
        "turn about the aft, then the outboard, then the up axis; a fin is [90, 0, 0]",
    ),
)
ATTACHMENT = (
    Key("to", "text", "name of the part it is attached to", True),
    Key("part_file", "text", "that part's own file, beside this one: then the place is worked out"),
    Key("origin", "space point", "of this part in that part's frame: aft, outboard, up"),
    Key("rotation", "angles", "turn about that part's aft, then outboard, then up axis"),
)
STATIONS = (
    Key("axis", "choice", "what stations run along", choices=("span", "length"), default="span"),
    _length("datum", "station of the part's own zero, where its frame begins", default="0"),
)
HINGE = (
    *(Key(k.name, k.type, k.help, True, least=k.least, most=k.most) for k in ENDS),
    _length("height", "above the chord line (negative: below)", default="0"),
)
