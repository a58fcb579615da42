"""The PDF is judged from outside: pikepdf reads what ISO 19005-2 (PDF/A-2a) and ISO 14289-1
(PDF/UA-1) ask for (the keys from memory): part and level in the metadata, a tag tree, a language, a
title, alternative text for every figure, embedded fonts."""

from __future__ import annotations

import random
import unicodedata
from collections.abc import Iterator
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from mapper.errors import MapperError
from mapper.report.cache import Cache
from mapper.report.fonts import printable
from mapper.report.layout import depth_of, size_of
from mapper.report.letters import Letters
from mapper.report.model import (
    Column,
    Document,
    Figure,
    Gallery,
    Section,
    Table,
    Words,
    figures,
    with_text,
)
from mapper.report.pdf import write_pdf
from tests.report.samples import document, drawing

NOW = datetime(2026, 3, 2, 14, 5, tzinfo=timezone(timedelta(hours=1)))


def tags(node: Any) -> Iterator[Any]:
    """Every structure element of a tag tree."""
    if isinstance(node, pikepdf.Array):
        for child in node:
            yield from tags(child)
    elif isinstance(node, pikepdf.Dictionary):
        if "/S" in node:
            yield node
        if "/K" in node:
            yield from tags(node.K)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Document, pikepdf.Pdf]]:
    folder = tmp_path_factory.mktemp("pdf")
    sample = document(folder)
    write_pdf(sample, folder / "x.pdf", NOW)
    with pikepdf.open(folder / "x.pdf") as pdf:
        yield sample, pdf


def test_it_says_which_standards_it_keeps(made: tuple[Document, pikepdf.Pdf]) -> None:
    sample, pdf = made
    with pdf.open_metadata() as metadata:
        assert metadata["pdfaid:part"] == "2"
        assert metadata["pdfaid:conformance"] == "A"
        assert metadata["pdfuaid:part"] == "1"
        assert metadata["dc:title"] == sample.title


def test_it_has_a_tag_tree_a_language_and_shows_its_title(
    made: tuple[Document, pikepdf.Pdf],
) -> None:
    root = made[1].Root
    assert str(root.Lang).startswith("en")
    assert root.MarkInfo.Marked
    assert root.ViewerPreferences.DisplayDocTitle
    kinds = {str(t.S) for t in tags(root.StructTreeRoot.K)}
    assert {"/H1", "/H2", "/H3", "/Table", "/TH", "/Figure", "/L"} <= kinds


def test_every_figure_has_its_alternative_text(made: tuple[Document, pikepdf.Pdf]) -> None:
    sample, pdf = made
    found = [str(t.Alt) for t in tags(pdf.Root.StructTreeRoot.K) if t.S == "/Figure"]
    assert sorted(found) == sorted(f.alt for f in figures(sample))


def test_all_fonts_are_inside(made: tuple[Document, pikepdf.Pdf]) -> None:
    fonts = [o for o in made[1].objects if isinstance(o, pikepdf.Dictionary) and "/FontName" in o]
    assert fonts
    assert all("/FontFile2" in f or "/FontFile3" in f for f in fonts)
    assert all("DejaVu" in str(f.FontName) for f in fonts)


def test_the_same_document_gives_the_same_bytes(tmp_path: Path) -> None:
    for name in ("a.pdf", "b.pdf"):
        write_pdf(document(tmp_path), tmp_path / name, NOW)
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


def test_no_character_stops_it(tmp_path: Path) -> None:
    """Every printable character alone, marks stacked on anything, and 12,000 of any code point."""
    rng = random.Random(7)
    chars = sorted(printable())
    marks = [c for c in chars if unicodedata.category(c)[0] == "M"]
    texts = list(chars)
    for _ in range(300):
        texts.append("".join(rng.choice(marks if rng.random() < 0.5 else chars) for _ in range(30)))
        texts.append("".join(chr(rng.randrange(0x110000)) for _ in range(40)))
    letters = Letters()
    plain = Document("t", "s", tuple(Words(letters(t)) for t in texts), (), "f")
    write_pdf(plain, tmp_path / "x.pdf", NOW)
    assert (tmp_path / "x.pdf").stat().st_size > 10_000
    assert len(letters.rows()) > 5_000


def test_hostile_text_in_every_place_is_printed_as_it_is(tmp_path: Path) -> None:
    note = '#strong[x] *b* _i_ $x$ `r` \\ // <a> @ref "q" = h\n- l \x00 \U0001f600 ' + "x" * 200
    write_pdf(with_text(document(tmp_path, note), Letters()), tmp_path / "x.pdf", NOW)
    with pikepdf.open(tmp_path / "x.pdf") as pdf, pdf.open_metadata() as metadata:
        assert "#strong[x] *b*" in metadata["dc:title"]


def test_a_character_without_a_glyph_would_stop_it(tmp_path: Path) -> None:
    """What `Letters` is for: the typesetter refuses, and its words come through."""
    bad = Document("t", "s", (Words("\U0001f9f0"),), (), "f")
    with pytest.raises(MapperError, match="could not be typeset"):
        write_pdf(bad, tmp_path / "x.pdf", NOW)
    assert not (tmp_path / "x.pdf").exists()


def test_an_empty_document_is_still_one(tmp_path: Path) -> None:
    write_pdf(Document("t", "s", (), (), "f"), tmp_path / "x.pdf", NOW)
    with pikepdf.open(tmp_path / "x.pdf") as pdf:
        assert len(pdf.pages) >= 1


