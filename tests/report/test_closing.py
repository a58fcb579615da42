"""The page to sign: who, with which licence, for which hash; blank where the record does not know;
never a word that makes a record into a release."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime

import pytest

from mapper.job.book import Book
from mapper.job.records import Assembly, Person
from mapper.report.closing import sign_off, to_complete
from mapper.report.lookup import Lookup
from mapper.report.model import SIGN_HEADS, Bullets, Facts, Section, Table, ToSign, Words
from tests.report.books import WHEN, book, entry, worded

# Words that would make a record into a release, and "accept" other than in what is denied.
NEVER = re.compile(
    r"\b(pass(ed|es)?|serviceable|airworthy|approved for|certif\w+|fit (for|to)|released? to)\b",
    re.IGNORECASE,
)


def signed(given: Book, when: datetime = WHEN) -> Section:
    return sign_off(Lookup(given), when)


def lines(section: Section) -> tuple[tuple[str, str, str], ...]:
    (made,) = (b for b in section.blocks if isinstance(b, ToSign))
    return made.lines


def facts(section: Section) -> dict[str, str]:
    (made,) = (b for b in section.blocks if isinstance(b, Facts))
    return dict(made.rows)


def words(section: Section) -> str:
    bullets = (i for b in section.blocks if isinstance(b, Bullets) for i in b.items)
    said = [b.text for b in section.blocks if isinstance(b, Words)]
    return " ".join((section.title, *said, *bullets, *(line[0] for line in lines(section))))


def test_there_is_room_for_name_licence_date_and_hand() -> None:
    for wanted in ("Name", "Licence number", "Date", "Signature"):
        assert wanted in SIGN_HEADS
    assert signed(worded()).new_page


def test_the_hash_stands_beside_the_lines_whole() -> None:
    assert facts(signed(worded()))["Newest hash of the history"] == "ab" * 32
    assert facts(signed(worded()))["Covers"] == "3 entries"
    assert facts(signed(book()))["Newest hash of the history"] == "the history is empty"
    assert "hash above" in words(signed(worded()))


def test_the_one_licensed_person_is_named_and_nobody_else() -> None:
    made = lines(signed(worded()))
    assert {line[1:] for line in made if line[0]} == {("Jon Lyme", "B1 7712")}
    # The two last lines are for what nobody foresaw.
    assert made[-2:] == (("", "", ""), ("", "", ""))


def test_of_two_licensed_people_none_is_chosen() -> None:
    people = (Person("p2", "Jon Lyme", "inspector", "B1 7712"), Person("p3", "Vi Orr", "", "B1 9"))
    made = signed(worded(people=people))
    assert {line[1:] for line in lines(made)} == {("", "")}
    assert "Jon Lyme, licence B1 7712" in words(made) and "Vi Orr, licence B1 9" in words(made)


def test_nobody_with_a_licence_is_said() -> None:
    made = signed(worded(people=(Person("p1", "Ada Rivett", "restorer"),)))
    assert "Nobody with a licence is on record" in words(made)
    assert {line[1:] for line in lines(made)} == {("", "")}


def test_what_waits_for_the_inspector_is_listed_and_named_on_the_page_to_sign() -> None:
    states = ("waiting for the inspector", "closed", "waiting for the inspector", "being worked on")
    entries = tuple(entry(i, state=state) for i, state in enumerate(states, 1))
    given = worded(entries=(*entries, entry(5, state="deferred", deferred_to=date(2026, 5, 3))))
    listed = to_complete(Lookup(given)).blocks[1]
    assert isinstance(listed, Table)
    assert [(row[0], row[2]) for row in listed.rows] == [
        ("1", "finding\nwaiting for the inspector"),
        ("3", "finding\nwaiting for the inspector"),
        ("5", "finding\ndeferred to 3 May 2026"),
    ]
    said = facts(signed(given))["Of these undecided"]
    assert "waiting for the inspector: No. 1, 3; deferred: No. 5" in said
    assert "open or being worked on: 1" in said
    closed = worded(entries=(entry(1, state="closed"),))
    assert facts(signed(closed))["Of these undecided"] == "none"
    assert "No entry waits" in str(to_complete(Lookup(closed)).blocks[1])


def test_each_assembly_has_its_lines_and_a_job_of_none_two_blank_ones() -> None:
    given = worded()
    what = [line[0] for line in lines(signed(given)) if line[0]]
    assert sum(w.startswith("Left wing: ") for w in what) == 2
    assert sum(w.startswith("Fin: ") for w in what) == 2
    assert lines(signed(book())) == (("", "", ""), ("", "", ""))


@pytest.mark.parametrize("given", [book(), worded()])
def test_nothing_says_that_a_part_may_be_used(given: Book) -> None:
    said = words(signed(given))
    assert not NEVER.search(said)
    assert "It accepts nothing" in said


def test_a_report_made_later_says_so_and_names_the_zone() -> None:
    later = datetime(2027, 1, 9, 8, 30, tzinfo=UTC)
    assert facts(signed(worded(), later))["Report made"] == "9 January 2027, 08:30 UTC"
    given = worded(assemblies=(Assembly("a", "j", "Left wing"),))
    assert facts(signed(given))["Serial number"] == "not recorded"
