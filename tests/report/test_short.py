"""An entry in a few words: chosen by the table of fields, never by the kind."""

from __future__ import annotations

from datetime import UTC, datetime

from mapper.job.fields import Measured
from mapper.report.lookup import Lookup
from mapper.report.short import in_short, person, recorded
from mapper.units import Units
from tests.report.books import entry, worded

UNITS = Units("metric")


def short(kind: str = "finding", most: int = 112, **more: object) -> str:
    one = entry(1, kind, **more)
    return in_short(one, UNITS, Lookup(worded(entries=(one,))), most)


def test_expected_fields_come_first_and_the_first_needs_no_name() -> None:
    values = {"length": 12.0, "depth_found": Measured(0.12, 0.02), "what": "dent"}
    assert (
        short(values=values)
        == "at rib 7, aft face; dent; depth as found: 0.12 ± 0.02 mm; length: 12 mm"
    )


def test_a_value_that_is_not_the_kinds_first_is_named() -> None:
    """ "not tested" alone would not say of what."""
    assert short("coat zone", values={"lead_test": "not tested"}).endswith("lead test: not tested")


def test_times_are_left_to_the_full_list() -> None:
    when = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
    words = short("application", values={"product": "gel", "start": when, "stop": when})
    assert words == "at rib 7, aft face; gel"


def test_it_is_cut_and_says_so() -> None:
    words = short(values={"what": "dent"}, note="long " * 40, most=60)
    assert words.endswith("…")
    assert len(words) <= 64
    assert "dent" in words


def test_a_doubtful_place_is_told_whatever_the_length() -> None:
    one = entry(1, note="x" * 300)
    book = worded(entries=(one,))
    lookup = Lookup(book)
    lookup.replaced = lambda e: True  # type: ignore[method-assign]
    assert in_short(one, UNITS, lookup, 20).endswith("the sheet it was on has been taken out")


def test_records_give_the_first_thing_each_says() -> None:
    coats = ({"kind": "enamel", "colour": "blue"}, {"kind": "primer"})
    assert "enamel, primer" in short("coat zone", values={"coats": coats})


def test_names_and_days_are_short() -> None:
    assert person("Ada Mary Rivett") == "A. M. Rivett"
    assert person("Ada") == "Ada"
    assert person("") == ""
    one = entry(1)
    assert recorded((one,), Lookup(worded(entries=(one,)))) == "1 Mar 2026\nA. Rivett"
