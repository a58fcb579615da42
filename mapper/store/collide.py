"""Words for what cannot be stored beside what is there: both sides shown, what to do said.

Each function looks, in the transaction that failed, at what the shop holds, and gives the error.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from sqlalchemy import Connection, bindparam, func, select

from mapper.job.plain import from_plain
from mapper.store import tables
from mapper.store.canonical import differences
from mapper.store.errors import NoSuchRecord, Refused, StaleRecord, StoreError
from mapper.store.stored import BY_KIND, GEOMETRY, Plain, Stored, name_of

_h = tables.history.c
_LAST_CHANGE = (
    select(_h.by_person, _h.server_time, _h.op, _h.words)
    .where(_h.record_id == bindparam("key"), _h.kind == bindparam("kind"))
    .order_by(_h.seq.desc())
    .limit(1)
)
HAS_GEOMETRY = select(tables.geometry.c.digest).where(tables.geometry.c.digest == bindparam("key"))
_DONE = {"add": "added", "change": "changed", "remove": "removed"}
HANGS_ON_ENTRY = (tables.entry_piece, tables.entry_photo, tables.entry_reference)


def is_there(connection: Connection, kind: str, key: str) -> bool:
    """Whether the shop holds that record, or that geometry version."""
    statement = HAS_GEOMETRY if kind == GEOMETRY else BY_KIND[kind].find
    return connection.execute(statement, {"key": key}).first() is not None


def id_in_use(stored: Stored, plain: Plain, there: Plain | None) -> Refused:
    """A new record whose id another one has, or had (there: None)."""
    if there is None:
        return Refused(
            f"The id {plain['id']!r} belonged to a {stored.kind} that was removed.",
            "An id is never used for a second record.",
            "Undo the removal, or take a new id.",
            mine=_record(stored, plain),
        )
    told = "; ".join(differences(plain, there)) or "it says the same"
    return Refused(
        f"There is a {stored.kind} with the id {plain['id']!r} already: {told}.",
        "An id is never used for a second record.",
        "Change the record that is there, or take a new id.",
        mine=_record(stored, plain),
        stored=_record(stored, there),
    )


def gone(connection: Connection, stored: Stored, plain: Plain) -> NoSuchRecord:
    """A change of a record that is not there, or not any more."""
    told = _last_change(connection, stored.kind, plain["id"])
    return NoSuchRecord(
        f"There is no {stored.kind} {name_of(plain)!r} (id {plain['id']})"
        + (f"; it was {told}." if told else ".")
    )


def stale(
    connection: Connection, stored: Stored, plain: Plain, there: Plain, read: int
) -> StaleRecord:
    """A change made from a version that is not the newest."""
    told = "; ".join(differences(plain, there)) or "both say the same"
    return StaleRecord(
        f"The {stored.kind} {name_of(there)!r} is at version {there['version']} and yours was made"
        f" from version {read}: {told} ({_last_change(connection, stored.kind, plain['id'])}).",
        "A change starts from the newest version.",
        "Look at both, and make your change on the stored one.",
        mine=_record(stored, plain),
        stored=_record(stored, there),
    )


def refused_row(connection: Connection, stored: Stored, plain: Plain) -> StoreError:
    """A row the database would not take: what it refers to is missing, or its code is used."""
    wanted = [(kind, plain[field]) for field, kind in stored.refers.items() if plain[field]]
    if any(not is_there(connection, kind, key) for kind, key in wanted):
        return missing(connection, stored.kind, plain, wanted)
    if stored.kind == "part":
        code = tables.part.c.code == plain["code"]
        other = select(tables.part.c.name).where(tables.part.c.job_id == plain["job_id"], code)
        return Refused(
            f"The tag code {plain['code']!r} is on {connection.scalar(other)!r} already.",
            "Each part of a job has its own code.",
            "Give this one another code.",
            mine=_record(stored, plain),
        )
    return StoreError(f"The {stored.kind} {name_of(plain)!r} was refused by the database.")


def missing(
    connection: Connection, kind: str, plain: Plain, wanted: Iterable[tuple[str, str]]
) -> NoSuchRecord:
    """A record that refers to others that are not there."""
    lost = [f"the {k} {key!r}" for k, key in wanted if not is_there(connection, k, key)]
    return NoSuchRecord(
        f"The {kind} {name_of(plain)!r} refers to {', '.join(lost)}, which is not here.",
        "What a record refers to must be there first.",
        "Add it first, or leave the reference out.",
    )


def other_job(stored: Stored, plain: Plain, kind: str, key: str) -> StoreError:
    """A record of one job that refers to one of another."""
    return StoreError(
        f"The {stored.kind} {name_of(plain)!r} refers to the {kind} {key!r} of another job.",
        "What belongs to one job refers to that job alone.",
        f"Choose the {kind} of the same job.",
    )


def in_use(connection: Connection, stored: Stored, old: Plain) -> Refused:
    """A removal of what others refer to."""
    uses: list[tuple[str, Any]] = []
    for table in tables.metadata.sorted_tables:
        if stored.kind == "entry" and table in HANGS_ON_ENTRY:
            continue
        for column in table.c:
            if any(key.column is stored.table.c.id for key in column.foreign_keys):
                count = select(func.count()).where(column == old["id"])
                uses.append((table.name.replace("_", " "), connection.scalar(count)))
    refs = tables.entry_reference.c
    count = select(func.count()).where(refs.kind == stored.kind, refs.record_id == old["id"])
    uses.append(("entry that refers to it", connection.scalar(count)))
    told = ", ".join(f"{n} x {name}" for name, n in uses if n)
    return Refused(
        f"The {stored.kind} {name_of(old)!r} is still in use ({told}).",
        "Only what nothing refers to can be removed.",
        "Remove or change what refers to it first.",
        stored=_record(stored, old),
    )


def _last_change(connection: Connection, kind: str, key: str) -> str:
    last = connection.execute(_LAST_CHANGE, {"key": key, "kind": kind}).first()
    if last is None:
        return ""
    row = connection.execute(BY_KIND["person"].find, {"key": last.by_person}).first()
    who = last.by_person if row is None else name_of(json.loads(row[1]))
    when = f"{last.server_time:%Y-%m-%d %H:%M} UTC"
    return f"{_DONE[last.op]} by {who} on {when}: {last.words!r}"


def _record(stored: Stored, plain: Plain) -> Any:
    return from_plain(stored.cls, plain)
