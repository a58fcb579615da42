"""Values as people type and read them: text for the command line and forms, in the shop's units.

What `show` writes, `parse` reads back. The table of fields decides everything; a new field needs
nothing here.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, datetime, tzinfo
from typing import Any

import shapely

from mapper.errors import MapperError
from mapper.job import check
from mapper.job.entry import Entry, kind_of
from mapper.job.fields import Field, Kind, Measured
from mapper.job.records import Shop
from mapper.units import Units

METRIC = Units("metric")
Find = Callable[[str, str], str]  # (what it refers to, text typed) -> id

_PLUS_MINUS = re.compile(r"\s*(?:\+\s*/\s*-|±|\+-)\s*")
_ISO_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_SHORT_HOUR = re.compile(r"^(\d{4}-\d{2}-\d{2}[ T])(\d:)")  # nine o'clock as people write it
_YES = {"yes": True, "y": True, "true": True, "no": False, "n": False, "false": False}

RECORDED_BY = Field(
    "by", "recorded by", "reference", refers_to="person", expected=True, help="who recorded it"
)


def parse(
    f: Field,
    text: str,
    units: Units = METRIC,
    *,
    find: Find | None = None,
    own: Sequence[str] = (),
    zone: tzinfo | None = None,
) -> Any:
    """The value of a field that a text stands for.

    find: turns what was typed for a reference into an id (as typed without it). own: choices the
    shop has added. zone: that of times typed without an offset (None: the machine's own).
    Raises MapperError saying what was given, what is allowed and what to do.
    """
    given = text.strip()
    if not given:
        raise MapperError(f"{f.label}: nothing was given.", f"Allowed: {allowed(f, units, own)}.")
    if f.type in ("text", "shape", "reference"):
        return _PARSERS[f.type](f, given, find)
    if f.type == "choice":
        return _choice(f, given, own)
    if f.type == "number":
        return _checked(f, _unit_number(f, given, units))
    if f.type == "measured":
        return _checked(f, _measured(f, given, units))
    if f.type == "date":
        return _day(f, given)
    if f.type == "time":
        return _checked(f, _moment(f, given, zone))
    if f.type == "yes/no":
        if given.lower() not in _YES:
            raise MapperError(f"{f.label}: {text!r} was given.", "Allowed: yes or no.")
        return _YES[given.lower()]
    return tuple(
        _record(f, part, units, find=find, zone=zone) for part in _cut(given, "|") if part.strip()
    )


def show(
    f: Field, value: Any, units: Units = METRIC, *, names: Mapping[str, str] | None = None
) -> str:
    """A value's text in the shop's units, as `parse` reads it; "" for None.

    names: words for the ids that references hold; the id itself where there are none.
    """
    if value is None:
        return ""
    if f.type == "number":
        return units.exact(value, f.unit)
    if f.type == "measured":
        text = units.exact(value.value, f.unit)
        return text if value.plus_minus is None else _with_half(text, value, f.unit, units)
    if f.type == "yes/no":
        return "yes" if value else "no"
    if f.type == "date":
        return str(value.isoformat())
    if f.type == "time":
        spec = "auto" if value.second or value.microsecond else "minutes"
        return str(value.isoformat(sep=" ", timespec=spec))
    if f.type == "shape":
        return check.shape_text(value)
    if f.type == "records":
        return " | ".join(
            "; ".join(
                f"{g.name}={_escaped(show(g, record[g.name], units, names=names))}"
                for g in f.of
                if g.name in record
            )
            for record in value
        )
    if f.type == "reference" and names is not None:
        return names.get(value, value)
    return str(value)


def told(
    f: Field, value: Any, units: Units = METRIC, *, names: Mapping[str, str] | None = None
) -> str:
    """A value for a reader, as `show`; one typed in the other system's units stands in the shop's
    own too: "0.0047 ± 0.0008 in (0.12 ± 0.02 mm)"."""
    text = show(f, value, units, names=names)
    if value is None or f.type not in ("number", "measured"):
        return text
    if f.type == "number":
        return units.told(value, f.unit)
    if "±" not in text:
        return units.told(value.value, f.unit)
    half = units.split(text.rsplit("± ", 1)[-1])[1] == units.label(f.unit)
    if half and units.told(value.value, f.unit) == units.exact(value.value, f.unit):
        return text
    return f"{units.measured(value.value, value.plus_minus, f.unit)} ({text})"


def allowed(f: Field, units: Units = METRIC, own: Sequence[str] = ()) -> str:
    """What a field takes, in words: for help texts and messages."""
    if f.type == "choice":
        return ", ".join((*f.choices, *own)) + ', or "other: " with words'
    if f.type in ("number", "measured"):
        least, most = (
            None if bound is None else units.number(bound, f.unit) for bound in (f.least, f.most)
        )
        label = units.label(f.unit)
        words = check.span(least, most, label)
        if least is None and most is None and label:
            words = f"a number in {label}"
        return (
            f"{words}, with or without a +/- (95 % half-width)" if f.type == "measured" else words
        )
    words = {
        "text": "words",
        "date": "a date as 2026-05-31",
        "time": "a time as 2026-05-31 14:20, or with its offset as 2026-05-31 14:20+02:00",
        "yes/no": "yes or no",
        "shape": "an outline in flat mm as well-known text",
    }.get(f.type, "")
    if f.type == "records":
        names = "; ".join(f"{g.name}=..." for g in f.of)
        return f'records "{names}", one after another with | between'
    return words or f"the id, tag code or name of one {f.refers_to}"


def parse_pairs(
    kind: Kind,
    pairs: Iterable[str],
    units: Units = METRIC,
    *,
    find: Find | None = None,
    own: Callable[[Field], Sequence[str]] = lambda f: (),
    zone: tzinfo | None = None,
) -> dict[str, Any]:
    """Values by field name from "field=value" texts; "field=" gives None (take the value off).

    A field is named by its key or its label. Records given again are added to those before; any
    other field given twice is refused.
    """
    found: dict[str, Any] = {}
    for pair in pairs:
        name, sign, text = pair.partition("=")
        f = find_field(kind.fields, name, f"A {kind.name}")
        if not sign:
            raise MapperError(
                f"{pair!r} says nothing about {f.label}.",
                "Values are given as field=value.",
                f"Write {f.name}=... ({allowed(f, units, own(f))}).",
            )
        value = parse(f, text, units, find=find, own=own(f), zone=zone) if text.strip() else None
        if f.name in found and f.type == "records" and value is not None:
            value = (*(found[f.name] or ()), *value)
        elif f.name in found:
            raise MapperError(f"{f.label}: given twice.", "A field has one value.")
        found[f.name] = value
    return found


def find_field(fields: Sequence[Field], name: str, whose: str) -> Field:
    """The field of that key or label ("depth as found" or depth_found); MapperError for none."""
    plain = name.strip().lower()
    key = re.sub(r"[\s\-]+", "_", plain)
    for f in fields:
        if f.name == key or f.label.lower() == plain:
            return f
    raise MapperError(
        f"{whose} has no field {name.strip()!r}.",
        f"Its fields: {', '.join(f.name for f in fields)}.",
        check.nearest(key, [f.name for f in fields]),
    )


def own_choices(shop: Shop, kind: str, f: Field) -> tuple[str, ...]:
    """The choices that the shop has added to a field's list; () for none.

    They stand in the shop's settings under "choices", kind, field. An entry keeps such a word as
    "other: word", so it can be read where the shop's list is not at hand.
    """
    table: Any = shop.settings
    for name in ("choices", kind, f.name):
        table = table.get(name, {}) if isinstance(table, Mapping) else {}
    return tuple(str(w) for w in table) if isinstance(table, list | tuple) else ()


def missing(entry: Entry) -> tuple[Field, ...]:
    """The to-complete list: expected fields that have no value yet; () where nothing is missing."""
    return (
        *(() if entry.by else (RECORDED_BY,)),
        *(f for f in kind_of(entry.kind).fields if _wanted(f, entry.values)),
    )


def _wanted(f: Field, values: Mapping[str, Any]) -> bool:
    if not f.expected or f.name in values:
        return False
    # "unknown = no" answers nothing, so a no does not stand for the value; a measured 0 does.
    given = (values.get(name) for name in f.unless)
    if any(v is not None and v is not False and v != () for v in given):
        return False
    if not f.only_if:
        return True
    name, *words = f.only_if
    return name in values and (not words or values[name] in words)


def _checked(f: Field, value: Any) -> Any:
    return check.field_value(value, f, f.label)


def _unit_number(f: Field, text: str, units: Units) -> float:
    if _PLUS_MINUS.search(text):
        raise MapperError(
            f"{f.label}: {text!r} was given.",
            f"Allowed: {allowed(f, units)}, without a +/-.",
            "Leave the +/- off; the note takes it.",
        )
    try:
        value = units.parse(text, f.unit)
    except MapperError as error:
        raise MapperError(f"{f.label}: {error.given}", error.allowed, error.to_do) from error
    for bound in (f.least, f.most):
        # A bound typed in inches comes back a hair beside it in mm.
        if bound is not None and abs(value - bound) <= 1e-9 * abs(bound):
            value = bound
    low = f.least is not None and value < f.least
    if low or (f.most is not None and value > f.most):
        raise MapperError(f"{f.label}: {text!r} was given.", f"Allowed: {allowed(f, units)}.")
    return value


def _measured(f: Field, text: str, units: Units) -> Measured:
    parts = _PLUS_MINUS.split(text)
    if len(parts) > 2:
        raise MapperError(f"{f.label}: {text!r} has two +/-.", "A value has one +/-.")
    if len(parts) == 2 and parts[1].endswith("%") and not f.unit.startswith("%"):
        raise MapperError(
            f"{f.label}: the +/- is {parts[1]!r}.",
            "It is in the unit of the value, not in percent of it.",
            "Work it out and type the number.",
        )
    word = units.split(parts[-1])[1]
    first = parts[0]
    # "0.12 +/- 0.02 mm": the unit at the end is of both.
    if len(parts) == 2 and word and not units.split(first)[1]:
        first = f"{first} {word}"
    value = _unit_number(f, first, units)
    if len(parts) == 1:
        return Measured(value)
    half = parts[1]
    if not word and units.split(first)[1]:
        half = f"{half} {units.split(first)[1]}"
    return Measured(value, units.parse_width(half, f.unit))


def _with_half(text: str, value: Measured, unit: str, units: Units) -> str:
    """A value's text with its +/-, in the same unit where that says it with few digits."""
    number, label = units.split(text)
    half = units.exact(value.plus_minus or 0.0, unit, width=True)
    size, other = units.split(half)
    if other == label:
        return f"{number} ± {size} {label}".strip()
    # Each as it was typed: one in inches, the other in mm.
    return f"{text} ± {half}"


def _choice(f: Field, text: str, own: Sequence[str]) -> str:
    for word in f.choices:
        if word.lower() == text.lower():
            return word
    for word in own:
        if word.lower() == text.lower():
            return check.OTHER + word
    head, sign, words = text.partition(":")
    if sign and head.strip().lower() == "other" and words.strip():
        return check.OTHER + words.strip()
    raise MapperError(
        f"{f.label}: {text!r} was given.",
        f"Allowed: {allowed(f, own=own)}.",
        check.nearest(text, (*f.choices, *own)),
    )


def _day(f: Field, text: str) -> date:
    try:
        if _ISO_DAY.fullmatch(text):
            return date.fromisoformat(text)
    except ValueError:
        pass
    raise MapperError(f"{f.label}: {text!r} was given.", f"Allowed: {allowed(f)} (year-month-day).")


def _moment(f: Field, text: str, zone: tzinfo | None) -> datetime:
    try:
        if _ISO_DAY.match(text) and len(text) > len("2026-05-31"):
            found = datetime.fromisoformat(_SHORT_HOUR.sub(r"\g<1>0\2", text))
            if found.tzinfo is not None:
                return found
            return found.astimezone() if zone is None else found.replace(tzinfo=zone)
    except (ValueError, OverflowError):
        pass
    raise MapperError(f"{f.label}: {text!r} was given.", f"Allowed: {allowed(f)}.")


def _record(
    f: Field, text: str, units: Units, *, find: Find | None, zone: tzinfo | None
) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for pair in _cut(text, ";"):
        if not pair.strip():
            continue
        name, sign, value = pair.partition("=")
        g = find_field(f.of, name, f"A record of {f.name}")
        if not sign or g.name in values:
            raise MapperError(
                f"{f.label}: {pair.strip()!r} is not one value.",
                f"Allowed: {allowed(f)}.",
            )
        values[g.name] = parse(g, _bare(value), units, find=find, zone=zone)
    return values


def _cut(text: str, mark: str) -> list[str]:
    # A backslash takes the meaning off the sign behind it; `_bare` takes the backslash off.
    parts, start, at = [], 0, 0
    while at < len(text):
        if text[at] == "\\":
            at += 1
        elif text[at] == mark:
            parts.append(text[start:at])
            start = at + 1
        at += 1
    return [*parts, text[start:]]


def _escaped(text: str) -> str:
    return re.sub(r"([\\|;])", r"\\\1", text)


def _bare(text: str) -> str:
    return re.sub(r"\\([\\|;])", r"\1", text)


def _shape(f: Field, text: str, find: Find | None) -> Any:
    try:
        return check.shape(shapely.from_wkt(text), f.label)
    except shapely.errors.ShapelyError as error:
        raise MapperError(f"{f.label}: it cannot be read.", f"Allowed: {allowed(f)}.") from error


def _reference(f: Field, text: str, find: Find | None) -> str:
    return check.identity(text if find is None else find(f.refers_to, text), f.label)


_PARSERS: dict[str, Callable[[Field, str, Find | None], Any]] = {
    "text": lambda f, text, find: check.text(text, f.label, required=True, lines=True),
    "shape": _shape,
    "reference": _reference,
}
