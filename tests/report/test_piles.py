"""Repeated work over one place is one row and one outline; nothing else is gathered."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from mapper.job.entry import Entry
from mapper.job.outlines import new_entry, outline_of
from mapper.report import entries as rows
from mapper.report.lookup import Lookup, Sheet, shapes_on
from mapper.report.phrases import short_days
from mapper.report.piles import labels_of, piles_on, spanned
from mapper.surface.region import box
from mapper.units import Units
from tests.report.books import WHEN, shaped, wing

BOX = {"stations": (300.0, 800.0), "chord": (5.0, 60.0), "side": "upper"}
BOOK = shaped()


def on_wing(number: int, kind: str, where: dict[str, Any] | None = None, **values: Any) -> Entry:
    skin = wing().skins[0]
    shape = box(skin, **(where or BOX))
    return new_entry(
        BOOK, "wing", kind, outline=outline_of(wing(), skin.name, "outer", shape), values=values,
        entry_id=f"n{number}", by="p1" if number % 2 else "p2",
        device_time=WHEN.replace(day=number),
    )  # fmt: skip


def go(number: int, left: float, where: dict[str, Any] | None = None) -> Entry:
    return on_wing(number, "application", where, product="gel", left_fraction=left)


def sheet_of(lookup: Lookup) -> Sheet:
    return next(s for s in lookup.sheets(lookup.part["wing"]) if s.panel == "inboard sheet")


def on_book(*entries: Entry) -> tuple[Sheet, Lookup]:
    lookup = Lookup(replace(BOOK, entries=entries))
    return sheet_of(lookup), lookup


def gathered(*entries: Entry) -> list[list[str]]:
    sheet, _ = on_book(*entries)
    return [[e.id for e in pile] for pile in piles_on(sheet, entries)]


def test_goes_over_the_same_place_lie_in_one_pile_in_the_place_of_the_first() -> None:
    other = go(3, 20.0, BOX | {"chord": (5.0, 59.0)})
    assert gathered(go(1, 60.0), other, go(2, 10.0)) == [["n1", "n2"], ["n3"]]


def test_findings_coat_zones_other_kinds_and_other_states_stand_alone() -> None:
    open_one = go(1, 60.0)
    assert gathered(open_one, replace(go(2, 10.0), state="closed")) == [["n1"], ["n2"]]
    assert gathered(open_one, on_wing(2, "inspected area")) == [["n1"], ["n2"]]
    for kind in ("finding", "coat zone", "marking"):
        assert gathered(on_wing(1, kind), on_wing(2, kind)) == [["n1"], ["n2"]]
    assert piles_on(sheet_of(Lookup(BOOK)), ()) == ()


def test_the_row_says_how_many_and_the_range_of_what_differs() -> None:
    entries = (go(1, 60.0), go(2, 10.0), go(3, 2.0))
    sheet, lookup = on_book(*entries)
    (row,) = rows.table("c", entries, sheet, Units("metric"), lookup).rows
    number, kind, what, size, who = row
    assert number == "1–3"
    assert kind.startswith("application\n")
    assert what.startswith("3 over the same place; gel")
    assert "2 % to 60 %" in what
    assert size == rows.size_words(entries[0], sheet, Units("metric"))
    assert who == "1 to 3 Mar 2026\nA. Rivett, J. Lyme"


def test_the_map_draws_the_first_with_the_numbers_of_all() -> None:
    entries = (go(1, 60.0), go(2, 10.0), on_wing(3, "finding"), go(4, 2.0))
    sheet, lookup = on_book(*entries)
    piles = piles_on(sheet, entries)
    assert labels_of(piles, lookup.number) == {"n1": "1, 2, 4", "n3": "3"}
    assert labels_of(piles, {"n3": "3"}) == {"n3": "3"}


def test_a_piece_that_is_no_more_than_rounding_at_a_seam_is_not_on_the_panel() -> None:
    """An area of .0004 mm2 beyond the seam is no entry on the neighbour."""
    beyond = go(1, 60.0, BOX | {"stations": (1000.0, 1500.0)})
    (piece,) = beyond.pieces
    scrap = box(wing().skins[0], stations=(500.0, 500.02), chord=(30.0, 30.002), side="upper")
    assert 0.0 < scrap.area < 0.5
    two = replace(beyond, pieces=(piece, replace(piece, shape=scrap)))
    sheet, _ = on_book(two)
    assert not list(shapes_on(sheet, two))
    # An entry that is as small as a whole is there.
    assert list(shapes_on(sheet, replace(beyond, pieces=(replace(piece, shape=scrap),))))


@pytest.mark.parametrize(
    ("numbers", "said"),
    [
        ([], ""),
        (["42"], "42"),
        (["42", "43"], "42, 43"),
        (["42", "43", "44", "45"], "42–45"),
        (["71", "73", "74", "75", "A"], "71, 73–75, A"),
    ],
)
def test_numbers_are_as_short_as_they_go(numbers: list[str], said: str) -> None:
    assert spanned(numbers) == said


@pytest.mark.parametrize(
    ("first", "last", "said"),
    [
        (None, None, "no date"),
        (date(2025, 10, 14), None, "14 Oct 2025"),
        (date(2025, 10, 14), date(2025, 10, 14), "14 Oct 2025"),
        (date(2025, 10, 14), date(2025, 10, 15), "14 to 15 Oct 2025"),
        (date(2025, 10, 8), date(2025, 11, 3), "8 Oct to 3 Nov 2025"),
        (date(2025, 12, 30), date(2026, 1, 2), "30 Dec 2025 to 2 Jan 2026"),
    ],
)
def test_days_are_as_short_as_they_go(first: date | None, last: date | None, said: str) -> None:
    assert short_days(first, last) == said
