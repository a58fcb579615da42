"""The row and keys of a wing with a curved planform: elliptic, or by ordinates."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from mapper.job.partfile.onekey import Key, Shape

_COUNTED = "Areas are those of the surface the sizes describe, one area for both faces"
_KEYS = (
    Key(
        "planform",
        "choice",
        "seen from above: a part of an ellipse, or by ordinates",
        True,
        choices=("ellipse", "ordinates"),
    ),
    Key("profile", "text", 'four or five digits: "2412", "23012"', True),
    Key("tip_profile", "text", "at the outboard end, blended to evenly", default="profile"),
    Key("root_chord", "length", "of an ellipse, where its chord is longest", above=0.0),
    Key(
        "semi_span",
        "length",
        "of an ellipse, from there to where its chord would be 0",
        above=0.0,
    ),
    Key("to_station", "length", "of an ellipse: where this part of it ends, inboard of that"),
    Key(
        "straight_chord",
        "percent",
        "of an ellipse: which % chord runs straight and square to the axis",
        least=0.0,
        most=100.0,
        default="25",
    ),
    Key("chords", "points", "ordinates: [station, chord], two or more", count=2),
    Key(
        "leading_edges",
        "points",
        "ordinates: [station, how far the leading edge lies aft of the first one]",
        count=2,
    ),
    Key(
        "washout",
        "angle",
        "nose down at the outboard end, growing evenly from 0 inboard",
        least=-30.0,
        most=30.0,
        default="0",
    ),
    Key("dihedral", "angle", "up is positive", least=-60.0, most=60.0, default="0"),
)

CURVED: Mapping[str, Shape] = MappingProxyType(
    {
        "curved loft": Shape(
            "a wing or tail surface with a curved planform", _COUNTED, keys=_KEYS, whole=True
        )
    }
)


def curved_span(values: Mapping[str, Any]) -> tuple[float, float] | None:
    """First and last station (mm) of checked values; None where they do not say."""
    start = float((values.get("stations") or {}).get("datum", 0.0))
    points = values.get("chords")
    end = values.get("to_station") if points is None else points[-1][0]
    return None if end is None or end <= start else (start, float(end))
