"""Undo and redo: new changes that take back, or bring again, one's own latest action.

What may be taken back is read from the history alone. Actions of one person form a stack: undo
takes the newest that is not undone, redo the one undone last, until that person's next action.
Asked for one job, the stack is that of the job and of what the shop shares (people, lots): so
nothing of one's own that came later is ever overwritten.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, or_

from mapper.job.plain import from_plain
from mapper.job.records import Person
from mapper.store.action import Answer, answered
from mapper.store.canonical import canonical, differences, digest, same_content
from mapper.store.errors import StoreError, UndoRefused, plain_words
from mapper.store.history import ROWS, HistoryRow, from_row
from mapper.store.stored import BY_KIND, KEPT, Plain, name_of
from mapper.store.tables import history
from mapper.store.write import Heading, Writer, whole_ms

# Kinds of record whose addition is a person's acceptance of others ("sign-off"): no undo or redo
# reaches through one. There is no such record yet; the first one is named here, together with a
# function that gives the ids of the records it covers.
SEALS: dict[str, Any] = {}
_NEVER_UNDONE = "create"  # the shop's first action


@dataclass(frozen=True)
class Request:
    """Who asks to undo or redo, in which job (None: anywhere), with which id and times."""

    mode: str
    by: str | Person
    job_id: str | None
    action_id: str | None
    device_time: datetime | None
    now: datetime
    clock_offset_ms: float | None = None
    of_action: str | None = None


def undo_or_redo(engine: Engine, folder: Path, request: Request) -> Answer:
    """Take back (mode "undo") or bring again ("redo") one action, in one transaction.

    Raises UndoRefused where there is nothing to take back, where another person changed one of its
    records since (both versions in words), or where a sign-off lies between.
    """
    by = request.by.id if isinstance(request.by, Person) else request.by
    asked = [(request.mode, "the latest action in", request.job_id or "any job")]
    content = digest(canonical([by, request.mode, request.job_id]))
    action_id = request.action_id or str(uuid.uuid4())
    with (
        plain_words(folder / "shop.sqlite"),
        engine.connect() as connection,
        connection.begin(),
    ):
        heading = Heading(
            action_id,
            request.mode,
            None,
            content,
            by,
            request.device_time or request.now,
            request.now,
            request.mode,
            whole_ms(request.clock_offset_ms),
        )
        earlier = answered(connection, heading, asked)
        if earlier is not None:
            return earlier
        root = (_to_undo if request.mode == "undo" else _to_redo)(connection, by, request.job_id)
        if root is None:
            raise UndoRefused(
                f"There is nothing to {request.mode}.",
                "One undoes one's own actions, newest first; redo holds until one's next action.",
            )
        rows = _newest_rows(connection, root)
        if request.of_action not in (None, root):
            raise UndoRefused(
                f"What would be taken is {rows[0].words!r}, and another action was meant.",
                f"To {request.mode} an action by name, it must be your latest one.",
                f"Look at the history, and {request.mode} by hand.",
            )
        writer = Writer(
            connection,
            Heading(**{**heading.__dict__, "of_action": root, "words": _words(request.mode, rows)}),
        )
        _refuse_over_others(connection, writer, by, rows, request.mode)
        _invert(writer, rows)
        done = writer.finish()
    return Answer(action_id, False, done[-1].hash, done)


def _own(connection: Connection, by: str, job_id: str | None) -> Iterator[HistoryRow]:
    """Rows of one person, newest first, read only as far as they are looked at."""
    h = history.c
    # A photo taken in by itself is no step of work: what one undoes is the entry that shows it.
    quiet = (*KEPT, "photo")
    wanted = ROWS.where(h.by_person == by, h.kind.not_in(quiet), h.mode != _NEVER_UNDONE)
    if job_id is not None:
        wanted = wanted.where(or_(h.job_id == job_id, h.job_id.is_(None)))
    for row in connection.execute(wanted.order_by(h.seq.desc())):
        yield from_row(row)


def _to_undo(connection: Connection, by: str, job_id: str | None) -> str | None:
    undone: dict[str, bool] = {}
    for row in _own(connection, by, job_id):
        root = row.of_action or row.action_id
        # The newest row about an action says how it stands.
        if not undone.setdefault(root, row.mode == "undo") and row.mode == "act":
            return root
    return None


def _to_redo(connection: Connection, by: str, job_id: str | None) -> str | None:
    seen: set[str] = set()
    for row in _own(connection, by, job_id):
        root = row.of_action or row.action_id
        if row.mode == "act":
            return None
        if row.mode == "undo" and root not in seen:
            return root
        seen.add(root)
    return None


def _newest_rows(connection: Connection, root: str) -> tuple[HistoryRow, ...]:
    """The rows that last put the action in force, or took it back, in order."""
    h = history.c
    about = ROWS.where(or_(h.action_id == root, h.of_action == root), h.kind.not_in(KEPT))
    rows = [from_row(row) for row in connection.execute(about.order_by(h.seq))]
    return tuple(row for row in rows if row.action_id == rows[-1].action_id)


def _words(mode: str, rows: tuple[HistoryRow, ...]) -> str:
    # What is taken back or brought again is named once, however often that was done before.
    words = rows[0].words.removeprefix("undo: ").removeprefix("redo: ")
    return f"{mode}: {words}"


def _refuse_over_others(
    connection: Connection, writer: Writer, by: str, rows: tuple[HistoryRow, ...], mode: str
) -> None:
    h = history.c
    left = {(row.kind, row.record_id): row.after for row in rows}
    since = ROWS.where(
        h.seq > rows[-1].seq, h.record_id.in_([key for _, key in left]), h.by_person != by
    )
    standing: dict[str, tuple[HistoryRow, HistoryRow]] = {}
    for found in connection.execute(since.order_by(h.seq)):
        row = from_row(found)
        if (row.kind, row.record_id) in left:
            root = row.of_action or row.action_id
            standing[root] = (standing.get(root, (row, row))[0], row)
    newest_first = sorted(standing.values(), key=lambda pair: -pair[1].seq)
    for first, last in newest_first:
        # What another person did since and took back again changed nothing.
        if (first.mode == "undo") == (last.mode == "undo"):
            _refuse(writer, last, left, mode)
    for (kind, key), after in left.items():
        now = writer.current(kind, key)
        same = (now is None) == (after is None)
        if not same or (now is not None and after is not None and not same_content(now, after)):
            raise UndoRefused(
                f"The {kind} {key} is not as that action left it.",
                f"To {mode} starts from what the action left.",
                "Change the record itself.",
                mine=after and from_plain(BY_KIND[kind].cls, after),
                stored=now and from_plain(BY_KIND[kind].cls, now),
            )
    for kind, covered in SEALS.items():
        signed = ROWS.where(h.seq > rows[-1].seq, h.kind == kind, h.op == "add")
        for found in connection.execute(signed):
            if not {key for _, key in left}.isdisjoint(covered(from_row(found).after)):
                raise UndoRefused(
                    f"A {kind} of {from_row(found).server_time:%Y-%m-%d} lies in between.",
                    "Nothing reaches through a signature.",
                    "Record what was wrong as a new change.",
                )


def _refuse(
    writer: Writer, last: HistoryRow, left: dict[tuple[str, str], Plain | None], mode: str
) -> None:
    mine = left[(last.kind, last.record_id)]
    theirs = last.after
    who = writer.current("person", last.by) or {"name": last.by}
    told = "; ".join(differences(mine or {}, theirs or {})) or "removed and brought back"
    if theirs is None:
        told = "it was removed"
    raise UndoRefused(
        f"The {last.kind} {name_of(mine or theirs or {'id': last.record_id})!r} was changed by "
        f"{who['name']} on {last.server_time:%Y-%m-%d %H:%M} UTC ({last.words!r}): {told}.",
        f"To {mode} never takes back another person's work.",
        "Look at both, and change the record itself.",
        mine=mine and from_plain(BY_KIND[last.kind].cls, mine),
        stored=theirs and from_plain(BY_KIND[last.kind].cls, theirs),
    )


def _invert(writer: Writer, rows: tuple[HistoryRow, ...]) -> None:
    for row in reversed(rows):
        before, after = row.before, row.after
        now = writer.current(row.kind, row.record_id)
        if row.op == "remove":
            if before is None or now is not None:
                raise _damaged(row)
            # One more than any version it ever had, so that a copy read long ago is still stale.
            before["version"] += 1
            writer.add(row.kind, before, again=True)
        elif now is None:
            raise _damaged(row)
        elif row.op == "add":
            writer.remove(row.kind, after or now, now["version"])
        else:
            if before is None:
                raise _damaged(row)
            before["version"] = now["version"] + 1
            writer.change(row.kind, before, now["version"])


def _damaged(row: HistoryRow) -> StoreError:
    return StoreError(f"Change {row.seq} of the history is damaged.", "", "Run `mapper verify`.")
