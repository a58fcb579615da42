"""Reading: a job as one Book from one moment, and the lists that the command line shows."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeVar

from sqlalchemy import Connection, Engine, bindparam, select

from mapper.errors import MapperError
from mapper.job.book import Book
from mapper.job.entry import Entry
from mapper.job.plain import from_plain
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
from mapper.store import photos
from mapper.store.errors import RUN_VERIFY, NoSuchRecord, ShopDamaged, plain_words
from mapper.store.history import FIRST, newest
from mapper.store.stored import BY_CLASS
from mapper.store.tables import geometry
from mapper.surface.geometry import Geometry
from mapper.surface.version import digest as geometry_digest
from mapper.surface.version import from_bytes

R = TypeVar("R")
_EARLY = datetime.min.replace(tzinfo=UTC)
_DATA = select(geometry.c.data).where(geometry.c.digest == bindparam("key"))
_ALL = {cls: select(stored.table.c.body) for cls, stored in BY_CLASS.items()}
_IN_JOB = {
    cls: select(stored.table.c.body).where(stored.table.c.job_id == bindparam("job"))
    for cls, stored in BY_CLASS.items()
    if "job_id" in stored.table.c
}


class Geometries(Mapping[str, Geometry]):
    """Geometry versions by digest, each read when it is first looked at; they never change.

    A book of a hundred parts is listed without unpacking a hundred meshes. What is read is checked
    against its digest: ShopDamaged where it differs.
    """

    def __init__(
        self, engine: Engine, where: Path, keys: tuple[str, ...], read: dict[str, Geometry]
    ) -> None:
        self._engine, self._where, self._read = engine, where, read
        self._keys = dict.fromkeys(keys)

    def __getitem__(self, key: str) -> Geometry:
        if key not in self._keys:
            raise KeyError(key)
        if key not in self._read:
            self._read[key] = read_geometry(self._engine, self._where, key)
        return self._read[key]

    def __contains__(self, key: object) -> bool:
        return key in self._keys

    def __iter__(self) -> Iterator[str]:
        return iter(self._keys)

    def __len__(self) -> int:
        return len(self._keys)


def read_geometry(engine: Engine, where: Path, key: str) -> Geometry:
    """The geometry version with that digest; NoSuchRecord, or ShopDamaged for other bytes."""
    return from_bytes(read_geometry_bytes(engine, where, key))


def read_geometry_bytes(engine: Engine, where: Path, key: str) -> bytes:
    """The bytes of that geometry version; NoSuchRecord, or ShopDamaged where they are others."""
    with plain_words(where), engine.connect() as connection:
        connection = connection.execution_options(reading=True)
        data = connection.execute(_DATA, {"key": key}).scalar()
    if data is None:
        raise NoSuchRecord(f"There is no geometry version {key} in this shop.")
    if geometry_digest(data) != key:
        raise ShopDamaged(
            f"The geometry version {key} in {where} is damaged.",
            "",
            "Restore the newest backup into another folder.",
        )
    return bytes(data)


def record_of(cls: type[R], body: str) -> R:
    """The record that a row's text stands for; ShopDamaged where another program changed it."""
    plain: Any = None
    try:
        plain = json.loads(body)
        return from_plain(cls, plain)
    except (MapperError, ValueError, RecursionError) as error:
        named = isinstance(plain, dict) and plain.get("id")
        why = f": {error.given}" if isinstance(error, MapperError) else ": it is no JSON."
        raise ShopDamaged(
            f"The {BY_CLASS[cls].kind} {named or repr(body[:40])} in this shop cannot be read{why}",
            "",
            RUN_VERIFY,
        ) from error


def read_all(connection: Connection, cls: type[R]) -> list[R]:
    """Every record of a type, in no particular order."""
    return [record_of(cls, body) for body in connection.scalars(_ALL[cls])]


def read_one(connection: Connection, cls: type[R], key: str) -> R | None:
    """The record with that id, or None."""
    row = connection.execute(BY_CLASS[cls].find, {"key": key}).first()
    return None if row is None else record_of(cls, row[1])


def read_shop(connection: Connection, where: Path) -> Shop:
    """The one shop record; ShopDamaged where there is none, or more than one."""
    found = read_all(connection, Shop)
    if len(found) != 1:
        raise ShopDamaged(f"{where} holds {len(found)} shops, and must hold one.")
    return found[0]


def in_order(records: list[R], name: str = "name") -> tuple[R, ...]:
    """Records by name as a person would sort them, ids breaking ties."""
    return tuple(sorted(records, key=lambda r: (getattr(r, name).casefold(), r.id)))  # type: ignore[attr-defined]


def read_book(engine: Engine, folder: Path, job_id: str, read: dict[str, Geometry]) -> Book:
    """Everything of one job at one moment (one read transaction); NoSuchRecord for another id.

    read: geometries read before, shared between the books of an open shop.
    """
    where = folder / "shop.sqlite"
    with plain_words(where), engine.connect() as connection:
        connection = connection.execution_options(reading=True)
        with connection.begin():
            job = read_one(connection, Job, job_id)
            if job is None:
                known = ", ".join(repr(j.name) for j in in_order(read_all(connection, Job)))
                raise NoSuchRecord(
                    f"There is no job with the id {job_id!r}.", f"Jobs here: {known or 'none'}."
                )
            shop = read_shop(connection, where)
            people = read_all(connection, Person)
            lots = read_all(connection, Lot)
            bodies: dict[type, list[str]] = {
                cls: list(connection.scalars(_IN_JOB[cls], {"job": job_id})) for cls in _IN_JOB
            }
            head = newest(connection)[1]

    def these(cls: type[R]) -> list[R]:
        return [record_of(cls, body) for body in bodies[cls]]

    parts, entries, pictures = in_order(these(Part)), these(Entry), these(Photo)
    digests = {p.geometry for p in parts} | {e.geometry for e in entries}
    return Book(
        shop=shop,
        job=job,
        people=in_order(people),
        assemblies=tuple(sorted(these(Assembly), key=lambda a: (a.order, a.name.casefold(), a.id))),
        parts=parts,
        positions=in_order(these(Position)),
        items=tuple(sorted(these(Item), key=lambda i: (i.name.casefold(), str(i.since), i.id))),
        entries=tuple(sorted(entries, key=_when)),
        lots=in_order(lots, "product"),
        finish_systems=in_order(these(FinishSystem)),
        photos=tuple(sorted(pictures, key=lambda p: (p.taken or _EARLY, p.id))),
        geometries=Geometries(engine, where, tuple(sorted(digests - {""})), read),
        photo_files={p.id: str(photos.path_of(folder, p.digest)) for p in pictures},
        head="" if head == FIRST else head,
    )


def _when(entry: Entry) -> tuple[Any, ...]:
    moment = entry.device_time or entry.server_time or _EARLY
    return (moment, entry.server_time or _EARLY, entry.id)
