"""What is still to do beside all of it: on plates whose areas are known by hand."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from mapper.estimate.estimate import estimate
from mapper.report.cache import Cache
from mapper.report.lookup import Lookup, Sheet
from mapper.report.model import Table, Words
from mapper.report.worth import NOTHING_LEFT, Worth, span, worth_of
from mapper.units import Units
from tests.estimate.books import Writer, book_of

METRIC = Units("metric")
CUBIC_INCHES = 231.0  # in a US gallon, by its definition (NIST Handbook 44, appendix C)


def half_done(left: float = 0.0) -> Writer:
    """.4 m2 of one enamel coat, of which a go over half has left `left` %."""
    w = Writer()
    w.box("coat zone", "outer", (0, 0, 400, 1000), coats=[{"kind": "enamel"}])
    w.box("application", "outer", (0, 0, 200, 1000), left_fraction=left)
    return w


def worth(w: Writer, folder: Path, units: Units = METRIC) -> tuple[Worth, Lookup]:
    book = book_of(w.made)
    return worth_of(book, units, Cache(folder)), Lookup(book)


def rows(table: Table) -> dict[str, tuple[str, ...]]:
    return {row[0].removesuffix(" *"): row for row in table.rows}


def sheet_of(lookup: Lookup, panel: str = "inboard", face: str = "outer") -> Sheet:
    return next(
        s for s in lookup.sheets(lookup.book.parts[0]) if (s.panel, s.face) == (panel, face)
    )


def first(text: str) -> float:
    """The number a text begins with."""
    return float(re.match(r"[\d\u202f.]+", text)[0].replace("\u202f", ""))  # type: ignore[index]


def test_half_of_the_area_is_still_to_do(tmp_path: Path) -> None:
    made, lookup = worth(half_done(), tmp_path)
    (table,) = (b for b in made.of_sheet(sheet_of(lookup)) if isinstance(b, Table))
    _, whole, span_, left, left_span = rows(table)["area to strip"]
    assert whole == "0.400 m²" and left == "0.200 m²"  # 400 x 1000 and 200 x 1000 mm
    assert re.fullmatch(r"[\d.]+ to [\d.]+ m²", span_)
    assert re.fullmatch(r"[\d.]+ to [\d.]+ m²", left_span)


@pytest.mark.parametrize("place", ["panel", "part", "job", "first page"])
def test_hours_litres_and_waste_stand_in_both_with_their_ranges(tmp_path: Path, place: str) -> None:
    made, lookup = worth(half_done(), tmp_path)
    section = made.section(lookup)
    blocks = {
        "panel": made.of_sheet(sheet_of(lookup)),
        "part": made.of_part("p1"),
        "job": section.blocks,
        "first page": made.brief(),
    }[place]
    table = next(b for b in blocks if isinstance(b, Table))
    found = rows(table)
    for name, unit in (("labour", "h"), ("stripper", "L"), ("sludge", "kg")):
        row = next(r for n, r in found.items() if name in n)
        assert row[1].split()[-1] in (unit, "min", "mL", "g"), row
        assert 0 < first(row[3]) < first(row[1]) or row[3].split()[-1] != row[1].split()[-1]
        assert " to " in row[2] and " to " in row[4]


def test_a_tenth_of_a_coat_left_is_all_of_the_area_and_little_of_the_litres(tmp_path: Path) -> None:
    """As the first page says of its table."""
    w = Writer()
    w.box("coat zone", "outer", (0, 0, 400, 1000), coats=[{"kind": "enamel"}])
    w.box("application", "outer", (0, 0, 400, 1000), left_fraction=10)
    (brief,) = worth(w, tmp_path)[0].brief()
    found = rows(brief)
    assert found["area to strip"][3] == found["area to strip"][1] == "0.400 m²"
    assert found["rinse water to collect"][3] == found["rinse water to collect"][1]
    litres = [METRIC.parse(found["stripper"][i], "L") for i in (1, 3)]
    assert litres[1] == pytest.approx(0.1 * litres[0], rel=0.05)
    assert "counts in full as area still to strip" in brief.foot[0]


def test_numbers_are_those_of_the_estimate(tmp_path: Path) -> None:
    w = half_done()
    made, _ = worth(w, tmp_path)
    left = {line.quantity: line for line in estimate(book_of(w.made), scope="remaining").lines}
    for row in made.data["lines"]:
        wanted = span(left[row["quantity"]], METRIC) if row["any"] else (NOTHING_LEFT, "")
        assert tuple(row["cells"][3:]) == wanted


def test_nothing_left_is_said_and_is_no_zero(tmp_path: Path) -> None:
    w = half_done()
    w.box("application", "outer", (0, 0, 400, 1000), left_fraction=0)
    made, lookup = worth(w, tmp_path)
    (table,) = (b for b in made.of_sheet(sheet_of(lookup)) if isinstance(b, Table))
    assert rows(table)["area to strip"][3:] == (NOTHING_LEFT, "")
    (brief,) = made.brief()
    assert {row[3] for row in brief.rows} == {NOTHING_LEFT}


def test_a_go_without_a_result_has_taken_nothing_off(tmp_path: Path) -> None:
    w = Writer()
    w.box("coat zone", "outer", (0, 0, 400, 1000), coats=[{"kind": "enamel"}])
    w.box("application", "outer", (0, 0, 200, 1000))
    made, lookup = worth(w, tmp_path)
    (table,) = (b for b in made.of_sheet(sheet_of(lookup)) if isinstance(b, Table))
    row = rows(table)["area to strip"]
    assert row[3] == row[1]
    assert any(
        "counts as having taken nothing off" in s for b in made.of_part("p1") for s in b.foot
    )  # type: ignore[union-attr]


def test_no_coat_zone_is_no_estimate(tmp_path: Path) -> None:
    made, lookup = worth(Writer(), tmp_path)
    assert made.brief() == () and made.of_part("p1") == () and made.of_part("elsewhere") == ()
    assert made.of_sheet(sheet_of(lookup)) == ()
    (words,) = made.section(lookup).blocks
    assert isinstance(words, Words) and "nothing can be estimated" in words.text


def test_an_inch_shop_reads_no_metric_unit(tmp_path: Path) -> None:
    made, lookup = worth(half_done(), tmp_path, Units("inch"))
    tables = [
        b for b in (*made.of_part("p1"), *made.section(lookup).blocks) if isinstance(b, Table)
    ]
    cells = [c for t in tables[:2] for row in t.rows for c in row]
    assert any(c.endswith("ft²") for c in cells)
    assert not [c for c in cells if re.search(r"\d (m²|mm²|L|mL|kg|g|mm|m)\b", c)]
    stripper = {row["quantity"]: row["cells"] for row in made.data["lines"]}["stripper"][1]
    metric = worth(half_done(), tmp_path / "m")[0].data["lines"]
    litres = METRIC.parse({row["quantity"]: row["cells"] for row in metric}["stripper"][1], "L")
    # Half a litre is poured from a jug marked in ounces: 128 to the gallon of 231 cubic inches.
    assert stripper.endswith(" US fl oz")
    assert first(stripper) / 128 * CUBIC_INCHES * 25.4**3 / 1e6 == pytest.approx(litres, rel=0.06)


def test_other_methods_stand_apart_and_are_never_added(tmp_path: Path) -> None:
    """The plate's sheet, .8 mm 2024-T3, is open to glass bead and under the gauge for plastic."""
    made, lookup = worth(half_done(), tmp_path)
    main, instead = (b for b in made.of_part("p1") if isinstance(b, Table))
    assert not [row for row in main.rows if "bead" in row[0]]
    assert [row[0] for row in instead.rows] == [
        "glass bead: labour", "glass bead: media used up", "glass bead: dust to collect",
    ]  # fmt: skip
    assert "not added" in instead.foot[0]
    said = made.of_sheet(sheet_of(lookup))[-1]
    assert isinstance(said, Words)
    assert said.text.startswith("Still to do, in place of gel: by glass bead: labour ")
    assert "plastic" not in said.text
    tables = [b for b in made.section(lookup).blocks if isinstance(b, Table)]
    assert tables[1].rows == instead.rows and all(tables[1].details)


def test_nothing_left_needs_no_other_method(tmp_path: Path) -> None:
    w = half_done()
    w.box("application", "outer", (0, 0, 400, 1000), left_fraction=0)
    made, lookup = worth(w, tmp_path)
    assert isinstance(made.of_sheet(sheet_of(lookup))[-1], Table)
