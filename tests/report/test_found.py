"""Findings over the area looked at, and how much of it is affected: never more than is known."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from mapper.report.cache import Cache
from mapper.report.found import affected, per_area, words
from mapper.report.lookup import Lookup
from mapper.report.numbers import part_numbers
from mapper.units import Units
from tests.estimate.books import Writer, book_of

METRIC = Units("metric")


def row(w: Writer, folder: Path, panel: str = "inboard") -> Any:
    book = book_of(w.made)
    numbers = part_numbers(book, book.parts[0], Lookup(book), Cache(folder))
    return next(r for r in numbers.findings if (r["panel"], r["face"]) == (panel, "outer"))


def looked() -> Writer:
    """.4 m2 of the inboard panel was looked at."""
    w = Writer()
    w.box("inspected area", "outer", (0, 0, 400, 1000), technique="eye", result="findings recorded")
    return w


def test_an_outlined_finding_is_a_share_of_what_was_looked_at(tmp_path: Path) -> None:
    w = looked()
    w.box("finding", "outer", (100, 100, 200, 300), what="corrosion")
    found = row(w, tmp_path)
    assert affected(found) == "5.0 %"  # 100 x 200 of 400 x 1000 mm
    assert per_area(found, METRIC).startswith("2.50 /m²")
    assert " 5.0 % of that area is affected." in words(found, METRIC)


def test_points_alone_leave_the_share_unknown_and_never_nought(tmp_path: Path) -> None:
    w = looked()
    w.points("finding", "outer", [(100, 100)], what="dent")
    found = row(w, tmp_path)
    assert affected(found) == "not known"
    said = words(found, METRIC)
    assert "How much of that area is affected is not known." in said
    assert "0 %" not in said


def test_points_beside_an_outline_make_the_share_a_least(tmp_path: Path) -> None:
    w = looked()
    w.box("finding", "outer", (100, 100, 200, 300), what="corrosion")
    w.line("finding", "outer", [(10, 500), (90, 500)], what="crack")
    found = row(w, tmp_path)
    assert affected(found) == "at least 5.0 %"
    said = words(found, METRIC)
    assert "At least 5.0 % of that area is affected." in said
    assert "it may be" not in said  # no upper end is known


@pytest.mark.parametrize("findings", [True, False])
def test_where_nobody_looked_there_is_no_share(tmp_path: Path, findings: bool) -> None:
    w = Writer()
    if findings:
        w.points("finding", "outer", [(100, 100)], what="dent")
    found = row(w, tmp_path)
    assert affected(found) == "not looked at"
    assert "nothing is known" in words(found, METRIC)


def test_nothing_found_where_somebody_looked_is_nought(tmp_path: Path) -> None:
    found = row(looked(), tmp_path)
    assert affected(found) == "0 %"
    assert "no findings in 0.400 m² looked at (eye)" in words(found, METRIC)
