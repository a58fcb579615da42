"""One action of a user: gathered first, then stored in one transaction, or not at all."""

from __future__ import annotations

import copy
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any, TypeVar

from sqlalchemy import Connection, Engine, bindparam, select

from mapper.job.entry import Entry
from mapper.job.plain import to_plain
from mapper.job.records import Person, Photo
from mapper.store import photos
from mapper.store.canonical import canonical, digest
from mapper.store.errors import RepeatedAction, StoreError, plain_words
from mapper.store.history import ROWS, HistoryRow, from_row
from mapper.store.prepared import Prepared, driver_of
from mapper.store.stored import Plain, kind_of
from mapper.store.tables import history
from mapper.store.write import Heading, Writer, whole_ms
from mapper.surface.geometry import Geometry
from mapper.surface.version import digest as geometry_digest
from mapper.surface.version import to_bytes

R = TypeVar("R")
_USED = Prepared(select(history.c.seq).where(history.c.action_id == bindparam("action")).limit(1))
_OF_ACTION = ROWS.where(history.c.action_id == bindparam("action")).order_by(history.c.seq)


@dataclass(frozen=True)
class Answer:
    """What became of an action.

    repeated: the same action was stored before, and this is the answer it had then; head: the hash
    of its last row; rows: its rows in the history, () where it changed nothing; notes: what the
    store did besides, in words (a photo's location that was taken out).
    """

    action_id: str
    repeated: bool
    head: str
    rows: tuple[HistoryRow, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Step:
    """One change as asked for: op, kind of record, plain record, version it was made from."""

    op: str
    kind: str
    plain: Plain
    read: int
    body: str


class Action:
    """Gathers changes; leaving the `with` block stores them all, an error inside stores none.

    `answer` is there after the block. Ids that the store makes (`new_id`) follow from the action's
    own id, so that a client that repeats an action it got no answer to asks for the same again.
    """

    answer: Answer

    def __init__(
        self,
        engine: Engine,
        folder: Path,
        by: str | Person,
        words: str,
        *,
        action_id: str | None,
        device_time: datetime | None,
        now: datetime,
        photo_rules: Callable[[], photos.Rules],
        mode: str = "act",
        clock_offset_ms: float | None = None,
    ) -> None:
        self.by = by.id if isinstance(by, Person) else by
        if not isinstance(words, str) or not words.strip():
            raise StoreError(
                "The action has no words.",
                "The history says of every change what was done.",
                "Give a few words.",
            )
        if action_id is not None and not action_id.strip():
            raise StoreError("The action's id is empty.", "Give a new UUID as text, or none.")
        self.words = words.strip()
        self.id = action_id or str(uuid.uuid4())
        self.device_time = device_time or now
        self._told_device_time = device_time
        self._now = now
        self._clock = whole_ms(clock_offset_ms)
        self._engine, self._folder = engine, folder
        self._mode = mode
        self._steps: list[Step] = []
        self._asked: list[str] = []  # canonical texts of what was asked for, one a step
        self._geometries: dict[str, tuple[str, bytes]] = {}
        self._photos: dict[str, bytes] = {}
        self._earlier: dict[str, tuple[str, bytes]] = {}
        self._photo_rules = photo_rules
        self._notes: list[str] = []
        self._made = 0
        self._done = False

    def new_id(self) -> str:
        """A new id for a record: the same at every repetition of the same action."""
        self._made += 1
        return str(uuid.uuid5(uuid.NAMESPACE_URL, f"{self.id}/{self._made}"))

    def add(self, record: R) -> R:
        """Store a new record (version 0); gives it as it will be stored (version 1).

        An entry gets its server time, and where it has none the action's person and device time.
        """
        version = getattr(record, "version", None)
        if version:
            raise StoreError(
                f"A record with version {version} was given as new.",
                "A new record has version 0; one that was stored before is changed, not added.",
            )
        new, plain, body, asked = self._stamped(record, 1)
        self._note(Step("add", kind_of(record).kind, plain, 0, body), asked)
        return new

    def change(self, record: R) -> R:
        """Replace a record by a copy made from the version it carries; gives it with the next."""
        version = self._version(record)
        new, plain, body, asked = self._stamped(record, version + 1, first=False)
        self._note(Step("change", kind_of(record).kind, plain, version, body), asked)
        return new

    def remove(self, record: Any) -> None:
        """Take away a record as it was read."""
        version = self._version(record)
        plain = to_plain(record)
        body = canonical(plain)
        self._note(Step("remove", kind_of(record).kind, plain, version, body), body)

    def add_geometry(self, geometry: Geometry) -> str:
        """Keep a geometry version and give its digest; the same version twice is kept once."""
        self._open()
        data = to_bytes(geometry)
        key = geometry_digest(data)
        self._geometries[key] = (geometry.part, data)
        self._asked.append(f"geometry {key}")
        return key

    def add_photo(
        self,
        job_id: str,
        data: bytes,
        *,
        photo_id: str | None = None,
        taken: datetime | None = None,
    ) -> Photo:
        """Take in a picture file (JPEG, PNG or WebP) and give its record, to be used in an entry.

        Raises PhotoRefused for a damaged or foreign file, or one beyond the shop's limits. What was
        taken out of the file is said in the answer's notes.
        """
        self._open()
        got = photos.take_in(data, self._photo_rules())
        self._photos[got.digest] = got.data
        self._notes += [f"Photo {got.digest[:12]}: {note}" for note in got.notes]
        return self.add(
            Photo(
                id=photo_id or self.new_id(),
                job_id=job_id,
                digest=got.digest,
                received=got.received,
                media_type=got.media_type,
                width=got.width,
                height=got.height,
                taken=taken or got.taken,
            )
        )

    def bring(self, record: R) -> R:
        """Store a record that another shop made, as version 1, with its person and times as they
        are; gives it as it will be stored."""
        new, plain, body, asked = self._stamped(record, 1, first=False)
        self._note(Step("add", kind_of(record).kind, plain, 0, body), asked)
        return new

    def bring_geometry(self, part: str, data: bytes) -> str:
        """Keep a geometry version as the bytes it came in, and give its digest."""
        self._open()
        key = geometry_digest(data)
        self._geometries[key] = (part, data)
        self._asked.append(f"geometry {key}")
        return key

    def bring_photo(self, photo: Photo, data: bytes) -> Photo:
        """Store a photo of another shop: its bytes as they are, which must have its digest."""
        if digest(data) != photo.digest:
            raise StoreError(
                f"The photo {photo.digest} came with other bytes.",
                "A photo is known by the digest of its bytes.",
            )
        self._photos[photo.digest] = data
        return self.bring(photo)

    def bring_history(self, job_id: str, data: bytes) -> None:
        """Keep the history that a job brings along (lines of JSON), under its digest."""
        self._open()
        self._earlier[digest(data)] = (job_id, data)
        self._asked.append(f"earlier history {digest(data)}")

    def __enter__(self) -> Action:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._done = True
        if kind is None:
            self.answer = self._commit()

    def _open(self) -> None:
        if self._done:
            raise StoreError("This action is finished.", "", "Begin a new one.")

    def _version(self, record: Any) -> int:
        kind_of(record)
        if not record.version:
            raise StoreError(
                "A record with version 0 was given to change or remove.",
                "Only what was read from the shop can be changed.",
                "Read it first, and change a copy.",
            )
        return int(record.version)

    def _stamped(self, record: R, version: int, *, first: bool = True) -> tuple[R, Plain, str, str]:
        """The record as it will be stored, that as plain values and as text, and as asked for."""
        kind_of(record)
        # Copied without validating once more: a record is valid, and so are these few values.
        new = copy.copy(record)
        object.__setattr__(new, "version", version)
        if not isinstance(record, Entry):
            plain = to_plain(new)
            body = canonical(plain)
            return new, plain, body, body
        if first:
            object.__setattr__(new, "server_time", self._now)
            object.__setattr__(new, "by", record.by or self.by)
            object.__setattr__(new, "device_time", record.device_time or self.device_time)
        plain = to_plain(new)
        asked = body = canonical(plain)
        # The store's own clock is no part of what was asked for: a retry comes at another time.
        # (Inside a text of the record this cannot match: quotes are escaped there.)
        for field in ("server_time", "device_time"):
            if getattr(record, field) is None and plain[field] is not None:
                asked = asked.replace(f'"{field}":"{plain[field]}"', f'"{field}":null', 1)
        return new, plain, body, asked

    def _note(self, step: Step, asked: str) -> None:
        self._open()
        self._steps.append(step)
        self._asked.append(f"{step.op} {step.kind} {asked}")

    def _commit(self) -> Answer:
        told = self._told_device_time
        head = canonical([self.by, self.words, None if told is None else told.isoformat()])
        # One line each: line breaks within canonical texts are escaped.
        content = digest("\n".join((head, *self._asked)))
        heading = Heading(
            self.id,
            self._mode,
            None,
            content,
            self.by,
            self.device_time,
            self._now,
            self.words,
            self._clock,
        )
        with plain_words(self._folder / "shop.sqlite"):
            for key, data in self._photos.items():
                photos.keep(self._folder, key, data)
            with self._engine.connect() as connection, connection.begin():
                earlier = answered(connection, heading, self._in_short())
                if earlier is not None:
                    return earlier
                if not self._asked:
                    return Answer(self.id, False, "", ())
                rows = self._write(Writer(connection, heading))
        return Answer(self.id, False, rows[-1].hash if rows else "", rows, tuple(self._notes))

    def _in_short(self) -> list[tuple[str, str, str]]:
        shapes = [("add", "geometry", key) for key in self._geometries]
        return shapes + [(step.op, step.kind, step.plain["id"]) for step in self._steps]

    def _write(self, writer: Writer) -> tuple[HistoryRow, ...]:
        for key, (part, data) in self._geometries.items():
            writer.add_geometry(key, part, data)
        for key, (job_id, data) in self._earlier.items():
            writer.add_earlier(key, job_id, data)
        for step in self._steps:
            if step.op == "add":
                writer.add(step.kind, step.plain, step.body)
            elif step.op == "change":
                writer.change(step.kind, step.plain, step.read)
            else:
                writer.remove(step.kind, step.plain, step.read)
        return writer.finish()


def answered(
    connection: Connection, heading: Heading, asked: list[tuple[str, str, str]]
) -> Answer | None:
    """The answer an action had before, None for a new id.

    Raises RepeatedAction, with both in words, where the id was used for something else.
    """
    if _USED.one(driver_of(connection), action=heading.action_id) is None:
        return None
    found = connection.execute(_OF_ACTION, {"action": heading.action_id})
    rows = tuple(from_row(row) for row in found)
    if rows[0].content != heading.content:
        then = [(row.op, row.kind, row.record_id) for row in rows]
        raise RepeatedAction(
            f"The action id {heading.action_id!r} was used before for something else."
            f" Then: {_in_words(rows[0].by, rows[0].words, then)}"
            f" Now: {_in_words(heading.by, heading.words, asked)}",
            "An id belongs to one action; the same action may be sent again with it.",
            "Send this one with a new id.",
            mine=tuple(asked),
            stored=rows,
        )
    return Answer(heading.action_id, True, rows[-1].hash, rows)


def _in_words(by: str, words: str, steps: list[tuple[str, str, str]]) -> str:
    told = ", ".join(f"{op} {kind} {key[:40]}" for op, kind, key in steps[:4])
    more = f" and {len(steps) - 4} more" if len(steps) > 4 else ""
    return f"{words!r} by {by} ({told}{more})."
