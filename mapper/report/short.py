"""An entry in a few words: enough to know it by; all of it stands under "Entries in full".

Which words, the table of fields says: those expected of the kind first, in the table's order, up to
a length. Times are left to the full list, and so is what the program worked out itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any

from mapper.job.entry import Entry, kind_of
from mapper.job.fields import Field
from mapper.job.values import show
from mapper.report.lookup import Lookup
from mapper.report.phrases import counted, short_day
from mapper.units import Units

MOST = 112  # letters: two lines of the table
LEAST = 12  # letters of a value that is cut to fit; less says nothing
LATER = ("date", "time", "shape")  # types of fields that only the full list shows


def in_short(entry: Entry, units: Units, lookup: Lookup, most: int = MOST) -> str:
    """What an entry says, in at most about `most` letters, ending in "…" where more is recorded.

    What makes its place doubtful is never left out, whatever the length.
    """
    found = list(_values(entry, units, lookup))
    words, left = "", False
    for text in found:
        room = most - len(words) - 2
        if len(text) <= room:
            words = f"{words}; {text}" if words else text
            continue
        left = True
        if not words and room >= LEAST:
            words = text[:room].rstrip()
    if left:
        words += "\u00a0…"
    return " — ".join(w for w in (words or "nothing but the place", *doubts(entry, lookup)) if w)


def doubts(entry: Entry, lookup: Lookup) -> tuple[str, ...]:
    """What a reader has to know before trusting where the entry is drawn; () for nothing."""
    found = []
    if entry.outline is not None and entry.geometry != lookup.part[entry.part_id].geometry:
        found.append("drawn on an earlier shape: place not confirmed")
    if lookup.replaced(entry):
        found.append("the sheet it was on has been taken out")
    return tuple(found)


def _values(entry: Entry, units: Units, lookup: Lookup) -> Iterator[str]:
    if entry.place is not None:
        yield f"at {entry.place.words}"
    kind = kind_of(entry.kind)
    there = [f for f in kind.fields if entry.values.get(f.name) is not None]
    shown = [f for f in there if f.type not in LATER and not f.computed]
    # The first thing a kind is expected to say needs no name; anything else does.
    first = next((f for f in kind.fields if f.expected), None)
    for field in (*(f for f in shown if f.expected), *(f for f in shown if not f.expected)):
        text = value(field, entry.values[field.name], units, lookup)
        bare = field is first and field.type not in ("number", "measured", "yes/no")
        yield text if bare else f"{field.label} {text}"
    if entry.photos:
        yield counted(len(entry.photos), "photo")
    if entry.note:
        yield " ".join(entry.note.split())


def value(field: Field, value: Any, units: Units, lookup: Lookup) -> str:
    """One value in short: of a list of records the first thing that each of them says."""
    if field.type == "reference":
        return lookup.named(str(value))
    if field.type == "records":
        return ", ".join(_first(field, record, units, lookup) for record in value)
    if field.type == "measured":
        return units.measured(value.value, value.plus_minus, field.unit)
    if field.type in ("date", "time"):
        return short_day(value)
    return show(field, value, units)


def _first(field: Field, record: dict[str, Any], units: Units, lookup: Lookup) -> str:
    for one in field.of:
        if record.get(one.name) is not None:
            return value(one, record[one.name], units, lookup)
    return "?"


def person(name: str) -> str:
    """A name short enough for a column: "Ada Mary Rivett" gives "A. M. Rivett"."""
    words = name.split()
    if len(words) < 2:
        return name
    return " ".join((*(f"{w[0]}." for w in words[:-1]), words[-1]))


def recorded(entry: Entry, lookup: Lookup) -> str:
    """The day and the person of an entry, each on a line."""
    when: datetime | None = entry.device_time
    known = lookup.person.get(entry.by)
    return f"{short_day(when)}\n{person(known.name) if known else lookup.by(entry.by)}"
