"""Entries as rows a reader can follow from the number on the map to what was written down."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from mapper.job.entry import Entry, kind_of
from mapper.job.fields import Field
from mapper.job.telling import doubt, values, where
from mapper.job.values import told
from mapper.report.lookup import Lookup, Sheet, shapes_on
from mapper.report.model import Column, Figure, Gallery, Section, Table
from mapper.report.phrases import counted, day, moment
from mapper.report.piles import Pile, piles_on, spanned
from mapper.report.short import pile_in_short, recorded
from mapper.report.witness import changed, penned
from mapper.units import Units

COLUMNS = (
    Column("No.", share=0.65),
    Column("Kind and state", share=1.5),
    Column("What, in short", share=4.4),
    Column("Size here", share=1.05),
    Column("Recorded", share=1.6),
)
FULL_COLUMNS = (
    Column("No.", share=0.4),
    Column("Where, kind, state", share=2.3),
    Column("All that is recorded", share=5.4),
    Column("Size", share=0.9),
    Column("Recorded", share=1.9),
)
IN_FULL = "Entries in full"
SHORT_ID = 8
NEAREST = 2.0  # mm: worked-out distances are not better than the outline they start from


def value_words(field: Field, value: Any, units: Units, lookup: Lookup) -> str:
    """One value as read: a reference by its name, records one after the other."""
    if field.type == "reference":
        return lookup.named(str(value))
    if field.type == "records":
        rows = (pairs(field.of, record, units, lookup, between=", ") for record in value)
        return "; ".join(f"({i}) {row}" for i, row in enumerate(rows, 1))
    if field.type == "shape":
        return "traced"
    # Without a ± the digits typed are all there is: more would claim what nobody measured.
    if field.type == "measured" and value.plus_minus is not None:
        return units.measured(value.value, value.plus_minus, field.unit)
    if field.computed:
        return units.show(value, field.unit, tolerance=NEAREST)
    if field.type == "date":
        return day(value)
    if field.type == "time":
        return moment(value)
    return told(field, value, units)


def pairs(
    fields: Iterable[Field],
    values: Mapping[str, Any],
    units: Units,
    lookup: Lookup,
    between: str = "; ",
) -> str:
    """ "label: value" of all that is there, in the table's order; "" for nothing."""
    return between.join(
        f"{f.label}: {value_words(f, values[f.name], units, lookup)}"
        for f in fields
        if values.get(f.name) is not None
    )


def state_words(entry: Entry) -> str:
    """The state, with its date where there is one."""
    return f"deferred to {day(entry.deferred_to)}" if entry.state == "deferred" else entry.state


def what_words(entry: Entry, units: Units, lookup: Lookup) -> str:
    """All that is recorded in an entry besides its place, one thought a line."""
    lines = [pairs(kind_of(entry.kind).fields, entry.values, units, lookup)]
    if pen := penned(entry, lookup):
        lines.append(f"{pen}.")
    if entry.note:
        lines.append(f"Note: {entry.note}")
    if entry.photos:
        lines.append(counted(len(entry.photos), "photo"))
    if entry.outline is not None and entry.geometry != lookup.part[entry.part_id].geometry:
        lines.append("Drawn on an earlier shape of this part: its place is not confirmed.")
    elif entry.unconfirmed:
        lines.append(f"Its place is not confirmed: {doubt(entry, units)}.")
    if lookup.replaced(entry):
        lines.append("The sheet it was on has been taken out.")
    return "\n".join(line for line in lines if line) or "Nothing but the place."


def where_words(entry: Entry, units: Units, lookup: Lookup) -> str:
    """Part, place on it, kind and state: enough to find an entry again on the metal."""
    part = lookup.part[entry.part_id].name
    place = where(entry, units, lookup.book.geometries)
    return "\n".join(w for w in (part, place, f"{entry.kind}, {state_words(entry)}") if w)


def recorded_words(entry: Entry, lookup: Lookup) -> tuple[str, ...]:
    """When and by whom an entry was recorded and last changed, and its id."""
    first = f"{moment(entry.device_time)}, {lookup.by(entry.by)}"
    return tuple(w for w in (first, changed(entry, lookup), f"id {entry.id[:SHORT_ID]}") if w)


