"""Books to report on: empty, without a shape, and full of awkward text."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

from mapper.job.book import Book
from mapper.job.entry import Entry, Place
from mapper.job.fields import Measured
from mapper.job.records import (
    Assembly,
    FinishSystem,
    Item,
    Job,
    Lot,
    Part,
    Person,
    Photo,
    Position,
    Shop,
)

WHEN = datetime(2026, 3, 2, 14, 5, tzinfo=UTC)


def book(**more: Any) -> Book:
    """A job with nothing in it; `more` fills it."""
    rows: dict[str, Any] = {
        "shop": Shop("s", "Lower Field Metalwork"),
        "job": Job("j", "Plover", airframe="Plover two-seater", owner="N. Body"),
        "people": (),
        "assemblies": (),
        "parts": (),
        "positions": (),
        "items": (),
        "entries": (),
        "lots": (),
        "finish_systems": (),
        "photos": (),
        "geometries": {},
        "photo_files": {},
        "head": "",
    }
    return Book(**(rows | more))


def entry(number: int, kind: str = "finding", **more: Any) -> Entry:
    rows: dict[str, Any] = {
        "place": Place("rib 7, aft face"),
        "by": "p1",
        "device_time": WHEN.replace(day=number),
    }
    return Entry(f"e{number}", "j", more.pop("part_id", "part"), kind, **(rows | more))


def worded(note: str = "A note.", **more: Any) -> Book:
    """One part without a shape, with entries, people, lots, coats; `note` in every free text."""
    rows: dict[str, Any] = {
        "people": (
            Person("p1", "Ada Rivett", "restorer"),
            Person("p2", "Jon Lyme", "inspector", "B1 7712"),
        ),
        "assemblies": (Assembly("a", "j", "Left wing"), Assembly("b", "j", "Fin", order=1)),
        "parts": (Part("part", "j", "a", "Aileron bellcrank", code="LW-03", note=note),),
        "positions": (Position("pos", "part", "Bellcrank"),),
        "items": (
            Item("i1", "pos", "first", until=date(2026, 1, 5), note=note),
            Item("i2", "pos", "second", made="replacement", since=date(2026, 1, 5)),
        ),
        "lots": (
            Lot("l1", "Gel remover", "77A", date(2026, 1, 2), date(2027, 1, 2), 5.0, "L", note),
        ),
        "finish_systems": (
            FinishSystem(
                "f1",
                "j",
                "Old blue",
                ({"kind": "enamel", "colour": "blue", "thickness": Measured(40.0, 5.0)},),
                note,
            ),
        ),
        "entries": (
            entry(1, values={"what": "corrosion", "depth_found": Measured(0.12, 0.02)}, note=note),
            entry(2, "marking", values={"text": note.replace("\n", " ")}, state="closed"),
            entry(3, "finding", state="deferred", deferred_to=date(2026, 5, 3)),
        ),
        "head": "ab" * 32,
    }
    return book(**(rows | more))


def photo(number: int, width: int = 800, height: int = 600) -> Photo:
    return Photo(f"ph{number}", "j", "d" * 64, "r" * 64, "image/jpeg", width, height)
