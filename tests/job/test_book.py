"""A book refuses records that lead nowhere, and finds what it holds."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from mapper.errors import MapperError
from mapper.job.book import Book, one_at_a_time
from mapper.job.records import Assembly, Item, Job, Part, Person, Position, Shop
from tests.job.makers import entry


def book(**more: Any) -> Book:
    given: dict[str, Any] = {
        "shop": Shop("s-1", "Shop"),
        "job": Job("job-1", "Restoration"),
        "people": (Person("p-1", "Mira"),),
        "assemblies": (Assembly("a-1", "job-1", "left wing"),),
        "parts": (Part("part-1", "job-1", "a-1", "outer wing"),),
        "positions": (Position("pos-1", "part-1", "outer wing"),),
        "items": (Item("i-1", "pos-1", "outer wing"),),
        "entries": (entry(), entry("marking", id="e-2")),
        "lots": (),
        "finish_systems": (),
        "photos": (),
        "geometries": {},
        "photo_files": {},
    }
    return Book(**{**given, **more})


def test_what_it_finds() -> None:
    made = book()
    assert made.part("part-1").name == "outer wing"
    assert made.entry("e-2").kind == "marking"
    assert [e.id for e in made.entries_of("part-1")] == ["e-1", "e-2"]
    assert [e.id for e in made.entries_of("part-1", "finding")] == ["e-1"]
    assert made.entries_of("part-9") == ()
    assert made.geometry_of("part-1") is None
    assert made.person_name("p-1") == "Mira" and made.person_name("p-2") == "p-2"
    with pytest.raises(MapperError, match="no part 'x'"):
        made.part("x")
    with pytest.raises(TypeError):
        made.geometries["x"] = None  # type: ignore[index]


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"people": (Person("p-1", "A"), Person("p-1", "B"))}, "people .* same id"),
        ({"assemblies": ()}, "refers to the assembly a-1"),
        ({"parts": (), "entries": ()}, "refers to the part part-1"),
        ({"positions": ()}, "refers to the position pos-1"),
        ({"parts": (Part("part-1", "job-1", "a-1", "w", geometry="g"),)}, "geometry g"),
        ({"entries": (replace(entry(), geometry="g"),)}, "geometry g"),
        ({"assemblies": (Assembly("a-1", "job-2", "left wing"),)}, "is of the job job-2"),
        (
            {"items": (Item("i-1", "pos-1", "old"), Item("i-2", "pos-1", "new"))},
            "in one position on the same day",
        ),
    ],
)
def test_records_that_lead_nowhere_are_refused(more: dict[str, Any], says: str) -> None:
    with pytest.raises(MapperError, match=says):
        book(**more)


def test_one_sheet_follows_another() -> None:
    day = date(1974, 6, 1)
    one_at_a_time([])
    one_at_a_time([Item("b", "p", "new", since=day), Item("a", "p", "old", until=day)])
    with pytest.raises(MapperError, match="same day"):
        one_at_a_time([Item("b", "p", "new", since=date(1974, 5, 31)),
                       Item("a", "p", "old", until=day)])  # fmt: skip
