"""Words of dates, counts and lists."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone

import pytest

from mapper.report.phrases import counted, day, listed, moment


def test_dates_are_read_the_same_everywhere() -> None:
    assert day(date(2026, 3, 2)) == "2 March 2026"
    assert day(None) == "not recorded"
    when = datetime(2026, 3, 2, 4, 5, tzinfo=timezone(timedelta(hours=-3, minutes=-30)))
    assert moment(when) == "2 March 2026, 04:05 UTC-03:30"
    assert moment(when.astimezone(UTC)) == "2 March 2026, 07:35 UTC"
    assert moment(None) == "not recorded"


@pytest.mark.parametrize(("number", "words"), [(0, "no entries"), (1, "1 entry"), (2, "2 entries")])
def test_counts(number: int, words: str) -> None:
    assert counted(number, "entry", "entries") == words


@pytest.mark.parametrize(
    ("words", "line"),
    [([], ""), (["a"], "a"), (["a", "b"], "a and b"), (list("abc"), "a, b and c")],
)
def test_lists(words: list[str], line: str) -> None:
    assert listed(words) == line
