"""The page of one panel on one face: map, picture, what is on it, how far it is, what it takes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from mapper.job.entry import Entry
from mapper.report import entries as rows
from mapper.report.figures import Drawn, is_tall
from mapper.report.lookup import Lookup, Sheet
from mapper.report.model import Beside, Block, Facts, Figure, Gallery, Section, Words
from mapper.report.numbers import Row
from mapper.report.phrases import counted
from mapper.report.pictures import is_bent
from mapper.report.summary import share
from mapper.units import Units

MAP_MOST = 135.0  # mm high on the page of a panel
PHOTO_LEAST = 34.0  # mm high, where that keeps a panel on one page
CLOSE, BESIDE = 0.66, 0.3  # of the width of the text: a map, and a picture in what is left
DONE = (
    ("Stripped", "stripped_mm2"),
    ("Still coated", "remaining_mm2"),
    ("Masked", "masked_mm2"),
    ("Looked at", "inspected_mm2"),
    ("Not looked at", "not_looked_at_mm2"),
)
BENT = "It runs round an edge: what lies behind is on the map only."


@dataclass(frozen=True)
class SheetContent:
    """All that goes on one page besides the record itself."""

    sheet: Sheet
    entries: tuple[Entry, ...]
    map: Drawn
    legend_apart: bool  # on the map of the whole part
    picture: Drawn | None
    done: Row
    methods: tuple[Row, ...]  # of `method_ledger`, on this face
    findings: str
    estimate: tuple[Block, ...]
    gaps: tuple[str, ...]
    cautions: tuple[Block, ...]
    joins: bool = False  # shares the page of the section before it where both fit


def page_of(
    content: SheetContent, photos: Mapping[str, Path], units: Units, lookup: Lookup
) -> Section:
    """The section of one panel on one face."""
    sheet = content.sheet
    drawn = Figure(content.map.file, content.map.words, "", height_mm=MAP_MOST)
    facts = Facts(_facts(content, units))
    picture = _picture(content)
    caption = "Entries, by their numbers on the map"
    if content.legend_apart:
        caption += " (what its hatches mean: see the map of the whole part)"
    rest: list[Block] = [rows.table(caption, content.entries, sheet, units, lookup)]
    rest += rows.gallery(content.entries, photos, lookup)
    rest += content.estimate
    if content.gaps:
        rest.append(Words(f"Not known here: {' '.join(content.gaps)}", "gap"))
    rest += content.cautions
    tight: tuple[Block, ...] = ()
    if is_tall(sheet):
        above: tuple[Block, ...] = (Beside(drawn, (facts, *picture)),)
    else:
        above = (drawn, Beside(picture[0], (facts,)) if picture else facts)
        small = (replace(one, width=BESIDE) for one in picture)
        tight = (Beside(replace(drawn, width=CLOSE), (facts, *small)), *map(_smaller, rest))
    return Section(sheet.name, 3, (*above, *rest), together=True, joins=content.joins, tight=tight)


def _smaller(block: Block) -> Block:
    """Photos as high as they need be to be recognised; anything else as it is."""
    if not isinstance(block, Gallery):
        return block
    return Gallery(tuple(replace(one, height_mm=PHOTO_LEAST) for one in block.figures))


def _picture(content: SheetContent) -> tuple[Figure, ...]:
    if content.picture is None:
        return ()
    narrow = is_tall(content.sheet)
    drawn = content.picture
    width = 0.38 if narrow else 0.35
    caption = BENT if is_bent(content.sheet) else ""
    return (Figure(drawn.file, drawn.words, caption, "picture", width=width, height_mm=60.0),)


def _facts(content: SheetContent, units: Units) -> tuple[tuple[str, str], ...]:
    sheet, done = content.sheet, content.done
    geometry = sheet.geometry
    found: list[tuple[str, str]] = []
    whole = done.get("area_mm2")
    if whole is not None:
        shown = units.with_tolerance(whole, "mm2", geometry.tolerance.percent)
        found.append(("Area", f"{shown}, {geometry.tolerance.how}"))
    for panel in geometry.panels:
        if panel.skin == sheet.skin.name and panel.name == sheet.panel:
            gauge = "gauge not recorded"
            if panel.gauge is not None:
                how = f" ({panel.gauge_how})" if panel.gauge_how else ""
                gauge = units.told(panel.gauge, "mm") + how
            metal = (panel.alloy or "alloy not recorded", gauge, panel.cladding)
            found.append(("Sheet", ", ".join(word for word in metal if word)))
            if panel.thin:
                found.append(("Thin or delicate", "strip chemically, never blast"))
    if whole:
        for label, column in DONE:
            value = done.get(column)
            if value is None:
                found.append((label, "not known"))
            elif value > 0 or column in ("inspected_mm2", "not_looked_at_mm2"):
                found.append((label, f"{units.show(value, 'mm2')} ({share(value, whole)})"))
    found += [(f"Worked, {r['method']}", _worked(r, units)) for r in content.methods]
    found.append(("Findings", content.findings))
    return tuple(found)


def _worked(row: Row, units: Units) -> str:
    """What one method did here: "4 goes over 1.40 m², the last coat off 1.10 m²"."""
    goes = counted(row["goes"], "go", "goes")
    bare = row["stripped_mm2"]
    off = f"the last coat off {units.show(bare, 'mm2')}" if bare else "the last coat off nowhere"
    return f"{goes} over {units.show(row['worked_mm2'], 'mm2')}, {off}"
