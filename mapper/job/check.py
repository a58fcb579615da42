"""Checks that every record and entry makes on its own values, always, when it is made.

Each returns the value in its settled form (tuple for list, float for int, fixed offset for a time
zone), so that a record compares equal after it has been stored and read again.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Mapping
from datetime import date, datetime, timezone
from difflib import get_close_matches
from types import MappingProxyType
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.job.fields import Field, Measured

OTHER = "other: "
_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._:\-]{0,63}")
_HIDDEN = ("Cc", "Cf", "Cs", "Zl", "Zp")
_BREAKS = re.compile(r"[\x00-\x1f\x7f\u2028\u2029]")


# Joiners that some scripts need inside their words; they turn nothing round.
_JOINERS = "\u200c\u200d"


def hidden(text: str) -> str:
    """The first sign of a text that no reader sees (a control or format character), or ""."""
    return next((c for c in text if unicodedata.category(c) in _HIDDEN and c not in _JOINERS), "")


def visible(text: str) -> str:
    """A text for a screen: signs that nobody sees, or that turn a line round, as [U+202E]."""
    return "".join(f"[U+{ord(c):04X}]" if hidden(c) and c not in "\n\t" else c for c in text)


def shown(value: object, longest: int = 60) -> str:
    """A value as it stands in a message, cut short where it is long."""
    text = repr(value)
    return text if len(text) <= longest else f"{text[:longest]}..."


def listed(words: object) -> str:
    """Words as they stand in a message: 'a', 'b', 'c'."""
    return ", ".join(repr(w) for w in words)  # type: ignore[attr-defined]


def nearest(word: str, words: list[str] | tuple[str, ...]) -> str:
    """ "Did you mean 'depth_found'?", or "" where nothing is near."""
    close = get_close_matches(word, words, n=1)
    return f"Did you mean {close[0]!r}?" if close else ""


def identity(value: object, what: str) -> str:
    """An id: 1 to 64 letters, digits and . _ : - (a UUID as text is the usual one)."""
    if not isinstance(value, str) or not _ID.fullmatch(value):
        raise MapperError(
            f"The {what} is {shown(value)}.",
            "An id is 1 to 64 letters, digits and . _ : - and begins with a letter or digit.",
            "Take a new UUID as text.",
        )
    return value


def optional_identity(value: object, what: str) -> str:
    """An id, or "" for none."""
    return "" if value == "" else identity(value, what)


def text(value: object, what: str, *, required: bool = False, lines: bool = False) -> str:
    """A text of whole characters; required: not blank; lines: may have line breaks and the like."""
    if not isinstance(value, str):
        raise MapperError(f"The {what} is {shown(value)}.", "It must be text.")
    try:
        value.encode("utf-8")
    except UnicodeEncodeError as error:
        raise MapperError(
            f"The {what} holds half of a character: {shown(value)}.",
            "Text must be whole characters.",
            "Type it again.",
        ) from error
    if required and not value.strip():
        raise MapperError(f"The {what} is empty.", "It must have words.", "Give it a name.")
    if not lines and _BREAKS.search(value):
        raise MapperError(
            f"The {what} holds a line break or control character: {shown(value)}.",
            "It must be one line of text.",
            "Write it on one line, and longer words in the note.",
        )
    return value


def number(
    value: object,
    what: str,
    *,
    least: float | None = None,
    most: float | None = None,
    whole: bool = False,
) -> float:
    """A finite number within its range (bounds allowed)."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise MapperError(f"The {what} is {shown(value)}.", "It must be a finite number.")
    if (least is not None and value < least) or (most is not None and value > most):
        raise MapperError(f"The {what} is {value:g}.", f"Allowed: {span(least, most)}.")
    if whole and value != int(value):
        raise MapperError(f"The {what} is {value:g}.", "It must be a whole number.")
    return float(value)


def span(least: float | None, most: float | None, unit: str = "") -> str:
    """A range in words: "0 or more", "0 to 100 %"."""
    end = f" {unit}" if unit else ""
    if least is not None and most is not None:
        return f"{least:g} to {most:g}{end}"
    if least is not None:
        return f"{least:g}{end} or more"
    return f"{most:g}{end} or less" if most is not None else "any number"


def counted(value: object, what: str) -> int:
    """A whole number, 0 or more."""
    if isinstance(value, bool) or not isinstance(value, int) or value < 0:
        raise MapperError(f"The {what} is {shown(value)}.", "It must be a whole number, 0 or more.")
    return value


def day(value: object, what: str) -> date | None:
    """A date without a time, or None."""
    if value is not None and (not isinstance(value, date) or isinstance(value, datetime)):
        raise MapperError(f"The {what} is {shown(value)}.", "It must be a date, without a time.")
    return value


def moment(value: object, what: str) -> datetime | None:
    """A time with its offset from UTC (the zone's rules are settled to that offset), or None."""
    if value is None:
        return None
    offset = value.utcoffset() if isinstance(value, datetime) else None
    if not isinstance(value, datetime) or offset is None:
        raise MapperError(
            f"The {what} is {shown(value)}.",
            "It must be a time that carries its offset from UTC.",
            "Give it a time zone.",
        )
    return value.replace(tzinfo=timezone(offset), fold=0)


