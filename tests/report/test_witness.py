"""Whose hand a decision is in, who corrected a shape, who confirmed places: told to who signs."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from functools import cache

from mapper.job.book import Book
from mapper.job.records import Person
from mapper.job.trail import Correction, Settled, Trail, Written
from mapper.report import witness
from mapper.report.closing import sign_off
from mapper.report.entries import in_full
from mapper.report.lookup import Lookup
from mapper.report.model import Facts, Table
from mapper.report.short import in_short
from mapper.units import Units
from tests.report.books import WHEN, shaped

INCH = Units("inch")
PEOPLE = (Person("p", "A. Penn"), Person("q", "B. Quill", licence="L 7"))


@cache
def decided(pen: str) -> Lookup:
    """The shaped job with a finding decided by B. Quill, written down by `pen`; its shape corrected
    since, one entry moved and confirmed, another drawn again, a third still in doubt."""
    book = shaped()
    first, second, third = [e for e in book.entries if e.outline is not None][:3]
    finding = next(e for e in book.entries if e.kind == "finding" and e.outline is not None)
    values = {"disposition": "blend it", "disposed_by": "q", "licence": "L 7"}
    entries = tuple(
        replace(e, values=dict(e.values) | values) if e.id == finding.id
        else replace(e, unconfirmed="moved 50.8 mm") if e.id == third.id
        else e
        for e in book.entries
    )  # fmt: skip
    later = WHEN + timedelta(minutes=1)
    trail = Trail(
        {finding.id: Written(pen, WHEN)},
        {finding.id: Written("p", later)},
        (Correction(first.part_id, Written("p", WHEN), 4),),
        {
            first.id: Settled(first.id, Written("q", later)),
            second.id: Settled(second.id, Written("q", WHEN), drawn_again=True),
        },
    )
    people = (*book.people, *PEOPLE)
    made: Book = replace(book, people=people, entries=entries, trail=trail)
    return Lookup(made)


def facts(lookup: Lookup) -> dict[str, str]:
    found = [b for b in sign_off(lookup, WHEN).blocks if isinstance(b, Facts)]
    return dict(found[0].rows)


def test_a_disposition_written_by_another_names_both() -> None:
    lookup = decided("p")
    entry = next(e for e in lookup.book.entries if e.values.get("disposition"))
    (table,) = (b for b in in_full(lookup, INCH).blocks if isinstance(b, Table))
    row = next(r for r in table.rows if r[0] == lookup.number[entry.id])
    assert "disposition by: B. Quill" in row[2]
    assert "Disposition written down by A. Penn, 2 March 2026, 14:05 UTC." in row[2]
    assert "changed 2 Mar 2026, A. Penn" in row[4]
    assert "disposition written down by A. Penn" in in_short(entry, INCH, lookup)
    said = facts(lookup)["Dispositions written down by another than who decided"]
    assert said == f"No. {lookup.number[entry.id]} (see there by whom)"


def test_a_disposition_in_ones_own_hand_says_nothing_of_it() -> None:
    lookup = decided("q")
    entry = next(e for e in lookup.book.entries if e.values.get("disposition"))
    assert witness.penned(entry, lookup) == ""
    assert facts(lookup)["Dispositions written down by another than who decided"] == "none"
    plain = Lookup(shaped())
    assert "Dispositions written down by another than who decided" not in facts(plain)


def test_every_entry_in_full_says_where_it_is() -> None:
    lookup = decided("p")
    (table,) = (b for b in in_full(lookup, INCH).blocks if isinstance(b, Table))
    for entry, row in zip(lookup.book.entries, table.rows, strict=True):
        part, *place = row[1].split("\n")
        assert part == lookup.part[entry.part_id].name
        if entry.outline is not None:
            assert "station" in place[0] and " in" in place[0] and "%" in place[0], row[1]
        elif entry.place is not None:
            assert place[0] == entry.place.words


def test_a_corrected_shape_is_told_with_who_confirmed_what() -> None:
    lookup = decided("p")
    first, second, third = [e for e in lookup.book.entries if e.outline is not None][:3]
    number = lookup.number
    rows = dict(witness.corrected(lookup.part[first.part_id], lookup))
    assert rows["Shape corrected"] == (
        "2 March 2026, 14:05 UTC, by A. Penn; 4 entries carried over"
    )
    assert rows["Places of entries"] == (
        f"confirmed by B. Quill, 2 March 2026, 14:06 UTC: No. {number[first.id]}; "
        f"drawn again by B. Quill, 2 March 2026, 14:05 UTC: No. {number[second.id]}; "
        f"not confirmed: No. {number[third.id]}"
    )
    (table,) = witness.table(lookup)
    assert table.rows[0][2] == rows["Places of entries"]
    assert any(b is not None and b == table for b in sign_off(lookup, WHEN).blocks)
    assert witness.table(Lookup(shaped())) == ()


def test_several_confirmed_in_one_go_are_told_so() -> None:
    lookup = decided("p")
    ids = [e.id for e in lookup.book.entries if e.outline is not None][:2]
    at_once = {i: Settled(i, Written("q", WHEN)) for i in ids}
    trail = replace(lookup.book.trail, settled=at_once)
    again = Lookup(replace(lookup.book, trail=trail))
    assert "(2 entries in one go)" in witness.table(again)[0].rows[0][2]


def test_how_far_a_place_moved_is_told_in_the_shops_units() -> None:
    lookup = decided("p")
    inch = replace(lookup.book, shop=replace(lookup.book.shop, units="inch"))
    doubtful = next(e for e in inch.entries if e.unconfirmed)
    assert "moved 2.00 in" in in_short(doubtful, INCH, Lookup(inch))
