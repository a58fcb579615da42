"""Is everything as it was recorded? The chain, the records, the shapes, the photos, the file."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, Table, func, select

from mapper.job.plain import from_plain, to_plain
from mapper.store import photos
from mapper.store.canonical import canonical, digest
from mapper.store.errors import StoreError
from mapper.store.history import FIRST, RAW_ROWS, row_hash
from mapper.store.stored import BY_KIND, EARLIER, GEOMETRY, KEPT, STORED, Stored
from mapper.store.tables import earlier_history, geometry, history
from mapper.store.write import HANGING

Progress = Callable[[str, int, int], None]
SHORTEST = 16  # digits of a hash that are enough to say which one is meant


@dataclass(frozen=True)
class Verdict:
    """What a check found. sound: nothing is wrong; problems: each in words; head: the newest hash;
    first_broken: number of the first row of the history that does not follow, or None; rows,
    records, geometries, photos: how many were checked; notes: what is odd but loses nothing."""

    problems: tuple[str, ...]
    head: str
    first_broken: int | None
    rows: int
    records: int
    geometries: int
    photos: int
    notes: tuple[str, ...] = ()

    @property
    def sound(self) -> bool:
        """Whether everything is as it was recorded."""
        return not self.problems

    def lines(self) -> tuple[str, ...]:
        """The verdict as lines to print."""
        counts = (
            f"{self.rows} changes, {self.records} records, {self.geometries} shapes,"
            f" {self.photos} photos checked."
        )
        end = "Everything is as it was recorded." if self.sound else "Not everything is as it was."
        return (counts, *self.problems, *self.notes, end, f"Newest hash: {self.head}")


@dataclass
class _Findings:
    problems: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    first_broken: int | None = None
    newest: str = FIRST
    rows: int = 0
    records: int = 0
    geometries: int = 0
    # What each record must be by the chain: (kind, id) -> digest of its last text; job with it.
    last: dict[tuple[str, str], tuple[str | None, str | None]] = field(default_factory=dict)
    # What is kept by its digest, as the chain tells of it: kind -> digest -> facts.
    kept: dict[str, dict[str, str]] = field(default_factory=lambda: {k: {} for k in KEPT})
    named: set[str] = field(default_factory=set)
    # Digest of a photo -> its ids in the history; id of a photo -> the entries it is on, in words.
    photo_ids: dict[str, set[str]] = field(default_factory=dict)
    photo_on: dict[str, list[str]] = field(default_factory=dict)
    head_at: int | None = None

    def broken(self, seq: int, why: str) -> None:
        if self.first_broken is None:
            self.first_broken = seq
            self.problems.append(f"The history breaks at change {seq}: {why}.")


def verify_shop(
    engine: Engine, folder: Path, head: str | None = None, progress: Progress | None = None
) -> Verdict:
    """Check everything of a shop, from one moment; see `Store.verify`. Nothing is changed.

    Raises StoreError for a head that is no hash: a check against it would say nothing.
    """
    tell = progress or (lambda what, done, of: None)
    found = _Findings()
    if head is not None and (len(head) < SHORTEST or set(head.lower()) - set("0123456789abcdef")):
        raise StoreError(
            f"{head!r} is no hash to compare with.",
            f"Allowed: the {SHORTEST} to 64 hexadecimal digits that a report or a backup prints.",
            "`mapper history` shows only the first 8; `mapper history --csv` has them whole.",
        )
    with engine.connect() as connection:
        connection = connection.execution_options(reading=True)
        with connection.begin():
            tell("database", 0, 1)
            _database(connection, found)
            _chain(connection, found, (head or "").lower(), tell)
            for stored in STORED:
                tell(stored.kind, 0, 1)
                _records(connection, stored, found)
            _hanging(connection, found)
            found.geometries = _kept(
                connection, geometry, ("part", "size"), found.kept[GEOMETRY], "shape", found, tell
            )
            facts = ("job_id", "size")
            _kept(connection, earlier_history, facts, found.kept[EARLIER], EARLIER, found, tell)
    for (kind, key), (text, _) in sorted(found.last.items()):
        if text is not None:
            found.problems.append(f"The {kind} {key} is in the history, but not in the shop.")
    if head is not None and found.head_at is None:
        found.problems.append(
            f"The history does not hold the hash {head}: its end was cut off, or rewritten,"
            " after that hash was printed."
        )
    elif found.head_at is not None:
        found.notes.append(
            f"The hash given is that of change {found.head_at} of {found.rows}: nothing up to there"
            " was cut off."
        )
    _photos(folder, found, tell)
    return Verdict(
        tuple(found.problems),
        found.newest,
        found.first_broken,
        found.rows,
        found.records,
        found.geometries,
        len(found.named),
        tuple(found.notes),
    )


def _database(connection: Connection, found: _Findings) -> None:
    for (line,) in connection.exec_driver_sql("PRAGMA integrity_check(20)"):
        if line != "ok":
            found.problems.append(f"The database file is damaged: {line}.")
    strange = "SELECT type, name FROM sqlite_master WHERE type IN ('trigger', 'view')"
    for sort, name in connection.exec_driver_sql(strange):
        found.problems.append(
            f"The database holds a {sort} {name!r}, which this program never makes: another program"
            " put it there, and it may change what is recorded."
        )
    for table, row, parent, _ in connection.exec_driver_sql("PRAGMA foreign_key_check"):
        found.problems.append(f"Row {row} of {table} refers to a {parent} that is not there.")


def _chain(connection: Connection, found: _Findings, head: str, tell: Progress) -> None:
    total = connection.execute(select(func.count()).select_from(history)).scalar_one()
    previous, number = FIRST, 0
    contents: dict[str, str] = {}
    for row in connection.execution_options(yield_per=500).execute(RAW_ROWS):
        number += 1
        if number % 500 == 1:
            tell("history", number, total)
        values = row._mapping
        if values["seq"] != number:
            found.broken(number, f"the next row has the number {values['seq']}")
            number = values["seq"]
        if values["previous"] != previous:
            found.broken(number, "it does not follow the row before it")
        try:
            right = row_hash(values) == values["hash"]
        except (TypeError, ValueError):
            right = False
        if not right:
            found.broken(number, "its content was changed after it was recorded")
        if contents.setdefault(values["action_id"], values["content"]) != values["content"]:
            found.broken(number, "its action has two contents")
        previous = values["hash"]
        if head and previous.startswith(head):
            found.head_at = number
        _follow(values, found)
    found.newest, found.rows = previous, total


def _follow(values: Any, found: _Findings) -> None:
    """Carry what the chain says of each record one row further."""
    kind, key, before, after = (values[c] for c in ("kind", "record_id", "before", "after"))
    if kind in KEPT:
        found.kept[kind][key] = after or ""
        return
    was = found.last.get((kind, key), (None, None))[0]
    if was != (None if before is None else digest(before)):
        found.broken(values["seq"], f"the {kind} {key} was not so before it")
    if kind not in BY_KIND:
        found.broken(values["seq"], f"it is about a {kind}, which this program does not know")
    found.last[kind, key] = (None if after is None else digest(after), values["job_id"])
    if kind == "photo":
        for text in (before, after):
            if text is not None:
                name = str(_plain(text).get("digest"))
                found.named.add(name)
                found.photo_ids.setdefault(name, set()).add(key)


def _plain(text: str) -> dict[str, Any]:
    try:
        read = json.loads(text)
    except ValueError:
        return {}
    return read if isinstance(read, dict) else {}


def _records(connection: Connection, stored: Stored, found: _Findings) -> None:
    for row in connection.execution_options(yield_per=500).execute(stored.table.select()):
        found.records += 1
        values = dict(row._mapping)
        what = f"The {stored.kind} {values['id']}"
        text, job = found.last.pop((stored.kind, values["id"]), (None, None))
        if text is None:
            found.problems.append(f"{what} is in the shop, but not in the history.")
        elif text != digest(values["body"]):
            found.problems.append(f"{what} is not as the history left it.")
        try:
            plain = _plain(values["body"])
            again = canonical(to_plain(from_plain(stored.cls, plain)))
            look_ups = stored.look_ups(plain)
        except Exception as error:  # whatever a changed body makes a record refuse is the finding
            found.problems.append(f"{what} cannot be read: {error}")
            continue
        look_ups |= {"id": plain["id"], "version": plain["version"]}
        if "job_id" in values:
            look_ups["job_id"] = job if stored.job_of else plain["job_id"]
        wrong = [name for name, value in look_ups.items() if values[name] != value]
        if wrong:
            found.problems.append(f"{what} is filed wrongly: {', '.join(wrong)}.")
        if again != values["body"]:
            found.notes.append(f"{what} was written by an older program, and reads the same.")


def _hanging(connection: Connection, found: _Findings) -> None:
    entries = BY_KIND["entry"].table
    wanted: dict[Any, set[tuple[Any, ...]]] = {table: set() for table in HANGING}
    for body in connection.execution_options(yield_per=500).scalars(select(entries.c.body)):
        plain = _plain(body)
        _photos_on(plain, found)
        for table, rows_of in HANGING.items():
            try:
                rows = rows_of(plain)
            except (KeyError, TypeError):
                continue  # an entry that cannot be read was told of already
            wanted[table] |= {
                (plain["id"], number, *row.values()) for number, row in enumerate(rows)
            }
    for table in HANGING:
        there = {tuple(row) for row in connection.execute(table.select())}
        for entry_id in sorted({row[0] for row in there ^ wanted[table]}):
            name = table.name.replace("_", " ")
            found.problems.append(f"The entry {entry_id} is filed wrongly: its rows of {name}.")


def _photos_on(entry: dict[str, Any], found: _Findings) -> None:
    """Note which photos an entry shows; an entry that cannot be read shows none."""
    uses = entry.get("photos")
    for use in uses if isinstance(uses, list) else []:
        if isinstance(use, dict):
            words = f"the {entry.get('kind')} {str(entry.get('id'))[:8]}"
            caption = use.get("caption")
            words += f" ({caption})" if caption else ""
            found.photo_on.setdefault(str(use.get("photo_id")), []).append(words)


def _kept(
    connection: Connection,
    table: Table,
    facts: tuple[str, ...],
    told: dict[str, str],
    what: str,
    found: _Findings,
    tell: Progress,
) -> int:
    """Compare what lies under digests in `table` with what the chain told of it; how many lie
    there. facts: columns that the chain repeats."""
    digests = list(connection.scalars(select(table.c.digest)))
    for number, key in enumerate(digests):
        tell(f"{what}s" if what == "shape" else what, number, len(digests))
        row = connection.execute(table.select().where(table.c.digest == key)).one()
        if digest(row.data) != key:
            found.problems.append(f"The {what} {key} is damaged: its bytes have another digest.")
        line = told.pop(key, None)
        if line is None:
            found.problems.append(f"The {what} {key} is in the shop, but not in the history.")
        elif line != canonical({"digest": key, **{f: row._mapping[f] for f in facts}}):
            found.problems.append(f"The {what} {key} is not as the history left it.")
    found.problems += [f"The {what} {key} is in the history, but not in the shop." for key in told]
    return len(digests)


def _photos(folder: Path, found: _Findings, tell: Progress) -> None:
    named = sorted(found.named)
    for number, key in enumerate(named):
        tell("photos", number, len(named))
        wrong = photos.is_sound(folder, key)
        if wrong:
            found.problems.append(f"The photo {key} {wrong}.")
            on = [
                words for i in sorted(found.photo_ids[key]) for words in found.photo_on.get(i, ())
            ]
            where = f"belongs to {', '.join(on)}" if on else "is on no entry now"
            found.notes.append(f"That photo ({key[:8]}) {where}.")
    extra = photos.names_in(folder) - found.named
    if extra:
        found.notes.append(
            f"{len(extra)} photo files belong to no record (left by an action that was not stored)."
        )
