"""A job's record as one immutable reading of the store.

Estimates, drawings and reports are made from it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from itertools import pairwise
from types import MappingProxyType
from typing import Any, TypeVar

from mapper.errors import MapperError
from mapper.job.entry import Entry
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
from mapper.job.trail import Trail
from mapper.surface.geometry import Geometry

T = TypeVar("T")
_ROWS = (
    "people",
    "assemblies",
    "parts",
    "positions",
    "items",
    "entries",
    "lots",
    "finish_systems",
    "photos",
)


@dataclass(frozen=True, eq=False)
class Book:
    """Everything of one job at one moment. head: the newest hash of the history chain.

    geometries: digest -> Geometry, every version any part or entry refers to.
    photo_files: photo id -> path of the stored file (text).
    trail: what the history says of who wrote it; empty until somebody looks it up (store.trail).
    Tuples are ordered as a reader would want them: assemblies by order, parts by name, entries by
    device time. Raises MapperError where records refer to others that are not there, or two items
    are in one position on one day.
    """

    shop: Shop
    job: Job
    people: tuple[Person, ...]
    assemblies: tuple[Assembly, ...]
    parts: tuple[Part, ...]
    positions: tuple[Position, ...]
    items: tuple[Item, ...]
    entries: tuple[Entry, ...]
    lots: tuple[Lot, ...]
    finish_systems: tuple[FinishSystem, ...]
    photos: tuple[Photo, ...]
    geometries: Mapping[str, Geometry]
    photo_files: Mapping[str, str]
    head: str = ""
    trail: Trail = field(default_factory=Trail)

    def __post_init__(self) -> None:
        for name in _ROWS:
            rows = tuple(getattr(self, name))
            object.__setattr__(self, name, rows)
            if len({r.id for r in rows}) != len(rows):
                raise MapperError(f"Two of the {name} of {self.job.name!r} have the same id.")
        for name in ("geometries", "photo_files"):
            # Another sort of mapping may read a geometry when it is first looked at: it stays.
            given = getattr(self, name)
            if isinstance(given, dict):
                object.__setattr__(self, name, MappingProxyType(dict(given)))
        assemblies = {a.id for a in self.assemblies}
        parts = {p.id for p in self.parts}
        positions = {p.id for p in self.positions}
        self._known(((p.name, p.assembly_id) for p in self.parts), assemblies, "assembly")
        self._known(((p.name, p.part_id) for p in self.positions), parts, "part")
        self._known(((i.name, i.position_id) for i in self.items), positions, "position")
        self._known(((e.kind, e.part_id) for e in self.entries), parts, "part")
        self._known(
            ((p.name, p.geometry) for p in self.parts if p.geometry), self.geometries, "geometry"
        )
        self._known(
            ((e.kind, e.geometry) for e in self.entries if e.geometry), self.geometries, "geometry"
        )
        owned: tuple[Any, ...] = (
            *self.assemblies,
            *self.parts,
            *self.entries,
            *self.finish_systems,
        )
        for record in owned:
            if record.job_id != self.job.id:
                raise MapperError(
                    f"The record {record.id} is of the job {record.job_id}.",
                    f"This book is of the job {self.job.id}.",
                )
        one_at_a_time(self.items)

    def _known(self, rows: Iterable[tuple[str, str]], there: Any, what: str) -> None:
        for name, wanted in rows:
            if wanted not in there:
                raise MapperError(
                    f"{name!r} refers to the {what} {wanted}.", f"The job has no such {what}."
                )

    def _one(self, rows: tuple[Any, ...], wanted: str, what: str) -> Any:
        for row in rows:
            if row.id == wanted:
                return row
        raise MapperError(f"There is no {what} {wanted!r} in {self.job.name!r}.")

    def part(self, part_id: str) -> Part:
        """The part of that id; MapperError where there is none."""
        found: Part = self._one(self.parts, part_id, "part")
        return found

    def entry(self, entry_id: str) -> Entry:
        """The entry of that id; MapperError where there is none."""
        found: Entry = self._one(self.entries, entry_id, "entry")
        return found

    def geometry_of(self, part_id: str) -> Geometry | None:
        """The part's current geometry; None for a part without a shape."""
        part = self.part(part_id)
        return self.geometries[part.geometry] if part.geometry else None

    def entries_of(self, part_id: str, kind: str | None = None) -> tuple[Entry, ...]:
        """The part's entries, all or of one kind, in the book's order; () where there are none."""
        return tuple(
            e for e in self.entries if e.part_id == part_id and (kind is None or e.kind == kind)
        )

    def person_name(self, person_id: str) -> str:
        """The person's name; the id itself where the person is not known, "" for ""."""
        return next((p.name for p in self.people if p.id == person_id), person_id)


def one_at_a_time(items: Iterable[Item]) -> None:
    """MapperError where two items are in one position on one day; nothing for no items."""
    of: dict[str, list[Item]] = {}
    for item in items:
        of.setdefault(item.position_id, []).append(item)
    for group in of.values():
        group.sort(key=lambda i: (i.since is not None, i.since or date.min))
        for one, other in pairwise(group):
            if one.until is None or other.since is None or other.since < one.until:
                raise MapperError(
                    f"{one.name!r} and {other.name!r} are in one position on the same day.",
                    "One sheet follows another: the day one came out, the next may go in.",
                    "Give the first an end date.",
                )
