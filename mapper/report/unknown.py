"""What is not known, said as plainly as what is."""

from __future__ import annotations

from collections.abc import Mapping

from mapper.estimate.regions import WHOLE
from mapper.job.records import Part
from mapper.job.values import missing
from mapper.report.lookup import Lookup
from mapper.report.model import Block, Column, Section, Table, Words
from mapper.report.numbers import PartNumbers
from mapper.report.phrases import counted
from mapper.report.summary import share
from mapper.report.worth import Worth
from mapper.units import Units

LEAD = (
    "A blank is not a clean bill. This page lists what nobody has looked at, measured, tested or "
    "written down."
)


def unknown(
    lookup: Lookup,
    numbers: Mapping[str, PartNumbers],
    units: Units,
    worth: Worth,
    left_out: tuple[str, ...] = (),
) -> Section:
    """The section, part by part. left_out: sentences about what this copy of the report lacks."""
    blocks: list[Block] = [Words(LEAD, "lead"), not_looked_at(lookup, numbers, units)]
    blocks += [of_part(part, lookup, worth) for part in lookup.book.parts]
    lacking = sum(bool(missing(e)) for e in lookup.book.entries)
    if lacking:
        blocks.append(
            Words(
                f"{counted(lacking, 'entry', 'entries').capitalize()} "
                f"{'lacks something' if lacking == 1 else 'lack something each'} that is expected: "
                'see "To complete".',
                "gap",
            )
        )
    blocks += [Words(text, "gap") for text in left_out]
    return Section("What is not known", 1, tuple(blocks))


def not_looked_at(lookup: Lookup, numbers: Mapping[str, PartNumbers], units: Units) -> Table:
    """Where nobody looked, every panel and face with any such area, the largest first."""
    rows = []
    for part in lookup.book.parts:
        for row in numbers[part.id].ledger:
            area = row.get("not_looked_at_mm2") or 0.0
            if area > 0:
                name = row["skin"] if row["panel"] == WHOLE else row["panel"]
                words = (part.name, name, row["face"], units.show(area, "mm2"))
                rows.append((area, (*words, share(area, row["area_mm2"]))))
    rows.sort(key=lambda pair: -pair[0])
    return Table(
        "Not looked at",
        (
            Column("Part", share=2),
            Column("Panel", share=2),
            Column("Face"),
            Column("Area", number=True),
            Column("Of the panel", number=True),
        ),
        tuple(row for _, row in rows),
        empty="Every panel with a shape has been looked at on every face, by some technique.",
    )


def of_part(part: Part, lookup: Lookup, worth: Worth) -> Block:
    """What is not known about one part and what to do about it; where nobody looked is not
    repeated here."""
    rows: dict[tuple[str, str], list[str]] = {}
    for gap in worth.gaps(part.id):
        if gap["topic"] != "inspection":
            rows.setdefault((gap["text"], gap["to_do"]), []).append(place(gap))
    lines = [(whole(places), text, to_do) for (text, to_do), places in rows.items()]
    lines += [("", text, "Write it down.") for text in silent(part, lookup)]
    return Table(
        part.name,
        (Column("Where", share=1.7), Column("Not known", share=3), Column("To do", share=2.3)),
        tuple(lines),
        empty="No other gap is known.",
    )


def place(gap: Mapping[str, str]) -> str:
    """The panel and face of a gap; "" for the whole part."""
    panel = gap["skin"] if gap["panel"] == WHOLE else gap["panel"]
    return ", ".join(word for word in (panel, gap["face"]) if word)


def whole(places: list[str]) -> str:
    """Several places in one cell; "whole part" for none."""
    return "\n".join(dict.fromkeys(p for p in places if p)) or "whole part"


def silent(part: Part, lookup: Lookup) -> tuple[str, ...]:
    """Sentences on what a part's record says nothing about."""
    if lookup.geometry(part) is None:
        return ()
    if not any(e.kind == "coat zone" for e in lookup.entries(part)):
        return ("No coat zone is recorded: what is on it, in how many coats, nobody has said.",)
    return ()
