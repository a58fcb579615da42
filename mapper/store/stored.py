"""Which record lies in which table: the one list that writing, reading, undo and verify go by.

A new type of record is one row here and one table; nothing else in this room names types. All work
below the public interface is on plain records (`mapper.job.plain`): dicts with the fields of the
dataclass as keys.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Table, bindparam, select

from mapper.job.entry import Entry
from mapper.job.fields import Field
from mapper.job.kinds import KINDS
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
from mapper.store import tables
from mapper.store.errors import StoreError
from mapper.store.prepared import Prepared, insert_into, update_by_id

Plain = dict[str, Any]


@dataclass(frozen=True, eq=False)
class Stored:
    """How one type of record is kept.

    kind: its word in the history. columns: look-up column -> field of the record ("" is kept as
    NULL where the column may be empty). refers: field -> kind of record it must find.
    job_of: kind and field through which a record without a job of its own finds its job.
    """

    kind: str
    cls: type
    table: Table
    columns: Mapping[str, str]
    refers: Mapping[str, str]
    job_of: tuple[str, str] | None = None

    def __post_init__(self) -> None:
        table, key = self.table, self.table.c.id == bindparam("key")
        made = {
            "insert": insert_into(table),
            "update": update_by_id(table),
            "delete": Prepared(table.delete().where(key)),
            "get": Prepared(select(table.c.version, table.c.body).where(key)),
            "find": select(table.c.version, table.c.body).where(key),
        }
        for name, statement in made.items():
            object.__setattr__(self, name, statement)

    def look_ups(self, plain: Mapping[str, Any]) -> Plain:
        """The look-up columns of a plain record, its job aside where it has none of its own."""
        nullable = self.table.c
        return {
            column: plain[field] or (None if nullable[column].nullable else "")
            for column, field in self.columns.items()
        }

    insert: Any = None
    update: Any = None
    delete: Any = None
    get: Any = None
    find: Any = None


_IN_JOB = {"job_id": "job"}

STORED: tuple[Stored, ...] = (
    Stored("shop", Shop, tables.shop, {}, {}),
    Stored("person", Person, tables.person, {"name": "name"}, {}),
    Stored("job", Job, tables.job, {"name": "name"}, {}),
    Stored("lot", Lot, tables.lot, {"number": "number"}, {}),
    Stored(
        "assembly", Assembly, tables.assembly, {"job_id": "job_id", "name": "name"}, {**_IN_JOB}
    ),
    Stored(
        "part",
        Part,
        tables.part,
        {f: f for f in ("job_id", "assembly_id", "geometry", "name", "code")},
        {**_IN_JOB, "assembly_id": "assembly", "geometry": "geometry"},
    ),
    Stored(
        "position",
        Position,
        tables.position,
        {"part_id": "part_id"},
        {"part_id": "part"},
        ("part", "part_id"),
    ),
    Stored(
        "item",
        Item,
        tables.item,
        {"position_id": "position_id"},
        {"position_id": "position"},
        ("position", "position_id"),
    ),
    Stored(
        "finish system",
        FinishSystem,
        tables.finish_system,
        {"job_id": "job_id", "name": "name"},
        {**_IN_JOB},
    ),
    Stored("photo", Photo, tables.photo, {"job_id": "job_id", "digest": "digest"}, {**_IN_JOB}),
    Stored(
        "entry",
        Entry,
        tables.entry,
        {
            "job_id": "job_id",
            "part_id": "part_id",
            "geometry": "geometry",
            "by_person": "by",
            "kind": "kind",
        },
        {**_IN_JOB, "part_id": "part", "geometry": "geometry", "by": "person"},
    ),
)
BY_KIND: Mapping[str, Stored] = {stored.kind: stored for stored in STORED}
BY_CLASS: Mapping[type, Stored] = {stored.cls: stored for stored in STORED}
# Immutable, known by their digests; in the history, but no records, and never undone.
GEOMETRY = "geometry"
EARLIER = "earlier history"
KEPT = (GEOMETRY, EARLIER)


def kind_of(record: object) -> Stored:
    """How that record is kept; StoreError for anything that is no record."""
    try:
        return BY_CLASS[type(record)]
    except KeyError:
        names = ", ".join(sorted(c.__name__ for c in BY_CLASS))
        raise StoreError(
            f"A {type(record).__name__} was given to store.", f"Records are: {names}."
        ) from None


def references(plain: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    """What the values of a plain entry refer to, as (kind of record, id), each once, in order."""
    kind = KINDS.get(plain["kind"])
    if kind is None:
        return ()
    return tuple(dict.fromkeys(_references(kind.fields, plain["values"])))


def _references(fields: tuple[Field, ...], values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for field in fields:
        value = values.get(field.name)
        if not value:
            continue
        if field.type == "reference" and field.refers_to in BY_KIND:
            yield field.refers_to, value
        elif field.type == "records":
            for row in value:
                yield from _references(field.of, row)


def name_of(plain: Mapping[str, Any]) -> str:
    """What a person calls a plain record: its name, number or kind, else its id."""
    return str(plain.get("name") or plain.get("number") or plain.get("kind") or plain["id"])
