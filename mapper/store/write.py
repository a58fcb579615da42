"""Changes of one action inside its transaction: tables and history move together, or not at all."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, Table, bindparam, delete, select

from mapper.job.book import one_at_a_time
from mapper.job.plain import from_plain
from mapper.job.records import Item
from mapper.store import collide, tables
from mapper.store.canonical import canonical
from mapper.store.errors import NoSuchRecord, StoreError
from mapper.store.history import FIRST, NEWEST, HistoryRow, row_hash
from mapper.store.prepared import Prepared, driver_of, insert_into
from mapper.store.stored import BY_KIND, EARLIER, GEOMETRY, Plain, Stored, name_of, references
from mapper.store.types import offset_text, utc_text

_h = tables.history.c
_KNOWN = Prepared(
    select(_h.seq).where(_h.record_id == bindparam("key"), _h.kind == bindparam("kind")).limit(1)
)
_JOB_OF = {
    kind: Prepared(
        select(BY_KIND[kind].table.c.job_id).where(BY_KIND[kind].table.c.id == bindparam("key"))
    )
    for kind in ("assembly", "part", "position", "item", "photo")
}
_IN_POSITION = select(tables.item.c.body).where(tables.item.c.position_id == bindparam("key"))
_NEWEST = Prepared(NEWEST)
_INSERT_HISTORY = insert_into(tables.history)
_INSERT_GEOMETRY = insert_into(tables.geometry)
_HAS_GEOMETRY = Prepared(collide.HAS_GEOMETRY)
_INSERT_EARLIER = insert_into(tables.earlier_history)
_HAS_EARLIER = Prepared(
    select(tables.earlier_history.c.digest).where(
        tables.earlier_history.c.digest == bindparam("key")
    )
)
# The rows that hang on an entry: table, and how they are read off a plain entry.
HANGING: dict[Table, Any] = {
    tables.entry_piece: lambda e: [
        {"item_id": p["item_id"], "skin": p["skin"], "face": p["face"]} for p in e["pieces"]
    ],
    tables.entry_photo: lambda e: [{"photo_id": p["photo_id"]} for p in e["photos"]],
    tables.entry_reference: lambda e: [
        {"kind": kind, "record_id": key} for kind, key in references(e)
    ],
}
_HANG = {table: insert_into(table) for table in HANGING}
_UNHANG = {
    table: Prepared(delete(table).where(table.c.entry_id == bindparam("key"))) for table in HANGING
}


MOST_OFFSET = 10**13  # ms: over three hundred years, a clock that was never set


@dataclass(frozen=True)
class Heading:
    """What all rows of one action share."""

    action_id: str
    mode: str
    of_action: str | None
    content: str
    by: str
    device_time: datetime
    server_time: datetime
    words: str
    clock_offset_ms: int | None = None


def whole_ms(offset: float | None) -> int | None:
    """A clock's offset as it is kept; StoreError for one that no clock can have."""
    if offset is None:
        return None
    if not -MOST_OFFSET <= offset <= MOST_OFFSET:  # also not a number
        raise StoreError(
            f"A clock offset of {offset} ms was given.",
            f"Allowed: up to {MOST_OFFSET:,} ms either way, the device's clock minus the server's.",
            "Leave it out where the clocks were never compared.",
        )
    return round(offset)


