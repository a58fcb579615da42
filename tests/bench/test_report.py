"""How long a report takes: warm at most 5 s + .6 s a page, after one changed entry at most 5 s,
whether a note was changed or an outline moved.

Pictures are left out where the machine cannot render; the line printed says so.
"""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path

import pikepdf
import pytest
from shapely.affinity import translate

from mapper.drawing.scene import can_render
from mapper.job.book import Book
from mapper.report.build import report
from tests.report.books import WHEN, shaped

pytestmark = pytest.mark.bench


def timed(book: Book, out: Path, cache: Path, pictures: bool) -> tuple[float, int]:
    """Seconds and pages of one report."""
    begin = time.perf_counter()
    files = report(book, out, pictures=pictures, now=WHEN, cache=cache)
    seconds = time.perf_counter() - begin
    with pikepdf.open(files.pdf) as made:
        return seconds, len(made.pages)


def moved(book: Book, aft: float) -> Book:
    """The book with the outline of its last finding that far aft."""
    last = next(e for e in reversed(book.entries) if e.kind == "finding" and e.outline)
    assert last.outline is not None
    outline = replace(last.outline, shape=translate(last.outline.shape, aft))
    pieces = tuple(replace(p, shape=translate(p.shape, aft)) for p in last.pieces)
    entry = replace(last, outline=outline, pieces=pieces)
    return replace(book, entries=tuple(entry if e is last else e for e in book.entries))


def test_report_warm_and_after_one_changed_entry(tmp_path: Path) -> None:
    book = shaped()
    pictures = can_render()
    cold, pages = timed(book, tmp_path, tmp_path / "cache", pictures)
    warm, _ = timed(book, tmp_path, tmp_path / "cache", pictures)
    last = book.entries[-1]
    changed = replace(book, entries=(*book.entries[:-1], replace(last, note="Looked at again.")))
    after, _ = timed(changed, tmp_path, tmp_path / "cache", pictures)
    redrawn, _ = timed(moved(book, 15.0), tmp_path, tmp_path / "cache", pictures)
    print(
        f"\nreport of {pages} pages {'with' if pictures else 'WITHOUT'} pictures: "
        f"cold {cold:.2f} s, warm {warm:.2f} s, after a changed note {after:.2f} s, "
        f"after a moved outline {redrawn:.2f} s"
    )
    assert warm <= 5.0 + 0.6 * pages
    assert after <= 5.0
    assert redrawn <= 5.0
