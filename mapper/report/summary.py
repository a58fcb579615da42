"""The first pages: what this is, what its numbers are and are not, and every part in one table."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from mapper.job.records import Part
from mapper.job.values import missing
from mapper.report import warn
from mapper.report.lookup import LEAST, UNPLACED, Lookup
from mapper.report.model import Block, Bullets, Column, Facts, Section, Table, Words
from mapper.report.numbers import PartNumbers, Row
from mapper.report.phrases import counted, day, moment
from mapper.report.worth import Worth
from mapper.units import Units

ARE_NOT = (
    "Not looked at is hatched on every map and printed as such. It never means clean, and no "
    "number here stands for it.",
    "No number here accepts corrosion, damage, a repair or a part. That is the decision of a "
    "named, licensed person against approved data.",
    "An estimate is not a price and not a promise; makers' sheets and local rules come first.",
)


def are(units: Units) -> tuple[str, ...]:
    """What the numbers are, in the shop's unit of area."""
    return (
        "Areas are those of the modelled surface, worked out exactly from what was measured. How "
        "well that was measured is the only error left: it is printed beside each area as ±.",
        "What was done (stripped, masked, looked at) is the union of what was drawn, so nothing "
        "counts twice.",
        f"Findings per {units.label('mm2')} stand over the area that somebody looked at, with a "
        "95 % interval.",
        "Estimates have a middle, and a low and a high that are a starting range until the shop "
        "has logs of its own. Each starting value names its basis.",
    )


def total(rows: tuple[Row, ...], column: str) -> float:
    """The sum of a column, what is not known left out; 0 for no rows."""
    return float(sum(row.get(column) or 0.0 for row in rows))


def share(part: float, whole: float) -> str:
    """A share of an area (both mm2) in percent that never rounds to "all" or "nothing" when it is
    neither; less than LEAST mm2 is rounding where outlines meet seams, and no difference."""
    if whole <= 0:
        return "-"
    percent = 100 * part / whole
    if part < LEAST < whole:
        return "0 %"
    if whole - part < LEAST < whole:
        return "100 %"
    if 0 < percent < 1:
        return "under 1 %"
    if 99 < percent < 100:
        return "over 99 %"
    return f"{percent:.0f} %"


def cover(
    lookup: Lookup, numbers: Mapping[str, PartNumbers], worth: Worth, when: datetime
) -> tuple[Block, ...]:
    """The blocks of the first page."""
    book = lookup.book
    job = book.job
    facts = (
        ("Airframe", job.airframe),
        ("Serial number", job.serial),
        ("Registration", job.registration),
        ("Owner", job.owner),
        ("Shop", book.shop.name),
        ("Opened", day(job.opened)),
        ("Report made", moment(when)),
        ("Newest hash of the history", book.head or "the history is empty"),
    )
    blocks: list[Block] = [
        Words(_lead(lookup, numbers), "lead"),
        Facts(tuple((label, text or "not recorded") for label, text in facts)),
    ]
    if job.note:
        blocks.append(Words(job.note))
    blocks += worth.brief()
    blocks += [
        Words("What the numbers are", "label"),
        Bullets(are(Units(book.shop.units))),
        Words("What they are not", "label"),
        Bullets(ARE_NOT),
        tolerances(lookup),
        Words(f'Before any work, read "{warn.FOR_ALL}".', "gap"),
    ]
    return tuple(blocks)


def _lead(lookup: Lookup, numbers: Mapping[str, PartNumbers]) -> str:
    book = lookup.book
    if not book.parts:
        return "No part is recorded on this job yet, so there is nothing to show."
    faces = [row for n in numbers.values() for row in n.ledger]
    seen = share(total(tuple(faces), "inspected_mm2"), total(tuple(faces), "area_mm2"))
    findings = sum(e.kind == "finding" for e in book.entries)
    left = sum(e.state != "closed" for e in book.entries)
    lacking = sum(bool(missing(e)) for e in book.entries)
    shaped = sum(bool(p.geometry) for p in book.parts)
    words = (
        f"{counted(len(book.parts), 'part').capitalize()}, {shaped} with a shape; "
        f"{counted(len(book.entries), 'entry', 'entries')}, {left} not closed and {lacking} with "
        f"something still to be written down; {counted(findings, 'finding')}. "
    )
    if seen == "-":
        return words + "There is no area to have looked at yet."
    return words + f"Of all faces together {seen} of the area has been looked at."


def tolerances(lookup: Lookup) -> Table:
    """How each part was measured and how well."""
    rows = []
    for part in lookup.book.parts:
        geometry = lookup.geometry(part)
        if geometry is None:
            rows.append((part.name, "not measured", "-", ""))
        else:
            t = geometry.tolerance
            rows.append((part.name, t.how, f"± {t.percent:g} %", t.note))
    return Table(
        "How the parts were measured",
        (
            Column("Part", share=2),
            Column("Measured by", share=1.2),
            Column("Areas good to", number=True, share=1.1),
            Column("Note", share=2),
        ),
        tuple(rows),
        foot=("The ± is a 95 % half-width of areas. Measure again where a panel decides.",),
        empty="No part is recorded.",
    )


def parts(lookup: Lookup, numbers: Mapping[str, PartNumbers], units: Units) -> Section:
    """Every part with its area and how far it is."""
    rows = []
    for assembly, members in lookup.assemblies():
        name = assembly.name if assembly else UNPLACED
        rows += [_part_row(name, part, lookup, numbers[part.id], units) for part in members]
    table = Table(
        "Areas and progress",
        (
            Column("Assembly", share=1.2),
            Column("Part", share=1.9),
            Column("Area, one face", number=True, share=1.9),
            Column("Faces", number=True, share=0.7),
            Column("Stripped", number=True, share=1),
            Column("Masked", number=True, share=0.9),
            Column("Looked at", number=True, share=1),
            Column("Entries", number=True, share=0.9),
            Column("Not closed", number=True, share=0.9),
        ),
        tuple(rows),
        foot=(
            "Shares are of all faces of a part together; openings are taken off. A part without a "
            "shape has no area yet.",
        ),
        empty="No part is recorded.",
    )
    return Section("Parts and areas", 1, (table,), new_page=True)


def _part_row(
    assembly: str, part: Part, lookup: Lookup, numbers: PartNumbers, units: Units
) -> tuple[str, ...]:
    entries = lookup.entries(part)
    ends = (str(len(entries)), str(sum(e.state != "closed" for e in entries)))
    geometry = lookup.geometry(part)
    if geometry is None:
        return (assembly, part.name, "no shape yet", "-", "-", "-", "-", *ends)
    whole = total(numbers.ledger, "area_mm2")
    faces = max((len(s.face_names) for s in geometry.skins), default=0)
    one_face = sum(
        total(tuple(r for r in numbers.ledger if r["skin"] == s.name), "area_mm2")
        / max(1, len(s.face_names))
        for s in geometry.skins
    )
    return (
        assembly,
        part.name,
        units.with_tolerance(one_face, "mm2", geometry.tolerance.percent),
        str(faces),
        share(total(numbers.ledger, "stripped_mm2"), whole),
        share(total(numbers.ledger, "masked_mm2"), whole),
        share(total(numbers.ledger, "inspected_mm2"), whole),
        *ends,
    )
