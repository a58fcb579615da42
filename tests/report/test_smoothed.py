"""Where findings lie close, on a part's page: a figure and its words, once for each face."""

from __future__ import annotations

from pathlib import Path

from mapper.report.cache import Cache
from mapper.report.lookup import Lookup
from mapper.report.model import Beside, Figure, Words
from mapper.report.smoothed import LEAST, smoothed_maps
from mapper.units import Units
from tests.estimate.books import Writer, book_of
from tests.report.books import shaped


def blocks_of(book, folder: Path, units: str = "metric"):
    part = next(p for p in book.parts if p.geometry)
    return smoothed_maps(part, Lookup(book), Units(units), Cache(folder))


def text_of(blocks) -> str:
    found = []
    for block in blocks:
        inner = (block.figure, *block.blocks) if isinstance(block, Beside) else (block,)
        found += [b.text if isinstance(b, Words) else b.alt for b in inner]
    return " ".join(found)


def clustered(inner: bool = False) -> Writer:
    w = Writer()
    for face in ("outer", "inner") if inner else ("outer",):
        w.box("inspected area", face, (0, 0, 1700, 1000), technique="eye")
        for i in range(12):
            w.points("finding", face, [(300 + 20 * i, 320)], what="corrosion")
    return w


def test_a_figure_with_its_words(tmp_path: Path) -> None:
    blocks = blocks_of(book_of(clustered().made), tmp_path)
    figures = [b.figure if isinstance(b, Beside) else b for b in blocks]
    figures = [f for f in figures if isinstance(f, Figure)]
    assert len(figures) == 1
    assert "<svg" in figures[0].file.read_text("utf-8")
    text = text_of(blocks)
    for words in (
        "outer face of plate", "12 findings in 1.69 m²", "width of 150 mm", "Not looked at: 15 %",
        "never means that nothing is there", "below 11.4 /m²".capitalize(),
    ):  # fmt: skip
        assert words in text, words


def test_one_for_each_face_and_the_method_told_once(tmp_path: Path) -> None:
    blocks = blocks_of(book_of(clustered(inner=True).made), tmp_path)
    text = text_of(blocks)
    assert "outer face of plate" in text and "inner face of plate" in text
    assert text.count("How these maps are made") == 1
    assert text.count("39 % of it lies within one width") == 1


def test_one_step_is_told_and_not_drawn(tmp_path: Path) -> None:
    w = Writer()
    w.box("inspected area", "outer", (0, 0, 160, 120), technique="eye")
    for x in (30, 80, 130):
        w.points("finding", "outer", [(x, 60)], what="corrosion")
    blocks = blocks_of(book_of(w.made), tmp_path)
    assert all(isinstance(b, Words) for b in blocks)
    assert "No place is told from another" in text_of(blocks)


def test_two_findings_are_no_pattern(tmp_path: Path) -> None:
    w = Writer()
    w.box("inspected area", "outer", (0, 0, 1700, 1000), technique="eye")
    for count in range(LEAST):
        assert blocks_of(book_of(w.made), tmp_path / str(count)) == ()
        w.points("finding", "outer", [(300, 320 + 20 * count)], what="corrosion")
    assert blocks_of(book_of(w.made), tmp_path / "enough")


def test_no_findings_where_somebody_looked_no_map(tmp_path: Path) -> None:
    w = Writer()
    w.box("inspected area", "outer", (0, 0, 1000, 1000), technique="eye")
    w.points("finding", "outer", [(1800, 500)], what="corrosion")
    assert blocks_of(book_of(w.made), tmp_path) == ()
    book = shaped()
    bare = next(p for p in book.parts if not p.geometry)
    assert smoothed_maps(bare, Lookup(book), Units("metric"), Cache(tmp_path)) == ()


def test_made_once_and_again_when_the_record_changes(tmp_path: Path) -> None:
    w = clustered()
    first = blocks_of(book_of(w.made), tmp_path)
    cache = Cache(tmp_path)
    book = book_of(w.made)
    again = smoothed_maps(book.parts[0], Lookup(book), Units("metric"), cache)
    assert (cache.made, again) == (0, first)
    w.points("finding", "outer", [(900, 700)], what="dent")
    assert "13 findings" in text_of(blocks_of(book_of(w.made), tmp_path))
    assert "18.2 ft²" in text_of(blocks_of(book_of(w.made), tmp_path, "inch"))
