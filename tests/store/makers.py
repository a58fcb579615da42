"""Invented records and a shop to put them in, shared by the tests of the store."""

from __future__ import annotations

import io
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from pathlib import Path

import numpy as np
from PIL import Image
from shapely import MultiPolygon, box

from mapper.job.entry import Entry, Outline, Piece, Place
from mapper.job.records import Assembly, Item, Job, Part, Person, Position, Shop
from mapper.store.shop import Store, create
from mapper.surface.build import make_skin
from mapper.surface.geometry import Geometry, Panel, Placement, Tolerance
from mapper.surface.skin import Skin
from meshes.plate import plate

ANN, BEN, OTHER = "person-ann", "person-ben", "person-other"
JOB, WING, PART = "job-1", "assembly-1", "part-1"
POSITION, ITEM = "position-1", "item-1"


class Clock:
    """A clock that moves one second at each look, so that a shop comes out the same every time."""

    def __init__(self, start: datetime | None = None) -> None:
        self.time = start or datetime(2024, 3, 1, 9, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        self.time += timedelta(seconds=1)
        return self.time


def new_shop(folder: Path) -> Store:
    """A shop of two people with one job, a wing in it, a part, its position and its sheet."""
    store = create(folder, Shop("shop-1", "Field shop"), Person(ANN, "Ann"), now=Clock())
    with store.act(ANN, "set up", "action-set-up") as action:
        action.add(Person(BEN, "Ben"))
        action.add(Job(JOB, "Two-seater"))
        action.add(Assembly(WING, JOB, "Left wing"))
        action.add(Part(PART, JOB, WING, "Outer wing", code="LW-01"))
        action.add(Position(POSITION, PART, "Outer wing"))
        action.add(Item(ITEM, POSITION, "Outer wing", since=date(1950, 1, 1)))
    return store


def entry(key: str, *, note: str = "", kind: str = "finding", **more: object) -> Entry:
    """A finding described by its place alone."""
    return Entry(key, JOB, PART, kind, place=Place("near rib 3"), note=note, **more)  # type: ignore[arg-type]


def drawn(key: str, geometry: str, corners: int = 40) -> Entry:
    """A finding with an outline of many corners, cut into two pieces, with values and anchors."""
    turn = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    ring = np.column_stack([700 + 90 * np.cos(turn), 300 + 60 * np.sin(turn)])
    whole = MultiPolygon([(ring, [])])
    pieces = tuple(
        Piece(ITEM, "skin", "outer", MultiPolygon([part]), part.area)
        for part in (whole & box(0, 0, 700, 999), whole & box(700, 0, 2000, 999))
    )
    count = len(whole.geoms[0].exterior.coords)
    anchors = np.column_stack([np.linspace(600, 800, count), np.full(count, 33.25), np.ones(count)])
    return Entry(
        key,
        JOB,
        PART,
        "finding",
        outline=Outline("skin", "outer", whole, whole.area, anchors),
        pieces=pieces,
        geometry=geometry,
        note="pitting along the edge of the earlier repair",
        values={"what": "corrosion", "corrosion": "pitting"},
    )


def picture(kind: str = "JPEG", size: tuple[int, int] = (64, 48), **more: object) -> bytes:
    """The bytes of a small picture with a gradient in it."""
    ramp = np.add.outer(np.arange(size[1]) * 2, np.arange(size[0])).astype(np.uint8)
    out = io.BytesIO()
    Image.fromarray(ramp).convert("RGB").save(out, kind, **more)
    return out.getvalue()


def shape(name: str = "Outer wing", panels: tuple[str, ...] = ()) -> Geometry:
    """A geometry version of a plate; its panels are in name only."""
    square = MultiPolygon([box(0, 0, 1400, 600)])
    return Geometry(
        part=name,
        shape="plate",
        skins=(_plate(),),
        tolerance=Tolerance("tape", 2.0),
        placement=Placement(np.zeros(3), np.eye(3)),
        panels=tuple(Panel(panel, "skin", square, gauge=0.5) for panel in panels),
    )


@lru_cache
def _plate() -> Skin:
    (sheet,) = plate(((0, 0), (1400, 0), (1400, 600), (0, 600)), name="skin")
    return make_skin(sheet, triangles=400)
