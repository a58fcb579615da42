"""The page of a panel: where its photos keep it from one page, they are made smaller first."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from mapper.job.entry import PhotoUse
from mapper.report.cache import Cache
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
