"""The first page of a part: what it is, how big, how far, what was found, what it takes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from mapper.estimate.regions import WHOLE
from mapper.job.records import Part
from mapper.report import entries as rows
from mapper.report.figures import Drawn
from mapper.report.lookup import Lookup
from mapper.report.model import (
    Block,
    Column,
    Facts,
    Figure,
    Gallery,
    Section,
    Table,
    Warnings,
    Words,
)
from mapper.report.numbers import PartNumbers, Row
from mapper.report.phrases import day
from mapper.report.summary import total
from mapper.surface.geometry import Geometry
from mapper.units import Units

WHERE = (Column("Panel", share=1.9), Column("Face", share=0.9))


@dataclass(frozen=True)
class PartContent:
    """All that goes on the first page of a part besides the record itself."""

    part: Part
    numbers: PartNumbers
    pictures: tuple[Drawn, ...]
    findings: Table | None
    estimate: tuple[Block, ...]
    cautions: Warnings


def first_page(
    content: PartContent,
    photos: Mapping[str, Path],
    units: Units,
    lookup: Lookup,
    new_page: bool = True,
) -> Section:
    """The section of a part, before those of its panels."""
    part = content.part
    geometry = lookup.geometry(part)
    blocks: list[Block] = [Facts(_facts(part, geometry, lookup))]
    if part.note:
        blocks.append(Words(part.note))
    if geometry is None:
        blocks.append(
            Words(
                "This part has no shape yet: no area, no map and no estimate can be given. Its "
                "entries are listed below.",
                "gap",
            )
        )
    else:
        blocks += _pictures(content.pictures)
        blocks.append(ledger_table(content.numbers, geometry, units))
        blocks.append(size_table(content.numbers, geometry, units))
        if content.findings is not None:
            blocks.append(content.findings)
    blocks += content.estimate
    blocks.append(content.cautions)
    lost = lookup.nowhere(part)
    if lost or not lookup.entries(part):
        caption = "Entries at a place in words, or off every panel"
        blocks.append(rows.table(caption, lost, None, units, lookup))
        blocks += rows.gallery(lost, photos, lookup)
    return Section(part.name, 2, tuple(blocks), new_page=new_page)


def _facts(part: Part, geometry: Geometry | None, lookup: Lookup) -> tuple[tuple[str, str], ...]:
    found = [("Tag code", part.code)] if part.code else []
    if geometry is not None:
        t = geometry.tolerance
        measured = f"{t.how}, areas good to ± {t.percent:g} %" + (f" ({t.note})" if t.note else "")
        found += [("Shape", geometry.shape), ("Measured by", measured)]
        if geometry.attached_to:
            found.append(("Attached to", geometry.attached_to))
        if geometry.bearings_inside:
            found.append(("Bearings inside", "yes: take them out or mask them first"))
    positions = {p.id: p for p in lookup.book.positions if p.part_id == part.id}
    for item in lookup.book.items:
        if item.position_id in positions and (item.until is not None or item.made != "original"):
            when = f"since {day(item.since)}" if item.since else ""
            gone = f"taken out {day(item.until)}" if item.until else ""
            words = ", ".join(w for w in (item.name, item.made, when, gone, item.note) if w)
            found.append((positions[item.position_id].name, words))
    return tuple(found)


def _pictures(pictures: tuple[Drawn, ...]) -> list[Block]:
    figures = tuple(Figure(p.file, p.words, p.words, "picture") for p in pictures)
    if len(figures) == 1:
        one = figures[0]
        return [Figure(one.file, one.alt, one.caption, "picture", height_mm=90.0)]
    return [Gallery(figures)] if figures else []


def where(row: Row) -> tuple[str, str]:
    """The panel and the face of a row, as printed."""
    return (row["skin"] if row["panel"] in ("", WHOLE) else row["panel"], row["face"])


def ledger_table(numbers: PartNumbers, geometry: Geometry, units: Units) -> Table:
    """What is on each face of each panel and what was done to it; areas in one unit."""
    columns = (
        ("Area", "area_mm2"),
        ("Known coats", "painted_mm2"),
        ("Unknown coats", "unknown_mm2"),
        ("Stripped", "stripped_mm2"),
        ("Still coated", "remaining_mm2"),
        ("Masked", "masked_mm2"),
        ("Looked at", "inspected_mm2"),
        ("Not looked at", "not_looked_at_mm2"),
    )
    made = [
        (*where(row), *(_area(row.get(name), units) for _, name in columns))
        for row in numbers.ledger
    ]
    if len(made) > 1:
        sums = (_area(total(numbers.ledger, name), units) for _, name in columns)
        made.append(("All", "", *sums))
    return Table(
        f"What is on it and what was done, areas in {units.label('mm2')}",
        (*WHERE, *(Column(head, number=True) for head, _ in columns)),
        tuple(made),
        total=len(made) > 1,
        foot=(
            *geometry.counted,
            f"Each area is good to ± {geometry.tolerance.percent:g} % ({geometry.tolerance.how}). "
            "A region drawn twice counts once. Stripped means every coat is off.",
        ),
        empty="The shape has no panel to count.",
    )


def _area(value: float | None, units: Units) -> str:
    if value is None:
        return "not known"
    return units.show(value, "mm2", with_label=False) if value else "0"


def size_table(numbers: PartNumbers, geometry: Geometry, units: Units) -> Table:
    """Developed size and stretch of the flat map, one row a panel."""
    made = []
    for row in numbers.areas:
        skin = geometry.skin(row["skin"])
        named = any(p.skin == skin.name for p in geometry.panels)
        if row["face"] != skin.face_names[0] or (named and not row["panel"]):
            continue
        size = tuple(
            units.show(row[name], "mm") if row.get(name) is not None else "not known"
            for name in ("developed_length_mm", "developed_width_mm")
        )
        made.append((where(row)[0], *size, str(row.get("stretch") or "")))
    return Table(
        "Laid out flat",
        (
            Column("Panel", share=2),
            Column("Long", number=True),
            Column("Wide", number=True),
            Column("Stretch of the flat map", share=3.5),
        ),
        tuple(made),
        empty="The shape has no panel to lay out.",
    )
