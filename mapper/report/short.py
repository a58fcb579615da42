"""An entry in a few words: enough to know it by; all of it stands under "Entries in full".

Which words, the table of fields says: those expected of the kind first, in the table's order, up to
a length. Times are left to the full list, and so is what the program worked out itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from mapper.job.entry import Entry, kind_of
from mapper.job.fields import Field
from mapper.job.telling import doubt
from mapper.job.values import told
from mapper.report.lookup import Lookup
from mapper.report.phrases import counted, short_day, short_days
from mapper.report.witness import penned
from mapper.units import Units

MOST = 112  # letters: two lines of the table
LEAST = 12  # letters of a value that is cut to fit; less says nothing
LATER = ("date", "time", "shape")  # types of fields that only the full list shows


def in_short(entry: Entry, units: Units, lookup: Lookup, most: int = MOST) -> str:
    """What an entry says, in at most about `most` letters, ending in "…" where more is recorded.

    What makes its place doubtful is never left out, whatever the length.
    """
    words = _cut(_values(entry, units, lookup), most)
    return " — ".join(w for w in (words or "nothing but the place", *doubts(entry, lookup)) if w)


def pile_in_short(entries: Sequence[Entry], units: Units, lookup: Lookup, most: int = MOST) -> str:
    """What several entries of one kind say together: a value that all share once, others one after
    the other, numbers as their range. One entry: as `in_short`; none: ""."""
    if len(entries) < 2:
        return "".join(in_short(e, units, lookup, most) for e in entries)
    fields = [f for f in kind_of(entries[0].kind).fields if _is_shown(f)]
    fields.sort(key=lambda f: not f.expected)
    words = _cut(
        (f"{len(entries)} over the same place", *_shared(fields, entries, units, lookup)), most
    )
    told = dict.fromkeys(text for e in entries for text in doubts(e, lookup))
    return " — ".join((words, *told))


def _cut(texts: Iterable[str], most: int) -> str:
    """As many of the texts as fit, "…" where some are left out."""
    words, left = "", False
    for text in texts:
        room = most - len(words) - 2
        if len(text) <= room:
            words = f"{words}; {text}" if words else text
            continue
        left = True
        if not words and room >= LEAST:
            words = text[:room].rstrip()
    return f"{words}\u00a0…" if left else words


def _is_shown(field: Field) -> bool:
    return field.type not in LATER and not field.computed


def _shared(
    fields: Iterable[Field], entries: Sequence[Entry], units: Units, lookup: Lookup
) -> Iterator[str]:
    """Field by field what the entries say."""
    first = next((f for f in kind_of(entries[0].kind).fields if f.expected), None)
    for field in fields:
        there = [e.values[field.name] for e in entries if e.values.get(field.name) is not None]
        if not there:
            continue
        if field.type in ("number", "measured"):
            numbers = sorted(there, key=lambda v: float(getattr(v, "value", v)))
            ends = dict.fromkeys(value(field, v, units, lookup) for v in (numbers[0], numbers[-1]))
            yield f"{field.label}: {' to '.join(ends)}"
            continue
        texts = dict.fromkeys(value(field, v, units, lookup) for v in there)
        bare = field is first and field.type != "yes/no"
        yield " / ".join(texts) if bare else f"{field.label}: {' / '.join(texts)}"


def doubts(entry: Entry, lookup: Lookup) -> tuple[str, ...]:
    """What a reader has to know before trusting where the entry is drawn, and whose hand a decision
    is in; () for nothing."""
    found = []
    if entry.outline is not None and entry.geometry != lookup.part[entry.part_id].geometry:
        found.append("drawn on an earlier shape: place not confirmed")
    elif entry.unconfirmed:
        words = doubt(entry, Units(lookup.book.shop.units))
        found.append(f"place not confirmed: {words}")
    if lookup.replaced(entry):
        found.append("the sheet it was on has been taken out")
    if pen := penned(entry, lookup):
        found.append(f"{pen[0].lower()}{pen[1:]}")
    return tuple(found)


def _values(entry: Entry, units: Units, lookup: Lookup) -> Iterator[str]:
    if entry.place is not None:
        yield f"at {entry.place.words}"
    kind = kind_of(entry.kind)
    there = [f for f in kind.fields if entry.values.get(f.name) is not None]
    shown = [f for f in there if _is_shown(f)]
    # The first thing a kind is expected to say needs no name; anything else does.
    first = next((f for f in kind.fields if f.expected), None)
    for field in (*(f for f in shown if f.expected), *(f for f in shown if not f.expected)):
        text = value(field, entry.values[field.name], units, lookup)
        bare = field is first and field.type not in ("number", "measured", "yes/no")
        yield text if bare else f"{field.label}: {text}"
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
    if field.type == "measured" and value.plus_minus is not None:
        return units.measured(value.value, value.plus_minus, field.unit)
    if field.type in ("date", "time"):
        return short_day(value)
    return told(field, value, units)


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


def recorded(entries: Sequence[Entry], lookup: Lookup) -> str:
    """The day or days and the people of entries, each on a line."""
    days = sorted(e.device_time for e in entries if e.device_time is not None)
    names = dict.fromkeys(
        person(known.name) if (known := lookup.person.get(e.by)) else lookup.by(e.by)
        for e in entries
    )
    when = short_days(days[0], days[-1]) if days else short_day(None)
    return f"{when}\n{', '.join(names)}"
