"""Small books on small real skins: a flat plate of two panels, so that every area is known by hand.

The plate is 2000 x 1000 mm: panel "inboard" x 0..1200 (with an opening 100 x 100 mm), "outboard"
x 1200..2000. Names are invented.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import shapely
from shapely import MultiLineString, MultiPoint, MultiPolygon

from mapper.job.book import Book
from mapper.job.entry import Entry, Outline, Place
from mapper.job.records import Assembly, FinishSystem, Job, Part, Person, Shop
from mapper.surface.build import make_skin
from mapper.surface.geometry import Geometry, Opening, Panel, Placement, Tolerance
from meshes.plate import plate

DIGEST = "ab" * 32
START = datetime(2024, 3, 4, 8, 0, tzinfo=UTC)
INBOARD, OUTBOARD = 1200.0, 800.0  # mm wide, 1000 mm high
OPENING = MultiPolygon([shapely.box(500, 500, 600, 600)])


def plate_geometry(*, percent: float = 2.0, **sheet: Any) -> Geometry:
    """The plate; sheet: changes to both panels (gauge=..., thin=...)."""
    (flat,) = plate([(0, 0), (2000, 0), (2000, 1000), (0, 1000)])
    skin = make_skin(flat)
    described: dict[str, Any] = {"alloy": "2024-T3", "gauge": 0.8, "cladding": "clad", **sheet}
    inboard = shapely.difference(shapely.box(0, 0, 1200, 1000), OPENING)
    return Geometry(
        part="test plate",
        shape="plate",
        skins=(skin,),
        tolerance=Tolerance("tape", percent),
        placement=Placement(np.zeros(3), np.eye(3)),
        panels=(
            Panel("inboard", skin.name, MultiPolygon([inboard]), **described),
            Panel(
                "outboard", skin.name, MultiPolygon([shapely.box(1200, 0, 2000, 1000)]), **described
            ),
        ),
        openings=(Opening("hand hole", skin.name, OPENING),),
    )


class Writer:
    """Makes entries one minute apart on one skin; `.box`, `.line`, `.points`, `.shape`."""

    def __init__(self, skin: str = "plate", part_id: str = "p1") -> None:
        self.skin, self.part_id = skin, part_id
        self.made: list[Entry] = []

    def shape(self, kind: str, face: str, shape: Any, **values: Any) -> str:
        """Adds an entry outlined by `shape`; its id."""
        number = len(self.made) + 1
        self.made.append(
            Entry(
                id=f"e{number:03d}",
                job_id="j1",
                part_id=self.part_id,
                kind=kind,
                outline=Outline(self.skin, face, shape),
                geometry=DIGEST,
                device_time=START + timedelta(minutes=number),
                values=values,
            )
        )
        return self.made[-1].id

    def box(self, kind: str, face: str, corners: Sequence[float], **values: Any) -> str:
        """Adds an entry on x0, y0, x1, y1 (flat mm); its id."""
        return self.shape(kind, face, MultiPolygon([shapely.box(*corners)]), **values)

    def line(self, kind: str, face: str, points: Any, **values: Any) -> str:
        """Adds an entry along a line; its id."""
        return self.shape(kind, face, MultiLineString([points]), **values)

    def points(self, kind: str, face: str, points: Any, **values: Any) -> str:
        """Adds an entry at points; its id."""
        return self.shape(kind, face, MultiPoint(points), **values)

    def worded(self, kind: str, words: str, **values: Any) -> str:
        """Adds an entry with words for a place; its id."""
        number = len(self.made) + 1
        self.made.append(
            Entry(
                id=f"e{number:03d}",
                job_id="j1",
                part_id=self.part_id,
                kind=kind,
                place=Place(words),
                device_time=START + timedelta(minutes=number),
                values=values,
            )
        )
        return self.made[-1].id


FINISHES = (
    FinishSystem(
        "f-enamel",
        "j1",
        "enamel stack",
        tuple({"kind": "enamel", "colour": c} for c in ("red", "white", "cream", "grey")),
    ),
    FinishSystem(
        "f-five",
        "j1",
        "five coats",
        (*({"kind": "enamel"} for _ in range(4)), {"kind": "lacquer", "colour": "blue"}),
    ),
    FinishSystem("f-bare", "j1", "bare metal", ()),
)


def book_of(
    entries: Sequence[Entry] = (),
    geometry: Geometry | None = None,
    *,
    settings: Mapping[str, Any] | None = None,
    **more: Any,
) -> Book:
    """A book of one job with one part (id "p1") of that geometry (None: the plate)."""
    shape = plate_geometry() if geometry is None else geometry
    book = Book(
        shop=Shop("s1", "Test shop", settings=settings or {}),
        job=Job("j1", "Test job"),
        people=(Person("w1", "A. Tester"),),
        assemblies=(Assembly("a1", "j1", "left wing"),),
        parts=(Part("p1", "j1", "a1", "test plate", geometry=DIGEST),),
        positions=(),
        items=(),
        entries=tuple(entries),
        lots=(),
        finish_systems=FINISHES,
        photos=(),
        geometries={DIGEST: shape},
        photo_files={},
    )
    return replace(book, **more) if more else book
