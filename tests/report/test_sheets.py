"""The page of a panel: where its photos keep it from one page, they are made smaller first."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from mapper.job import telling
from mapper.job.entry import PhotoUse
from mapper.report.cache import Cache
from mapper.report.entries import gallery
from mapper.report.figures import map_of
from mapper.report.lookup import Lookup
from mapper.report.model import Gallery
from mapper.report.sheets import PHOTO_LEAST, SheetContent, page_of
from mapper.units import Units
from tests.report.books import photo, shaped


def test_the_tight_layout_has_small_photos(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    book = shaped()
    entries = tuple(replace(e, photos=(PhotoUse("ph1", "A pit"),)) for e in book.entries)
    lookup = Lookup(replace(book, entries=entries, photos=(photo(1),)))
    part = lookup.part["wing"]
    sheet = next(s for s in lookup.sheets(part) if lookup.on_sheet(s, entries))
    monkeypatch.setattr("mapper.report.sheets.is_tall", lambda sheet: False)
    drawn = map_of(sheet, entries, lookup.number, "metric", Cache(tmp_path))
    content = SheetContent(
        sheet, lookup.on_sheet(sheet, entries), drawn, False, None, {}, (), "none", (), (), ()
    )
    section = page_of(content, {"ph1": tmp_path / "a.jpg"}, Units("metric"), lookup)
    heights = [
        {f.height_mm for b in blocks if isinstance(b, Gallery) for f in b.figures}
        for blocks in (section.blocks, section.tight)
    ]
    assert heights == [{60.0}, {PHOTO_LEAST}]


def test_a_photo_without_a_caption_says_what_it_is_of_and_a_pit_without_a_scale_so() -> None:
    book = shaped()
    pit = next(e for e in book.entries if e.kind == "finding")
    scaled = PhotoUse("ph1", "", 0.1)
    entries = (replace(pit, photos=(PhotoUse("ph1"), scaled, PhotoUse("ph1", "Pits at the spar"))),)
    lookup = Lookup(replace(book, entries=entries, photos=(photo(1),)))
    (row,) = gallery(entries, {"ph1": Path("a.jpg")}, lookup)
    first = telling.values(pit, Units("metric"), {})[0]
    bare, wide, worded = (figure.caption for figure in row.figures)
    assert bare.startswith(f"No. 1: finding, {first}") and bare.endswith("(scale not recorded)")
    assert wide.endswith("(about 80 mm wide)")  # 800 pixels of a tenth of a millimetre
    assert worded == "No. 1: Pits at the spar (scale not recorded)"