def size_words(entry: Entry, sheet: Sheet | None, units: Units) -> str:
    """Area or length of an entry on a panel (None: of the whole outline).

    The whole outline's area comes from the record; a part of it is told as a share of that, so
    that no second way of measuring creeps in.
    """
    if entry.outline is None:
        return ""
    if entry.outline.region == "point":
        return counted(len(entry.outline.shape.geoms), "point")
    shapes = list(shapes_on(sheet, entry)) if sheet else [entry.outline.shape]
    if entry.outline.region == "line":
        return units.show(sum(s.length for s in shapes), "mm")
    whole = entry.outline.shape.area
    share = sum(s.area for s in shapes) / whole if whole else 0.0
    if sheet is None or share > 0.9995:
        return units.show(entry.outline.drawn_area, "mm2")
    here = units.show(entry.outline.drawn_area * share, "mm2")
    return f"{here}\nof {units.show(entry.outline.drawn_area, 'mm2')}"


def row(pile: Pile, sheet: Sheet | None, units: Units, lookup: Lookup) -> tuple[str, ...]:
    """One row of the table of entries, in short: of one entry, or of several over one place."""
    first = pile[0]
    return (
        spanned([lookup.number[entry.id] for entry in pile]),
        f"{first.kind}\n{state_words(first)}",
        pile_in_short(pile, units, lookup),
        size_words(first, sheet, units),
        recorded(pile, lookup),
    )


def in_full(lookup: Lookup, units: Units) -> Section:
    """Every entry once, with all its values: the list that the short tables lead to."""
    rows = tuple(
        (
            lookup.number[entry.id],
            where_words(entry, units, lookup),
            what_words(entry, units, lookup),
            size_words(entry, None, units),
            "\n".join(recorded_words(entry, lookup)),
        )
        for entry in lookup.book.entries
    )
    caption = f"{counted(len(rows), 'entry', 'entries').capitalize()}, by number"
    table = Table(caption, FULL_COLUMNS, rows, small=True)
    return Section(IN_FULL, 1, (table,), new_page=True)


def table(
    caption: str, entries: Iterable[Entry], sheet: Sheet | None, units: Units, lookup: Lookup
) -> Table:
    """The entries of a page by their numbers, repeated work over one place of a panel in one row;
    says so when there are none."""
    piles = tuple((e,) for e in entries) if sheet is None else piles_on(sheet, entries)
    return Table(
        caption,
        COLUMNS,
        tuple(row(pile, sheet, units, lookup) for pile in piles),
        foot=(f'Times, tools, lots and all other values: "{IN_FULL}", by number.',),
        empty="Nothing is recorded here. That is not the same as clean: see what was looked at.",
    )


def _subject(entry: Entry, units: Units, lookup: Lookup) -> str:
    """What a photo without a caption is of: "finding, corrosion, pitting"."""
    names = {i: lookup.by(i) for i in lookup.person}
    return ", ".join((entry.kind, *values(entry, units, names)[:2]))


def gallery(
    entries: Iterable[Entry], pictures: Mapping[str, Path], lookup: Lookup
) -> tuple[Gallery, ...]:
    """The photos of these entries, three in a row; () for none. pictures: photo id -> file."""
    found = []
    units = Units(lookup.book.shop.units)
    for entry in entries:
        for use in entry.photos:
            if use.photo_id not in pictures:
                continue
            number = lookup.number[entry.id]
            # Without a caption it says what it is a photo of; a pit without a scale says so.
            caption = f"No. {number}: {use.caption or _subject(entry, units, lookup)}"
            if use.mm_per_pixel:
                width = use.mm_per_pixel * lookup.photo[use.photo_id].width
                caption += f" (about {units.show(width, 'mm', digits=2)} wide)"
            elif entry.kind == "finding":
                caption += " (scale not recorded)"
            alt = f"Photo of entry {number}, {entry.kind}. {use.caption or 'It has no caption.'}"
            found.append(Figure(pictures[use.photo_id], alt, caption, "photo", height_mm=60.0))
    return tuple(Gallery(tuple(found[i : i + 3])) for i in range(0, len(found), 3))
