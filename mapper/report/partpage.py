"""The first page of a part: what it is, how big, how far, what was found, what it takes."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from shapely import MultiPolygon

from mapper.estimate.regions import WHOLE
from mapper.job.records import Part
from mapper.report import depth, found, witness
from mapper.report import entries as rows
from mapper.report.baywords import Bays
from mapper.report.figures import Drawn
from mapper.report.lookup import Lookup, Sheet
from mapper.report.model import (
    Beside,
    Block,
    Column,
    Facts,
    Figure,
    Gallery,
    Section,
    Table,
    Words,
)
from mapper.report.numbers import WHERE, PartNumbers, Row, place_of, where
from mapper.report.phrases import counted, day, listed
from mapper.report.summary import total
from mapper.surface.geometry import Geometry
from mapper.units import Units

LEDGER_COLUMNS = (
    ("Area", "area_mm2"),
    ("Known coats", "painted_mm2"),
    ("Unknown coats", "unknown_mm2"),
    ("Not said", "no_record_mm2"),
    ("Stripped", "stripped_mm2"),
    ("Still coated", "remaining_mm2"),
    ("Masked", "masked_mm2"),
    ("Looked at", "inspected_mm2"),
    ("Not looked at", "not_looked_at_mm2"),
)
OF_COATS = ("stripped_mm2", "remaining_mm2")
SILENT = "Faces with nothing recorded"
LENGTH = re.compile(r"(?<=about )(\d+(?:\.\d+)?) (mm|in)\b")
STATION = re.compile(r"station (-?[\d,]+) mm")
PICTURE, SMALL_PICTURE = (0.55, 65.0), (0.42, 46.0)  # of the width of the text, and mm high
FEW = 6  # rows of a side table; more of them go in small type


@dataclass(frozen=True)
class PartContent:
    """All that goes on the first page of a part besides the record itself."""

    part: Part
    numbers: PartNumbers
    pictures: tuple[Drawn, ...]
    maps: tuple[Figure, ...]
    recorded: frozenset[tuple[str, str, str]]  # skin, panel and face of those with a page
    estimate: tuple[Block, ...]
    cautions: tuple[Block, ...]
    smoothed: tuple[Block, ...] = ()  # where findings lie close, a map for each face
    bays: Bays = ()  # where it lies in other parts, and what lies in its own bays


def first_page(
    content: PartContent,
    photos: Mapping[str, Path],
    units: Units,
    lookup: Lookup,
    together: bool = True,
) -> Section:
    """The section of a part, before those of its panels. together: on one page where it fits."""
    part = content.part
    geometry = lookup.geometry(part)
    alone = is_one_panel(content.numbers)
    rows_of_facts = _facts(part, geometry, lookup, content.bays)
    if geometry is not None and alone:
        rows_of_facts += _facts_of_panel(content, geometry, units)
    about: list[Block] = [Facts(rows_of_facts)]
    if part.note:
        about.append(Words(part.note))
    blocks = _pictures(content.pictures, about, SMALL_PICTURE if alone else PICTURE)
    if geometry is None:
        blocks.append(
            Words(
                "This part has no shape yet: no area, no map and no estimate can be given. Its "
                "entries are listed below.",
                "gap",
            )
        )
    else:
        blocks += content.maps
        if not alone:  # of one panel the pages of its faces say the same
            blocks.append(ledger_table(content.numbers, geometry, units, content.recorded))
        if len(content.recorded) > 1:  # of one face its own page says the same
            blocks.append(found.table(content.numbers, units, content.recorded))
        blocks += _smoothed(content.smoothed, alone)
        if not alone:
            blocks += methods_table(content.numbers, units)
        blocks += depth.table(content.numbers, units, lookup)
        if not alone:
            blocks += silent_table(content.numbers, units, content.recorded)
            blocks.append(size_table(content.numbers, geometry, units))
    blocks += content.estimate
    blocks += content.cautions
    lost = lookup.nowhere(part)
    if lost or not lookup.entries(part):
        caption = "Entries at a place in words, or off every panel"
        blocks.append(rows.table(caption, lost, None, units, lookup))
        blocks += rows.gallery(lost, photos, lookup)
    return Section(part.name, 2, tuple(blocks), together=together)


def _facts(
    part: Part, geometry: Geometry | None, lookup: Lookup, bays: Bays
) -> tuple[tuple[str, str], ...]:
    found = [("Tag code", part.code)] if part.code else []
    if geometry is not None:
        t = geometry.tolerance
        measured = f"{t.how}, areas good to ± {t.percent:g} %" + (f" ({t.note})" if t.note else "")
        found += [("Shape", geometry.shape), ("Measured by", measured)]
        if geometry.attached_to:
            found.append(("Attached to", geometry.attached_to))
        found += bays
        if geometry.bearings_inside:
            found.append(("Bearings inside", "yes: take them out or mask them first"))
    found += witness.corrected(part, lookup)
    positions = {p.id: p for p in lookup.book.positions if p.part_id == part.id}
    for item in lookup.book.items:
        if item.position_id in positions and (item.until is not None or item.made != "original"):
            when = f"since {day(item.since)}" if item.since else ""
            gone = f"taken out {day(item.until)}" if item.until else ""
            words = ", ".join(w for w in (item.name, item.made, when, gone, item.note) if w)
            found.append((positions[item.position_id].name, words))
    return tuple(found)


def is_one_panel(numbers: PartNumbers) -> bool:
    """Whether all of a part is one panel, so that its pages need not be told from each other."""
    return len({(row["skin"], row["panel"]) for row in numbers.ledger}) == 1


def _facts_of_panel(
    content: PartContent, geometry: Geometry, units: Units
) -> tuple[tuple[str, str], ...]:
    """What the tables of panels would say of the only one: its size, and the faces that nobody has
    recorded anything on."""
    numbers = content.numbers
    (_, long, wide, stretch), *_ = laid_out(numbers, geometry, units)
    laid = f"{long} long, {wide} wide" + (f"; {stretch}" if stretch else "")
    silent = [row for row in numbers.ledger if place_of(row) not in content.recorded]
    rows = [("Laid out flat", laid), ("Areas count", " ".join(_counts(geometry, units)))]
    if silent:
        faces = listed([f"{r['face']} ({_shown(r['area_mm2'], units)})" for r in silent])
        words = f"{faces}: that never means clean, nobody has said anything about it"
        rows.append(("Nothing recorded", words))
    return tuple(row for row in rows if row[1])


def _smoothed(blocks: tuple[Block, ...], alone: bool) -> tuple[Block, ...]:
    """Where findings lie close; how such maps are made is told where there is one, and that a small
    part has none goes without saying."""
    if any(isinstance(block, Figure | Beside) for block in blocks):
        return blocks
    return () if alone else blocks[:-1]


def _pictures(
    pictures: tuple[Drawn, ...], about: list[Block], size: tuple[float, float]
) -> list[Block]:
    """The part's pictures: one of them with the facts beside it, more of them below. size: most of
    the width of the text, and mm of height."""
    wide, high = size
    figures = tuple(
        Figure(p.file, p.words, p.words, "picture", width=wide, height_mm=high) for p in pictures
    )
    if len(figures) == 1:
        return [Beside(figures[0], tuple(about))]
    return [*about, Gallery(figures)] if figures else about


def wholes_of(part: Part, lookup: Lookup, used: tuple[Sheet, ...]) -> tuple[Sheet, ...]:
    """The skins of a part as whole maps: each face of which panels have pages. Of a part that has
    none its first skin, hatched all over as not looked at.

    A skin that is one panel is left out, as that panel's own page shows it whole; so is one on
    which nothing is recorded, which stands in a table with its area.
    """
    geometry = lookup.geometry(part)
    if geometry is None:
        return ()
    found = []
    for skin in geometry.skins:
        panels = {s.panel for s in lookup.sheets(part) if s.skin is skin}
        faces = [f for f in skin.face_names if any(s.skin is skin and s.face == f for s in used)]
        if len(panels) > 1:
            found += [Sheet(part, geometry, skin, WHOLE, face, MultiPolygon()) for face in faces]
    if not used:
        first = geometry.skins[0]
        found = [Sheet(part, geometry, first, WHOLE, first.face_names[0], MultiPolygon())]
    return tuple(found)


def whole_map(drawn: Drawn, first: bool) -> Figure:
    """The map of a whole skin as a figure: the first of a part fills the page of its picture."""
    return Figure(drawn.file, drawn.words, "", height_mm=155.0 if first else 115.0)


def methods_table(numbers: PartNumbers, units: Units) -> tuple[Table, ...]:
    """What each method has done on each face, with a sum for each method that was used on several;
    () where nothing was done yet."""
    if not numbers.methods:
        return ()
    made = [
        (*where(r), r["method"], str(r["goes"]), *_worked((r,), units)) for r in numbers.methods
    ]
    names = dict.fromkeys(r["method"] for r in numbers.methods)
    of_one = {name: tuple(r for r in numbers.methods if r["method"] == name) for name in names}
    sums = [
        ("All panels", "", name, str(sum(r["goes"] for r in own)), *_worked(own, units))
        for name, own in of_one.items()
        if len(own) > 1
    ]
    return (
        Table(
            f"What each method did, areas in {units.label('mm2')}",
            (
                *WHERE,
                Column("Method", share=1.5),
                Column("Goes", number=True, share=0.6),
                Column("Worked over", number=True),
                Column("Made bare", number=True),
            ),
            (*made, *sums),
            foot=(
                "Worked over is the union of a method's goes, so a place gone over twice counts "
                "once; where two methods went over the same place, it counts under both. Made bare "
                "is where the last coat came off by that method: summed over the methods it is "
                '"stripped" above. A go that lies on several panels counts on each.',
            ),
            small=len(made) > FEW,
        ),
    )


def _worked(rows: tuple[Row, ...], units: Units) -> tuple[str, str]:
    return (_area(total(rows, "worked_mm2"), units), _area(total(rows, "stripped_mm2"), units))


def silent_table(
    numbers: PartNumbers, units: Units, recorded: frozenset[tuple[str, str, str]]
) -> tuple[Table, ...]:
    """The faces without a page of their own; () where there are none."""
    rows = [row for row in numbers.ledger if place_of(row) not in recorded]
    if not rows:
        return ()
    names = ("area_mm2", "not_looked_at_mm2")
    table = Table(
        SILENT,
        (*WHERE, Column("Area", number=True), Column("Not looked at", number=True)),
        tuple((*where(row), *(_shown(row.get(name), units) for name in names)) for row in rows),
        foot=("Nothing recorded never means clean: nobody has said anything about these faces.",),
        small=len(rows) > FEW,
    )
    return (table,)


def _shown(value: float | None, units: Units) -> str:
    return "not known" if value is None else units.show(value, "mm2")


def ledger_table(
    numbers: PartNumbers,
    geometry: Geometry,
    units: Units,
    recorded: frozenset[tuple[str, str, str]],
) -> Table:
    """What is on each face with a page, what was done to it, and sums; areas in one unit."""
    made = [
        (*where(row), *_ledger_cells((row,), units))
        for row in numbers.ledger
        if place_of(row) in recorded
    ]
    others = tuple(row for row in numbers.ledger if place_of(row) not in recorded)
    if others:
        words = f"{counted(len(others), 'face')} with nothing recorded"
        made.append((words, "", *_ledger_cells(others, units)))
    if len(made) > 1:
        made.append(("All", "", *_ledger_cells(numbers.ledger, units)))
    return Table(
        f"What is on it and what was done, areas in {units.label('mm2')}",
        (
            Column("Panel", share=1.9),
            Column("Face", share=0.7),
            *(Column(head, number=True) for head, _ in LEDGER_COLUMNS),
        ),
        tuple(made),
        total=len(made) > 1,
        foot=(
            *_counts(geometry, units),
            f"Each area is good to ± {geometry.tolerance.percent:g} % ({geometry.tolerance.how}). "
            "A region drawn twice counts once. Stripped means every coat is off; where a go left a "
            "share of a coat, that share of its area counts as still coated.",
            "Not said: no coat zone is recorded, so nobody has said what is on it.",
        ),
        empty="The shape has no panel to count.",
    )


def _ledger_cells(rows: tuple[Row, ...], units: Units) -> tuple[str, ...]:
    """The sums of these faces under LEDGER_COLUMNS; what is stripped or still coated only where
    somebody said that there are coats."""
    coats = total(rows, "painted_mm2") + total(rows, "unknown_mm2") > 0
    found = []
    for _, name in LEDGER_COLUMNS:
        known = any(row.get(name) is not None for row in rows)
        shown = _area(total(rows, name) if known else None, units)
        found.append(shown if coats or name not in OF_COATS else "-")
    return tuple(found)


def _area(value: float | None, units: Units) -> str:
    if value is None:
        return "not known"
    return units.show(value, "mm2", with_label=False) if value else "0"


def _counts(geometry: Geometry, units: Units) -> tuple[str, ...]:
    """What the areas count; lengths in it, given in the part file's units, in the shop's."""
    return tuple(
        LENGTH.sub(lambda m: units.show(_in_mm(m[2], float(m[1])), "mm", digits=2), words)
        for words in geometry.counted
    )


def _in_mm(unit: str, value: float) -> float:
    """A length in mm of its number in "mm" or "in"."""
    return value * 25.4 if unit == "in" else value


def _in_units(words: str, units: Units) -> str:
    """The sentence about stretch with its station, which it gives in whole mm, in the shop's
    units."""
    return STATION.sub(
        lambda m: f"station {units.show(float(m[1].replace(',', '')), 'mm', digits=4)}", words
    )


def laid_out(
    numbers: PartNumbers, geometry: Geometry, units: Units
) -> tuple[tuple[str, str, str, str], ...]:
    """Panel, developed length and width, and the stretch of its flat map in words, one a panel."""
    made = []
    for row in numbers.areas:
        skin = geometry.skin(row["skin"])
        named = any(p.skin == skin.name for p in geometry.panels)
        if row["face"] != skin.face_names[0] or (named and not row["panel"]):
            continue
        long, wide = (
            units.show(row[name], "mm") if row.get(name) is not None else "not known"
            for name in ("developed_length_mm", "developed_width_mm")
        )
        stretch = _in_units(str(row.get("stretch") or ""), units)
        made.append((where(row)[0], long, wide, stretch))
    return tuple(made)


def size_table(numbers: PartNumbers, geometry: Geometry, units: Units) -> Table:
    """Developed size and stretch of the flat map, one row a panel; a stretch that is the same for
    all stands once."""
    made = laid_out(numbers, geometry, units)
    stretches = dict.fromkeys(row[3] for row in made)
    columns = (
        Column("Panel", share=2),
        Column("Long", number=True, share=0.8),
        Column("Wide", number=True, share=0.8),
        Column("Stretch of the flat map", share=5),
    )
    # Without its words the column stays as room, so that the numbers are read with the panels.
    alike = tuple((*row[:3], "") for row in made) if len(stretches) == 1 else made
    heads = (*columns[:3], Column("", share=5)) if len(stretches) == 1 else columns
    said = [words for words in stretches if words and len(stretches) == 1]
    return Table(
        "Laid out flat",
        heads,
        alike,
        foot=tuple(
            f"The flat map stretches {w}." if w.startswith("at most") else f"The sheet {w}."
            for w in said
        ),
        empty="The shape has no panel to lay out.",
        small=len(made) > FEW,
    )
