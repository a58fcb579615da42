"""The rows, keys and tables of bodies: fuselage, cowling, nacelle, fillet."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from mapper.job.partfile.onekey import Key, Shape

RINGS = ("ellipse", "rounded box", "ordinates")

_COUNTED = "Areas are those of the surface the sizes describe, one area for both faces."
_INNER = "A closed body's inner face is narrower by about 2 pi times the gauge."
_ENDS = tuple(
    Key(
        name,
        "choice",
        f"whether the body's {word} end is a flat skin of its own, or open",
        choices=("open", "closed"),
        default="open",
    )
    for name, word in (("front_end", "forward"), ("aft_end", "after"))
)
_CLOSED_BODIES = {
    "fuselage": "a fuselage or boom through its cross-sections",
    "cowling": "a cowling or cowl panel ring through its cross-sections",
    "nacelle": "a nacelle or pod through its cross-sections",
}

_TURNED_BODIES = {
    "spinner": "a spinner, turned about its axis",
    "fairing": "a fairing or cap turned about an axis",
}
TURNED = tuple(_TURNED_BODIES)
CAP = "tip cap"
CLOSED = (*_CLOSED_BODIES, *_TURNED_BODIES, CAP)
_HALVES = ("outboard", "inboard", "both")

_NAME = Key("name", "text", "what people call it; no other in the file may have it", True)
_FROM_TO = (
    Key("from_station", "length", "where it begins", default="the first cross-section"),
    Key("to_station", "length", "where it ends", default="the last cross-section"),
)
_ANGLE = Key(
    "angle",
    "angle",
    "degrees round from the top, outboard first: 90 is outboard, 180 the bottom",
    least=0.0,
    most=360.0,
)
_WATERLINE = Key("waterline", "length", "or its height above the part's zero")
_HALF = Key(
    "side", "choice", "half of the body that a waterline is on", choices=_HALVES, default="both"
)
_SHEET = (
    Key("alloy", "text", 'alloy and temper in words ("2024-T3"); "" for not known'),
    Key("gauge", "length", "thickness of the sheet", above=0.0),
    Key(
        "gauge_how",
        "choice",
        "nominal (as the drawing says) or measured",
        choices=("nominal", "measured"),
        default="nominal",
    ),
    Key("cladding", "text", 'in words: "clad both sides", "bare"; "" for not known'),
)

CROSS_SECTION = (
    Key("station", "length", "where it is, along the body, growing aft", True),
    Key(
        "form",
        "choice",
        "what it looks like; on a fillet always ordinates",
        choices=RINGS,
        default="as the cross-section before",
    ),
    Key("width", "length", "of an ellipse or rounded box, across", above=0.0),
    Key("depth", "length", "of an ellipse or rounded box, up and down", above=0.0),
    Key("corner_radius", "length", "of a rounded box", above=0.0),
    Key("waterline", "length", "height of its middle above the part's zero", default="0"),
    Key(
        "points",
        "points",
        "ordinates: [half breadth, height] from the top to the bottom centre line; of a fillet"
        " [outboard, up] in order, anti-clockwise seen from behind",
        count=4,
    ),
)
FRAME = (
    _NAME,
    Key("station", "length", "where it is", True),
    Key(
        "web",
        "yes/no",
        "true: a bulkhead or firewall, whose web counts as a skin",
        default="false",
        shapes=CLOSED,
    ),
    *_SHEET,
)
LONGERON = (_NAME, _ANGLE, _WATERLINE, _HALF, *_FROM_TO)
BODY_SEAM = (
    _NAME,
    Key("station", "length", "for a seam round the body: its station"),
    Key("angle", _ANGLE.type, f"for a seam along it: {_ANGLE.help}", least=0.0, most=360.0,
        shapes=CLOSED),
    Key("waterline", "length", "or the height it runs at", shapes=CLOSED),
    Key("along", "text", "or the name of the frame or longeron it is along"),
    Key("side", "choice", _HALF.help, choices=_HALVES, default="both", shapes=CLOSED),
    *_FROM_TO,
    Key("from_angle", "angle", "of a seam round: where it begins, growing to to_angle",
        least=0.0, most=360.0, shapes=CLOSED),
    Key("to_angle", "angle", "of a seam round: where it ends", least=0.0, most=360.0,
        shapes=CLOSED),
)  # fmt: skip
BODY_RIVET_ROW = (
    Key("name", "text", _NAME.help, default="rivets along ..."),
    Key("along", "text", "name of a frame, longeron or seam", True),
    Key("offset", "length", "aft of a line round, or round from a line along the body"),
    Key("pitch", "length", "from rivet to rivet", True, above=0.0),
)
PLACE_ANGLE = Key("angle", "angle", f"centre, {_ANGLE.help}", least=0.0, most=360.0, shapes=CLOSED)

_TABLES = (
    Key("cross_section", "tables", "a cross-section, from forward to aft", of=CROSS_SECTION),
    Key("seam", "tables", "where two sheets meet; seams make panels", of=BODY_SEAM),
    Key("frame", "tables", "a frame, bulkhead or firewall", of=FRAME),
    Key("longeron", "tables", "a longeron or stringer along the body", of=LONGERON),
    Key("rivet_row", "tables", "a row of rivets", of=BODY_RIVET_ROW),
)
_ROUND_FORMS = ("ellipse", "paraboloid", "cone", "ordinates")
_END_FORMS = ("round", "pointed")
_TURNED_KEYS = (
    Key(
        "form",
        "choice",
        "its profile, from the tip to its greatest diameter; or by ordinates",
        True,
        choices=_ROUND_FORMS,
    ),
    Key("diameter", "length", "of an ellipse, paraboloid or cone, at its after end", above=0.0),
    Key("length", "length", "of an ellipse, paraboloid or cone", above=0.0),
    Key("points", "points", "ordinates: [station, radius] from forward to aft", count=4),
    Key(
        "forward_tip",
        "choice",
        "of ordinates that begin with radius 0",
        choices=_END_FORMS,
        default="round",
    ),
    Key(
        "aft_tip",
        "choice",
        "of ordinates that end with radius 0",
        choices=_END_FORMS,
        default="pointed",
    ),
    Key(
        "gores",
        "number",
        "in how many pieces it is laid flat: 1, 2, 3, 4, 6, 8, 12, 16, 24 or 32",
        least=1.0,
        most=32.0,
        default="as many as keep the stretch behind the tip below 1.6 %",
    ),
)
_CAP_KEYS = (
    Key("chord", "length", "of the tip section it closes", True, above=0.0),
    Key("profile", "text", 'of that section, four or five digits: "0012", "23012"', True),
    Key(
        "bulge",
        "number",
        "how far it stands out, in halves of the section's thickness at each place",
        least=0.05,
        most=10.0,
        default="1: half circles",
    ),
    replace(_TURNED_KEYS[-1], default="as many as keep the stretch behind the nose below 1.6 %"),
)
_TIP = (
    "Where the profile meets the axis, a circle of a ten-thousandth of the greatest diameter is"
    " left open."
)

BODIES: Mapping[str, Shape] = MappingProxyType(
    {
        **{
            name: Shape(words, f"{_COUNTED} {_INNER}", axis="length", keys=(*_ENDS, *_TABLES))
            for name, words in _CLOSED_BODIES.items()
        },
        **{
            name: Shape(
                words,
                f"{_COUNTED} {_TIP}",
                axis="length",
                keys=(*_TURNED_KEYS, *(key for key in _TABLES if key.name != "cross_section")),
            )
            for name, words in _TURNED_BODIES.items()
        },
        CAP: Shape(
            "the rounded end of a wing or tail surface, by its tip section",
            f"{_COUNTED} At the nose and the trailing edge a hole of a ten-thousandth of the"
            " greatest thickness is left open.",
            axis="length",
            keys=(*_CAP_KEYS, *(k for k in _TABLES if k.name in ("seam", "rivet_row"))),
        ),
        "fillet": Shape(
            "a fillet: an open strip through cross-sections",
            _COUNTED,
            axis="length",
            keys=tuple(key for key in _TABLES if key.name != "longeron"),
        ),
    }
)
