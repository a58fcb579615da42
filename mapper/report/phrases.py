"""Dates, counts and lists as words, the same everywhere in a report."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip


def day(when: date | None) -> str:
    """ "2 March 2026"; "not recorded" for None."""
    if when is None:
        return "not recorded"
    return f"{when.day} {MONTHS[when.month - 1]} {when.year}"


def moment(when: datetime | None) -> str:
    """ "2 March 2026, 14:05 (UTC+01:00)"; "not recorded" for None."""
    if when is None:
        return "not recorded"
    zone = when.strftime("%z")
    shown = "" if not zone else " UTC" if zone == "+0000" else f" UTC{zone[:3]}:{zone[3:5]}"
    return f"{day(when)}, {when:%H:%M}{shown}"


def counted(number: int, one: str, many: str = "") -> str:
    """ "1 entry", "no entries", "3 entries"."""
    many = many or one + "s"
    return f"{'no' if number == 0 else number} {one if number == 1 else many}"


def listed(words: Sequence[str], last: str = "and") -> str:
    """ "a", "a and b", "a, b and c"; "" for none."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def short_day(when: date | None) -> str:
    """ "2 Mar 2026", for narrow columns; "no date" for None."""
    if when is None:
        return "no date"
    return f"{when.day} {MONTHS[when.month - 1][:3]} {when.year}"


def short_days(first: date | None, last: date | None) -> str:
    """From a day to another in a narrow column: "14 to 15 Oct 2025", "8 Oct to 3 Nov 2025", "2 Mar
    2026" where they are the same; one that is None is not counted."""
    if first is None or last is None:
        return short_day(first if last is None else last)
    if (first.year, first.month, first.day) == (last.year, last.month, last.day):
        return short_day(first)
    begin = short_day(first)
    if first.year == last.year:
        same = first.month == last.month
        begin = str(first.day) if same else f"{first.day} {MONTHS[first.month - 1][:3]}"
    return f"{begin} to {short_day(last)}"
