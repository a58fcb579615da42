"""Maps of panels: no legend where the whole map has it, numbers of their own entries only."""

from __future__ import annotations

import re
from pathlib import Path

from mapper.report.cache import Cache
from mapper.report.figures import map_of
from mapper.report.layout import size_of
from mapper.report.lookup import Lookup
from tests.report.books import shaped


def test_a_panels_map_without_its_legend_is_lower_and_else_the_same(tmp_path: Path) -> None:
    lookup = Lookup(shaped())
    part = lookup.part["wing"]
    sheet = next(s for s in lookup.sheets(part) if lookup.on_sheet(s, lookup.entries(part)))
    cache = Cache(tmp_path)
    drawn = [
        map_of(sheet, lookup.entries(part), lookup.number, "metric", cache, legend=legend)
        for legend in (True, False)
    ]
    (wide, high), (same, lower) = (size_of(d.file) for d in drawn)
    assert same == wide
    assert lower < high - 8.0
    with_it, without = (d.file.read_text("utf-8") for d in drawn)
    assert "not looked at" in with_it
    assert "not looked at" not in without
    assert drawn[0].words == drawn[1].words


def test_entries_of_the_panel_beside_it_are_drawn_without_a_number(tmp_path: Path) -> None:
    lookup = Lookup(shaped())
    part = lookup.part["wing"]
    entries = lookup.entries(part)
    sheet = next(s for s in lookup.sheets(part) if s.panel == "outboard sheet")
    mine = lookup.on_sheet(sheet, entries)
    assert 0 < len(mine) < len(entries)
    cache = Cache(tmp_path)

    def numbers(numbered: tuple[object, ...] | None) -> set[str]:
        drawn = map_of(sheet, entries, lookup.number, "metric", cache, numbered=numbered)
        texts = re.findall(r">([^<>]+)<", drawn.file.read_text("utf-8"))
        return {t for t in texts if t in lookup.number.values()}

    assert numbers(mine) == {lookup.number[e.id] for e in mine}
    assert numbers(()) == set()