def test_the_contents_list_stays_on_a_page() -> None:
    parts = tuple(Section(f"Part {i}", 2) for i in range(60))
    panels = tuple(Section(f"Panel {i}", 3) for i in range(200))
    start = Section("Wing", 1)
    assert depth_of(Document("t", "s", (), (start, *parts[:5], *panels), "f")) == 2
    assert depth_of(Document("t", "s", (), (start, *parts), "f")) == 1


def test_a_section_is_kept_together_by_smaller_maps_where_that_is_enough(tmp_path: Path) -> None:
    """A4 less its margins is 266 mm high: two maps of 174 x 135 mm fit when a little smaller, and
    three do not fit on a page whatever is done."""
    tall = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 174 135"></svg>'
    figure = Figure(drawing(tmp_path, tall), "A map.", "", height_mm=135.0)
    pages = []
    for count in (2, 3):
        section = Section("Panel", 1, (figure,) * count, together=True)
        write_pdf(Document("t", "s", (), (section,), "f"), tmp_path / "x.pdf", NOW)
        with pikepdf.open(tmp_path / "x.pdf") as pdf:
            pages.append(len(pdf.pages))
    assert pages == [3, 5]  # the title, the contents, and what the section takes


def test_the_tight_layout_is_taken_where_nothing_else_keeps_the_page(tmp_path: Path) -> None:
    """Three maps of 174 x 135 mm need a page for each; side by side, which is their tight layout,
    one page for all."""
    tall = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 174 135"></svg>'
    figure = Figure(drawing(tmp_path, tall), "A map.", "", height_mm=135.0)
    pages = []
    for tight in ((), (Gallery((figure,) * 3),)):
        section = Section("Panel", 1, (figure,) * 3, True, together=True, tight=tight)
        write_pdf(Document("t", "s", (), (section,), "f"), tmp_path / "x.pdf", NOW)
        with pikepdf.open(tmp_path / "x.pdf") as pdf:
            pages.append(len(pdf.pages) - 2)
    assert pages == [3, 1]


def test_sections_that_join_share_a_page_as_far_as_they_fit(tmp_path: Path) -> None:
    """Maps of 174 x 62 mm with their headings: three of them on 266 mm; four of them only when they
    are smaller; of six the first four, and two on the next page. Without joining nothing is made
    smaller, so three go on a page of four."""
    low = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 174 62"></svg>'
    figure = Figure(drawing(tmp_path, low), "A map.", "", height_mm=62.0)
    pages = []
    for count, joins in ((3, True), (4, True), (6, True), (4, False)):
        sections = [
            Section(f"Panel {i}", 1, (figure,), i == 0, together=True, joins=joins and i > 0)
            for i in range(count)
        ]
        write_pdf(Document("t", "s", (), tuple(sections), "f"), tmp_path / "x.pdf", NOW)
        with pikepdf.open(tmp_path / "x.pdf") as pdf:
            pages.append(len(pdf.pages) - 2)  # the title, and the contents
    assert pages == [1, 1, 2, 2]


def test_heading_levels_may_not_be_skipped() -> None:
    with pytest.raises(MapperError, match="level 3"):
        Document("t", "s", (), (Section("a", 1), Section("b", 3)), "f")


@pytest.mark.parametrize("text", ["", "<svg", '<svg viewBox="0 0 0 5"/>', '<svg viewBox="a"/>'])
def test_a_drawing_without_a_size_is_refused(tmp_path: Path, text: str) -> None:
    with pytest.raises(MapperError):
        size_of(drawing(tmp_path, text))


def test_what_was_put_on_pages_before_is_put_there_again(tmp_path: Path) -> None:
    """The second time the plan is at hand: the same bytes, and nothing measured. A map of another
    height is measured anew: three of 62 mm take one page, three of 120 mm more."""
    kept = Cache(tmp_path / "cache")
    pages = []
    for number, high in enumerate((62, 62, 120)):
        text = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 174 {high}"></svg>'
        figure = Figure(drawing(tmp_path, text), "A map.", "", height_mm=float(high))
        sections = tuple(
            Section(f"Panel {i}", 1, (figure,), i == 0, together=True, joins=i > 0)
            for i in range(3)
        )
        write_pdf(Document("t", "s", (), sections, "f"), tmp_path / f"{number}.pdf", NOW, kept)
        with pikepdf.open(tmp_path / f"{number}.pdf") as pdf:
            pages.append((len(pdf.pages) - 2, kept.made))
    assert pages == [(1, 1), (1, 1), (2, 2)]
    assert (tmp_path / "0.pdf").read_bytes() == (tmp_path / "1.pdf").read_bytes()


def test_a_short_table_stays_whole(tmp_path: Path) -> None:
    """A page holds 57 lines of these words: 50 leave no room for a table of six rows, which goes to
    the next page as a whole; with 53 lines more that page is full. Broken, all takes two pages."""
    filling = tuple(Words("Some words.") for _ in range(53))
    rows = tuple((f"row {i}", "1") for i in range(6))
    table = Table("Numbers", (Column("What"), Column("How many", number=True)), rows)
    section = Section("Panel", 1, (*filling[:50], table, *filling), True)
    write_pdf(Document("t", "s", (), (section,), "f"), tmp_path / "x.pdf", NOW)
    with pikepdf.open(tmp_path / "x.pdf") as pdf:
        assert len(pdf.pages) - 2 == 3