def frozen(value: object, what: str) -> Any:
    """A plain value (text, finite numbers, yes/no, None, lists, mappings), made unchangeable."""
    if value is None or isinstance(value, bool | int):
        return value
    if isinstance(value, str):
        return text(value, what, lines=True)
    if isinstance(value, float):
        return number(value, what)
    if isinstance(value, Mapping):
        return MappingProxyType(
            {text(k, f"name in {what}"): frozen(v, f"{what}, {k}") for k, v in value.items()}
        )
    if isinstance(value, list | tuple):
        return tuple(frozen(v, what) for v in value)
    raise MapperError(
        f"The {what} holds {shown(value)}.",
        "Allowed: text, numbers, yes/no, lists and mappings of these.",
    )


def choice(value: object, what: str, choices: tuple[str, ...]) -> str:
    """One of the choices, or "other: words"."""
    word = text(value, what)
    if word in choices or (word.startswith(OTHER) and word[len(OTHER) :].strip()):
        return word
    raise MapperError(
        f"The {what} is {shown(word)}.",
        f"Allowed: {', '.join(choices)}, or 'other: ' with words.",
        nearest(word, choices) or "Write what it is after 'other: '.",
    )


def shape(value: object, what: str) -> BaseGeometry:
    """A valid, finite, not empty MultiPolygon, MultiLineString or MultiPoint without heights.

    A single polygon, line or point becomes the multi of one.
    """
    if not isinstance(value, BaseGeometry):
        raise MapperError(f"The {what} is {shown(value)}.", "It must be a shape in flat mm.")
    if value.is_empty:
        raise MapperError(
            f"The {what} is empty.", "It must hold an area, a line or a point.", "Draw it again."
        )
    multi = {
        "Polygon": shapely.multipolygons,
        "LineString": shapely.multilinestrings,
        "LinearRing": shapely.multilinestrings,
        "Point": shapely.multipoints,
    }.get(value.geom_type)
    found: Any = value if multi is None else multi([value])
    if found.geom_type not in ("MultiPolygon", "MultiLineString", "MultiPoint"):
        raise MapperError(
            f"The {what} is a {found.geom_type}.",
            "Allowed: polygons, lines or points, one sort at a time.",
        )
    if shapely.has_z(found):
        found = shapely.force_2d(found)
    if not math.isfinite(float(shapely.get_coordinates(found).sum())):
        raise MapperError(f"The {what} has a corner that is not a number.", "Allowed: finite mm.")
    if not shapely.is_valid(found):
        raise MapperError(
            f"The {what} is not a proper outline: {shapely.is_valid_reason(found)}.",
            "An outline does not cross itself, and its pieces do not overlap.",
            "Clean it first.",
        )
    return found


def shape_text(shape: BaseGeometry) -> str:
    """Well-known text of a MultiPolygon, MultiLineString or MultiPoint that is read back to the
    last bit; the library's own writer cuts small coordinates at 16 decimals."""

    def run(part: Any) -> str:
        return f"({', '.join(f'{x!r} {y!r}' for x, y in part.coords)})"

    parts = []
    for part in shapely.get_parts(shape):
        rings = [part.exterior, *part.interiors] if part.geom_type == "Polygon" else []
        parts.append(f"({', '.join(map(run, rings))})" if rings else run(part))
    return f"{shape.geom_type.upper()} ({', '.join(parts)})"


def values(given: object, fields: tuple[Field, ...], what: str, *, whose: str) -> Mapping[str, Any]:
    """Values by field name, each as its field asks, unknown names refused; in the table's order.

    None stands for "not given" and is left out.
    """
    if not isinstance(given, Mapping):
        raise MapperError(f"The {what} is {shown(given)}.", "It must be values by field name.")
    known = {f.name: f for f in fields}
    for name in given:
        if name not in known:
            raise MapperError(
                f"{whose} has no field {shown(name)}.",
                f"It has {', '.join(known)}.",
                nearest(str(name), list(known)),
            )
    return MappingProxyType(
        {
            name: field_value(given[name], f, f"{f.label} of the {what}")
            for name, f in known.items()
            if given.get(name) is not None
        }
    )


def field_value(value: object, f: Field, what: str) -> Any:
    """One value as its field asks. what: the words for it in a message."""
    if f.type == "text":
        return text(value, what, required=True, lines=True)
    if f.type == "choice":
        return choice(value, what, f.choices)
    if f.type == "number":
        return number(value, what, least=f.least, most=f.most, whole=f.whole)
    if f.type == "measured":
        found = value if isinstance(value, Measured) else Measured(value)  # type: ignore[arg-type]
        number(found.value, what, least=f.least, most=f.most)
        return found
    if f.type == "date":
        return _given(day(value, what), what)
    if f.type == "time":
        return _given(moment(value, what), what)
    if f.type == "yes/no":
        if not isinstance(value, bool):
            raise MapperError(f"The {what} is {shown(value)}.", "It must be yes or no.")
        return value
    if f.type == "reference":
        return identity(value, what)
    if f.type == "shape":
        return shape(value, what)
    if not isinstance(value, list | tuple):
        raise MapperError(f"The {what} is {shown(value)}.", "It must be a list of records.")
    if not all(value):
        raise MapperError(f"A record of the {what} is empty.", "Leave it out, or say something.")
    return tuple(
        values(v, f.of, f"{what}, number {i}", whose=f"A record of {f.name}")
        for i, v in enumerate(value, 1)
    )


def _given(value: Any, what: str) -> Any:
    if value is None:
        raise MapperError(f"The {what} is not given.")
    return value
