"""The table of what each method did, on a plate whose areas are known by hand."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

from mapper.report.cache import Cache
from mapper.report.lookup import Lookup
from mapper.report.model import Table
from mapper.report.numbers import PartNumbers, part_numbers
from mapper.report.partpage import _counts, methods_table
from mapper.units import Units
from tests.estimate.books import Writer, book_of


def printed(w: Writer, folder: Path, units: str = "metric") -> tuple[Table, ...]:
    book = book_of(w.made)
    numbers = part_numbers(book, book.parts[0], Lookup(book), Cache(folder))
    return methods_table(numbers, Units(units))


def coated() -> Writer:
    """One coat on .4 m2 of the inboard panel and .3 m2 of the outboard one."""
    w = Writer()
    w.box("coat zone", "outer", (0, 0, 400, 1000), coats=[{"kind": "enamel"}])
    w.box("coat zone", "outer", (1300, 0, 1600, 1000), coats=[{"kind": "enamel"}])
    return w


def test_no_goes_no_table(tmp_path: Path) -> None:
    assert printed(coated(), tmp_path) == ()
    assert methods_table(PartNumbers(), Units("metric")) == ()


def test_a_place_gone_over_twice_counts_once(tmp_path: Path) -> None:
    w = coated()
    w.box("application", "outer", (0, 0, 200, 1000), left_fraction=100)
    w.box("application", "outer", (100, 0, 300, 1000), left_fraction=0)
    (table,) = printed(w, tmp_path)
    # Worked over 0 to 300 mm, bare 100 to 300 mm of a metre high.
    assert table.rows == (("inboard", "outer", "chemical", "2", "0.300", "0.200"),)
    assert "m²" in table.caption
    assert any("counts once" in sentence for sentence in table.foot)


def test_methods_stand_apart_and_each_has_its_sum(tmp_path: Path) -> None:
    w = coated()
    w.box("application", "outer", (0, 0, 200, 1000), left_fraction=0)
    w.box("application", "outer", (1300, 0, 1400, 1000), left_fraction=0)
    w.box("blasting round", "outer", (300, 0, 400, 1000), left_fraction=0, media="plastic media")
    (table,) = printed(w, tmp_path)
    by = {(row[0], row[2]): row[3:] for row in table.rows}
    assert by["inboard", "chemical"] == ("1", "0.200", "0.200")
    assert by["outboard", "chemical"] == ("1", "0.100", "0.100")
    assert by["All panels", "chemical"] == ("2", "0.300", "0.300")
    blasted = [row for row in table.rows if row[2] != "chemical"]
    assert len(blasted) == 1 and blasted[0][4] == "0.100"  # one face only: no sum of its own


def test_an_inch_shop_has_square_feet(tmp_path: Path) -> None:
    w = coated()
    w.box("application", "outer", (0, 0, 304.8, 304.8), left_fraction=0)
    (table,) = printed(w, tmp_path, "inch")
    assert "ft²" in table.caption
    assert table.rows[0][4:] == ("1.00", "1.00")  # 12 in square, by the definition of the foot


def test_what_areas_count_is_said_in_the_shops_units_whatever_the_part_file_has() -> None:
    words = "narrower by about 2 pi times the gauge (here about {} of girth)."
    mm: Any = SimpleNamespace(counted=(words.format("3.8 mm"), "Openings are taken off."))
    inch: Any = SimpleNamespace(counted=(words.format("0.15 in"),))
    assert _counts(mm, Units("inch")) == (words.format("0.15 in"), "Openings are taken off.")
    assert _counts(mm, Units("metric"))[0] == words.format("3.8 mm")
    assert _counts(inch, Units("metric")) == (words.format("3.8 mm"),)  # .15 x 25.4