class Writer:
    """Applies changes on a connection within a begun transaction, and chains them at the end."""

    def __init__(self, connection: Connection, heading: Heading) -> None:
        self._c = connection  # for what is rare; the rest runs on the driver, prepared
        self._driver = driver_of(connection)
        self._heading = heading
        self._rows: list[dict[str, Any]] = []
        self._jobs: dict[tuple[str, str], str | None] = {}
        self._mine: set[tuple[str, str]] = set()
        self._positions: set[str] = set()

    def add(self, kind: str, plain: Plain, body: str = "", *, again: bool = False) -> None:
        """Store a record that was not there; `again` where an undo brings one back.

        body: canonical text of `plain` where it was made already.

        Raises Refused for an id that is or was in use, NoSuchRecord for a dangling reference.
        """
        stored, key = BY_KIND[kind], plain["id"]
        if not again:
            self._check_new(stored, plain)
        body = body or canonical(plain)
        row = self._row(stored, plain, body)
        self._check_job(stored, plain)
        try:
            stored.insert.run(self._driver, row)
        except sqlite3.IntegrityError as error:
            raise collide.refused_row(self._c, stored, plain) from error
        if kind == "entry":
            self._hang(plain)
        self._note("add", stored, plain, None, body)
        self._mine.add((kind, key))

    def change(self, kind: str, plain: Plain, read: int) -> None:
        """Replace a record whose version was `read` when it was read; `plain` has the next one.

        Raises StaleRecord where it was changed since, NoSuchRecord where it is gone.
        """
        stored = BY_KIND[kind]
        before, old = self._current(stored, plain, read)
        if kind == "entry":
            # When and by whom a thing was first recorded is not the client's to change.
            plain["server_time"] = old["server_time"]
            plain["by"] = plain["by"] or old["by"]
            plain["device_time"] = plain["device_time"] or old["device_time"]
        if old.get("job_id") != plain.get("job_id"):
            raise StoreError(
                f"The {kind} {name_of(plain)!r} would move to another job.",
                "A record stays in its job.",
                "Add it to the other job, and remove it here.",
            )
        body = canonical(plain)
        row = self._row(stored, plain, body)
        self._check_job(stored, plain)
        try:
            stored.update.run(self._driver, {**row, "key": plain["id"]})
        except sqlite3.IntegrityError as error:
            raise collide.refused_row(self._c, stored, plain) from error
        if kind == "entry":
            self._hang(plain, old)
        self._note("change", stored, plain, before, body)

    def remove(self, kind: str, plain: Plain, read: int) -> None:
        """Take a record away; refused where it was changed since, or is still referred to."""
        stored, key = BY_KIND[kind], plain["id"]
        before, old = self._current(stored, plain, read)
        self._check_unused(stored, old)
        if kind == "entry":
            for statement in _UNHANG.values():
                statement.run(self._driver, {"key": key})
        try:
            stored.delete.run(self._driver, {"key": key})
        except sqlite3.IntegrityError as error:
            raise collide.in_use(self._c, stored, old) from error
        self._note("remove", stored, old, before, None)

    def add_geometry(self, digest: str, part: str, data: bytes) -> None:
        """Keep a geometry version; one that is there already is left alone, silently."""
        if _HAS_GEOMETRY.one(self._driver, key=digest) is not None:
            return
        facts = {"digest": digest, "part": part, "size": len(data)}
        _INSERT_GEOMETRY.run(self._driver, {**facts, "data": data})
        self._put("add", GEOMETRY, digest, None, None, canonical(facts))

    def add_earlier(self, digest: str, job_id: str, data: bytes) -> None:
        """Keep the history that a job brought along; the same one twice is kept once."""
        if _HAS_EARLIER.one(self._driver, key=digest) is not None:
            return
        facts = {"digest": digest, "job_id": job_id, "size": len(data)}
        _INSERT_EARLIER.run(self._driver, {**facts, "data": data})
        self._put("add", EARLIER, digest, job_id, None, canonical(facts))

    def current(self, kind: str, key: str) -> Plain | None:
        """The record as it stands now, or None."""
        row = BY_KIND[kind].get.one(self._driver, key=key)
        return None if row is None else json.loads(row[1])

    def finish(self) -> tuple[HistoryRow, ...]:
        """Chain the rows to the history; NoSuchRecord where nobody has the id of who acts."""
        if not self._rows:
            return ()
        self._check_positions()
        seq, previous = _NEWEST.one(self._driver) or (0, FIRST)
        shared = {
            "action_id": self._heading.action_id,
            "mode": self._heading.mode,
            "of_action": self._heading.of_action,
            "content": self._heading.content,
            "by_person": self._heading.by,
            "device_time": offset_text(self._heading.device_time),
            "server_time": utc_text(self._heading.server_time),
            "words": self._heading.words,
            "clock_offset_ms": self._heading.clock_offset_ms,
        }
        for row in self._rows:
            seq += 1
            row.update(shared, seq=seq, previous=previous)
            previous = row["hash"] = row_hash(row)
        try:
            _INSERT_HISTORY.run_all(self._driver, self._rows)
        except sqlite3.IntegrityError as error:
            raise NoSuchRecord(
                f"There is no person with the id {self._heading.by!r} in this shop.",
                "Whoever records something is one of the shop's people.",
                "Add the person first.",
            ) from error
        return tuple(self._as_history(row) for row in self._rows)

    def _row(self, stored: Stored, plain: Plain, body: str) -> dict[str, Any]:
        row = {"id": plain["id"], "version": plain["version"], "body": body}
        row.update(stored.look_ups(plain))
        if stored.job_of is not None:
            row["job_id"] = self._job(stored, plain)
            if row["job_id"] is None:
                raise collide.refused_row(self._c, stored, plain)
        return row

    def _check_job(self, stored: Stored, plain: Plain) -> None:
        """Refuse what would tie two jobs together: a book is of one job and holds all it names."""
        wanted = [(kind, plain[field]) for field, kind in stored.refers.items()]
        if stored.kind == "entry":
            wanted += [("item", piece["item_id"]) for piece in plain["pieces"]]
            wanted += [("photo", use["photo_id"]) for use in plain["photos"]]
        mine = self._job(stored, plain)
        for kind, key in dict.fromkeys(wanted):
            if kind in _JOB_OF and key and self._job_of(kind, key) not in (mine, None):
                raise collide.other_job(stored, plain, kind, key)

    def _check_positions(self) -> None:
        """Refuse two sheets in one place on one day, looked at when the whole action is in."""
        for key in sorted(self._positions):
            bodies = self._c.scalars(_IN_POSITION, {"key": key})
            one_at_a_time([from_plain(Item, json.loads(body)) for body in bodies])

    def _job_of(self, kind: str, key: str) -> str | None:
        if (kind, key) not in self._jobs:
            found = _JOB_OF[kind].one(self._driver, key=key)
            if found is None:
                return None
            self._jobs[kind, key] = found[0]
        return self._jobs[kind, key]

    def _job(self, stored: Stored, plain: Plain) -> str | None:
        if stored.kind == "job":
            return plain["id"]
        if stored.job_of is None:
            return plain.get("job_id")
        parent, field = stored.job_of
        return self._job_of(parent, plain[field])

    def _note(
        self, op: str, stored: Stored, plain: Plain, before: str | None, after: str | None
    ) -> None:
        self._put(op, stored.kind, plain["id"], self._job(stored, plain), before, after)
        if stored.kind == "item":
            self._positions.add(plain["position_id"])

    def _put(
        self, op: str, kind: str, key: str, job: str | None, before: str | None, after: str | None
    ) -> None:
        self._rows.append(
            {
                "job_id": job,
                "op": op,
                "kind": kind,
                "record_id": key,
                "before": before,
                "after": after,
            }
        )

    def _hang(self, plain: Plain, old: Plain | None = None) -> None:
        for table, rows_of in HANGING.items():
            rows = rows_of(plain)
            if table is tables.entry_reference:
                self._check_found(plain, rows)
            if old is not None:
                if rows_of(old) == rows:
                    continue
                _UNHANG[table].run(self._driver, {"key": plain["id"]})
            if rows:
                numbered = [
                    {"entry_id": plain["id"], "number": n, **row} for n, row in enumerate(rows)
                ]
                try:
                    _HANG[table].run_all(self._driver, numbered)
                except sqlite3.IntegrityError as error:
                    column = "item_id" if table is tables.entry_piece else "photo_id"
                    raise collide.missing(
                        self._c, "entry", plain, [(column[:-3], row[column]) for row in rows]
                    ) from error

    def _check_found(self, plain: Plain, rows: Iterable[Plain]) -> None:
        wanted = [(row["kind"], row["record_id"]) for row in rows]
        if any(not collide.is_there(self._c, kind, key) for kind, key in wanted):
            raise collide.missing(self._c, "entry", plain, wanted)

    def _check_new(self, stored: Stored, plain: Plain) -> None:
        who = {"key": plain["id"], "kind": stored.kind}
        known = (stored.kind, plain["id"]) in self._mine
        if known or _KNOWN.one(self._driver, **who) is not None:
            raise collide.id_in_use(stored, plain, self.current(stored.kind, plain["id"]))

    def _current(self, stored: Stored, plain: Plain, read: int) -> tuple[str, Plain]:
        row = stored.get.one(self._driver, key=plain["id"])
        if row is None:
            raise collide.gone(self._c, stored, plain)
        version, body = row
        there = json.loads(body)
        if version != read:
            raise collide.stale(self._c, stored, plain, there, read)
        return body, there

    def _check_unused(self, stored: Stored, old: Plain) -> None:
        refs = tables.entry_reference.c
        found = select(refs.entry_id).where(
            refs.kind == stored.kind, refs.record_id == old["id"], refs.entry_id != old["id"]
        )
        if self._c.execute(found.limit(1)).first() is not None:
            raise collide.in_use(self._c, stored, old)

    def _as_history(self, row: dict[str, Any]) -> HistoryRow:
        row = {**row, "device_time": self._heading.device_time}
        row["server_time"] = self._heading.server_time.astimezone(UTC)
        return HistoryRow(*(row[column.name] for column in tables.history.c))
