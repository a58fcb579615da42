"""Books to report on: empty, without a shape, and full of awkward text."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from functools import cache
from typing import Any

from shapely import MultiPoint

from mapper.job.book import Book
from mapper.job.entry import Entry, Place
from mapper.job.fields import Measured
from mapper.job.outlines import new_entry, outline_of
from mapper.job.partfile.build import build
from mapper.job.partfile.read import read
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
from mapper.surface import version
from mapper.surface.geometry import Geometry
from mapper.surface.place import flat_of
from mapper.surface.region import box, disc

WHEN = datetime(2026, 3, 2, 14, 5, tzinfo=UTC)

WING = """
units = "mm"
part = "outer wing"
shape = "loft"
side = "left"

[measured]
how = "tape"
tolerance = 2

[stations]
axis = "span"

[[section]]
station = 0
chord = 1200
profile = "2412"

[[section]]
station = 1800
chord = 900
twist = -2

[[spar]]
name = "front spar"
chord = 20

[[rib]]
name = "rib 1"
station = 500

[[rib]]
name = "rib 2"
station = 1200

[[rivet_row]]
name = "spar rivets"
along = "front spar"
pitch = 25

[[seam]]
name = "middle seam"
station = 900

[[opening]]
name = "cap"
form = "round"
station = 400
chord = 45
side = "upper"
diameter = 90

[[panel]]
name = "inboard sheet"
station = 400
chord = 60
side = "upper"
alloy = "2024-T3"
gauge = 0.8

[[panel]]
name = "outboard sheet"
station = 1400
chord = 60
side = "upper"
thin = true
"""


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
    digest = f"{number}" * 64
    return Photo(f"ph{number}", "j", digest, digest, "image/jpeg", width, height)


@cache
def wing(triangles: int = 3000) -> Geometry:
    """A plain tapered wing with two panels and an access opening, from its part file."""
    return build(read(WING), triangles=triangles)


def shaped(**more: Any) -> Book:
    """A wing with coats, work, findings and inspected areas on it, and a part without a shape."""
    geometry = wing()
    digest = version.digest(version.to_bytes(geometry))
    skin = geometry.skins[0]
    upper = box(skin, stations=(300.0, 1500.0), chord=(5.0, 60.0), side="upper")
    sheets = [(p.name, p.skin, p.name) for p in geometry.panels]
    start = worded(
        positions=(
            Position("pos", "part", "Bellcrank"),
            *(Position(f"at{i}", "wing", *sheet) for i, sheet in enumerate(sheets)),
        ),
        items=(
            Item("i1", "pos", "first", until=date(2026, 1, 5)),
            Item("i2", "pos", "second", made="replacement", since=date(2026, 1, 5)),
            *(Item(f"in{i}", f"at{i}", sheet[0]) for i, sheet in enumerate(sheets)),
        ),
        parts=(
            Part("part", "j", "a", "Aileron bellcrank", code="LW-03"),
            Part("wing", "j", "a", "Left outer wing", code="LW-01", geometry=digest),
        ),
        geometries={digest: geometry},
    )

    def on_wing(number: int, kind: str, shape: Any, **values: Any) -> Entry:
        return new_entry(
            start,
            "wing",
            kind,
            outline=outline_of(geometry, skin.name, "outer", shape),
            values=values,
            entry_id=f"w{number}",
            by="p1",
            device_time=WHEN.replace(month=4, day=number),
        )

    entries = (
        on_wing(1, "coat zone", upper, finish_system="f1", lead_test="found"),
        on_wing(2, "application", box(skin, stations=(300, 900), chord=(5, 60), side="upper"),
                product="gel", left_fraction=10.0),
        on_wing(3, "inspected area", box(skin, stations=(300, 900), chord=(5, 40), side="upper"),
                technique="eye", date=date(2026, 4, 3), result="findings recorded"),
        on_wing(4, "finding", disc(skin, flat_of(skin, [600.0], [30.0], [True])[0], 40.0),
                what="corrosion", corrosion="pitting", depth_found=Measured(0.12, 0.02)),
        on_wing(5, "finding", MultiPoint(flat_of(skin, [700.0], [20.0], [True])), what="dent"),
    )  # fmt: skip
    return replace(start, **({"entries": (*start.entries, *entries)} | more))
