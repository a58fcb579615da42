"""The end of a report: what is still to be written down, what was used, who signs, what it is."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from mapper.job.kinds.shared import COAT_FIELDS
from mapper.job.records import FinishSystem, Lot
from mapper.job.values import missing
from mapper.report import witness
from mapper.report.entries import pairs, state_words
from mapper.report.lookup import Lookup
from mapper.report.model import Block, Bullets, Column, Facts, Section, Table, ToSign, Words
from mapper.report.phrases import counted, day, moment
from mapper.report.piles import spanned
from mapper.report.short import in_short
from mapper.units import Units

NO_SIGN_OFF = (
    "These lines are for a named, licensed person to fill in and sign by hand. This program "
    "records what people found and decided. It accepts nothing, releases nothing, and nothing in "
    "this report says that a part may be used."
)
TO_COMPLETE = "To complete"
UNDECIDED = ("waiting for the inspector", "deferred")  # states, in the order printed
STANDS_FOR = ("dispositions of corrosion, damage and repairs", "what is inside, before closing up")
WHAT_IT_COVERS = (
    "A signature here stands for the record as far as the hash above, as printed in this report. "
    "What is recorded later gives another hash and is not covered by it; this copy can be checked "
    "against the shop's history with that hash."
)


def to_complete(lookup: Lookup) -> Section:
    """Every entry with the values that are expected and not there yet."""
    rows = []
    for entry in lookup.book.entries:
        wanted = [field.label for field in missing(entry)]
        if wanted:
            part = lookup.part[entry.part_id].name
            rows.append((lookup.number[entry.id], part, entry.kind, ", ".join(wanted)))
    table = Table(
        f"{counted(len(rows), 'entry', 'entries')} to complete",
        (
            Column("No.", share=0.5),
            Column("Part", share=1.6),
            Column("Kind", share=1.2),
            Column("Not written down yet", share=4),
        ),
        tuple(rows),
        empty="Every entry has all that is expected of its kind.",
    )
    return Section(TO_COMPLETE, 1, (table, undecided(lookup)), new_page=True)


def undecided(lookup: Lookup) -> Table:
    """What waits for the inspector, then what was deferred: what somebody has to decide."""
    units = Units(lookup.book.shop.units)
    rows = tuple(
        (
            lookup.number[entry.id],
            lookup.part[entry.part_id].name,
            f"{entry.kind}\n{state_words(entry)}",
            in_short(entry, units, lookup),
        )
        for state in UNDECIDED
        for entry in lookup.book.entries
        if entry.state == state
    )
    return Table(
        "Waiting for the inspector, and deferred",
        (
            Column("No.", share=0.5),
            Column("Part", share=1.4),
            Column("Kind and state", share=1.6),
            Column("What, in short", share=4),
        ),
        rows,
        foot=("An entry that is open or being worked on is not in this list: nobody has handed it "
              "on for a decision yet.",),
        empty="No entry waits for the inspector, and none is deferred.",
    )  # fmt: skip


def _lot_row(lot: Lot, units: Units) -> tuple[str, ...]:
    quantity = "" if lot.quantity is None else f"{lot.quantity:g} {lot.unit}".strip()
    if lot.quantity is not None and lot.unit in ("L", "kg"):
        quantity = units.show(lot.quantity, lot.unit)
    dates = (day(lot.received), day(lot.best_before))
    return (lot.product, lot.number, *dates, quantity, lot.note)


def _coats(system: FinishSystem, units: Units, lookup: Lookup) -> str:
    rows = (pairs(COAT_FIELDS, coat, units, lookup, between=", ") for coat in system.coats)
    return "\n".join(f"{i}. {row}" for i, row in enumerate(rows, 1)) or "no coats described"


def materials(lookup: Lookup, units: Units) -> Section:
    """Lots and finish systems."""
    lots = Table(
        "Lots",
        (
            Column("Product", share=2),
            Column("Lot", share=1.2),
            Column("Received", share=1.3),
            Column("Best before", share=1.3),
            Column("Quantity", number=True),
            Column("Note", share=1.6),
        ),
        tuple(_lot_row(lot, units) for lot in lookup.book.lots),
        empty="No lot of any material is recorded.",
    )
    systems = Table(
        "Finish systems, outermost coat first",
        (Column("Name", share=1.5), Column("Coats", share=4), Column("Note", share=1.5)),
        tuple((s.name, _coats(s, units, lookup), s.note) for s in lookup.book.finish_systems),
        empty="No finish system is described.",
    )
    return Section("Materials", 1, (lots, systems))


def sign_off(lookup: Lookup, when: datetime) -> Section:
    """Lines to sign, per assembly, on a page of their own with the hash they stand for. The one
    licensed person the job has is named; else blank."""
    book = lookup.book
    licensed = [p for p in book.people if p.licence]
    name, licence = ("", "")
    if len(licensed) == 1:
        name, licence = licensed[0].name, licensed[0].licence
    lines = [
        (f"{assembly.name if assembly else 'Other parts'}: {what}", name, licence)
        for assembly, _ in lookup.assemblies()
        for what in STANDS_FOR
    ]
    job = book.job
    facts = (
        ("Job", ", ".join(w for w in (job.name, job.airframe) if w)),
        ("Serial number", job.serial),
        ("Registration", job.registration),
        ("Report made", moment(when)),
        ("Newest hash of the history", book.head or "the history is empty"),
        ("Covers", counted(len(book.entries), "entry", "entries")),
        ("Of these undecided", _undecided(lookup)),
        *_written_by_others(lookup),
    )
    blocks: list[Block] = [
        Words(NO_SIGN_OFF),
        Facts(tuple((label, text or "not recorded") for label, text in facts)),
        *witness.table(lookup),
        Words(WHAT_IT_COVERS, "quiet"),
    ]
    if len(licensed) > 1:
        known = tuple(f"{p.name}, licence {p.licence}" for p in licensed)
        blocks += [Words("People with a licence on record:"), Bullets(known)]
    elif not licensed:
        blocks.append(Words("Nobody with a licence is on record for this job.", "gap"))
    blocks.append(ToSign((*lines, ("", "", ""), ("", "", ""))))
    return Section("Lines to sign", 1, tuple(blocks), new_page=True)


def _written_by_others(lookup: Lookup) -> tuple[tuple[str, str], ...]:
    numbers = witness.others_pen(lookup)
    return (("Dispositions written down by another than who decided", numbers),) if numbers else ()


def _undecided(lookup: Lookup) -> str:
    """The numbers of what waits or was deferred, in words; what is open is counted too."""
    found = []
    for state in UNDECIDED:
        numbers = [lookup.number[e.id] for e in lookup.book.entries if e.state == state]
        if numbers:
            found.append(f"{state}: No. {spanned(numbers)}")
    working = sum(e.state in ("open", "being worked on") for e in lookup.book.entries)
    if working:
        found.append(f"open or being worked on: {working}")
    return "; ".join(found) + f' (see "{TO_COMPLETE}")' if found else "none"


def about(
    lookup: Lookup,
    *,
    made: str,
    replaced: tuple[tuple[str, str, str], ...],
    left_out: tuple[str, ...],
    versions: Mapping[str, str],
) -> Section:
    """What this copy was made from: the head of the history, shapes, what was left out.

    made: when, in words. replaced: rows of `Letters.rows`. versions: part name -> digest.
    """
    head = lookup.book.head or "the history is empty"
    blocks: list[Block] = [
        Facts(
            (
                ("Made", made),
                ("Newest hash of the history", head),
                ("Entries", str(len(lookup.book.entries))),
            )
        ),
        Words(
            "Every change is a row of the history that holds the hash of the row before it. If a "
            "copy of the record does not contain the hash printed here, its newest rows are gone.",
            "quiet",
        ),
        Table(
            "Shapes this report was drawn on",
            (Column("Part", share=2), Column("Digest of its shape", share=5)),
            tuple(versions.items()),
            empty="No part has a shape yet.",
        ),
    ]
    blocks += [Words(text, "gap") for text in left_out]
    if replaced:
        blocks.append(
            Table(
                "Characters that cannot be printed, shown by their number",
                (Column("Shown as"), Column("Name", share=4), Column("Times", number=True)),
                tuple((f"[{code}]", name, times) for code, name, times in replaced),
                foot=("The record holds them as they were written.",),
            )
        )
    return Section("About this copy", 1, tuple(blocks))
