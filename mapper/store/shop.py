"""The store of one shop: make it, open it, act on it, read it.

    with open_shop(folder) as store:
        with store.act(person_id, "chrome strip off", action_id) as action:
            action.add(entry)
        print(action.answer.head)

A Store may be used from several threads, and several processes may have the same shop open. It must
not be carried into a forked process: open the shop again there.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import TypeVar

from sqlalchemy import Engine, or_, select

from mapper.job.book import Book
from mapper.job.records import Job, Lot, Person, Shop
from mapper.store import photos, read
from mapper.store.action import Action, Answer
from mapper.store.disk import sync_folder
from mapper.store.engine import checkpoint, is_a_shop, open_engine
from mapper.store.errors import DiskRefused, NoSuchRecord, StoreError, plain_words
from mapper.store.history import CLOCK_OFF, ROWS, HistoryRow, from_row, newest
from mapper.store.migrate import needs_upgrade, upgrade
from mapper.store.stored import BY_CLASS
from mapper.store.tables import history
from mapper.store.undo import Request, undo_or_redo
from mapper.store.verify import Verdict, verify_shop
from mapper.surface.geometry import Geometry

R = TypeVar("R")
DATABASE = "shop.sqlite"
Clock = Callable[[], datetime]


def local_now() -> datetime:
    """This machine's time with its offset from UTC."""
    return datetime.now().astimezone()


def create(
    folder: Path | str,
    shop: Shop,
    person: Person,
    *,
    now: Clock = local_now,
    action_id: str | None = None,
) -> Store:
    """Make a shop in a folder that is new or empty, with its first person, and open it.

    now: the clock (an invented past for a demonstration); action_id: as in `Store.act`. Raises
    StoreError for a folder that holds something, DiskRefused where it cannot be written; then
    nothing is left behind.
    """
    folder = Path(folder)
    database = folder / DATABASE
    with plain_words(folder):
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise StoreError(
                f"{folder} holds something already.",
                "A new shop goes into a folder that is new or empty.",
                "Choose another folder, or open the shop that is there.",
            )
        made = not folder.exists()
        folder.mkdir(parents=True, exist_ok=True)
    try:
        upgrade(database, new=True)
        store = Store(folder, now)
        with store._act(person.id, f"new shop {shop.name}", action_id, mode="create") as action:
            action.add(person)
            action.add(shop)
        with plain_words(database):
            # From here on the file itself, not only its log, says whose it is.
            checkpoint(store.engine)
            sync_folder(folder)
            sync_folder(folder.absolute().parent)
    except BaseException:
        for name in (DATABASE, f"{DATABASE}-wal", f"{DATABASE}-shm"):
            (folder / name).unlink(missing_ok=True)
        if made:
            folder.rmdir()
        raise
    return store


def open_shop(folder: Path | str, *, now: Clock = local_now, damaged: bool = False) -> Store:
    """Open the shop in a folder; one of an older schema is carried over first, whole or not at all.

    damaged: open it without looking at the shop's own record, which may be what is damaged: to
    check it (`Store.verify`), for nothing else.
    Raises NoSuchRecord where there is none, ShopDamaged for a file that is cut short or foreign,
    ShopTooNew for one that a newer program wrote; none of them changes anything.
    """
    folder = Path(folder)
    database = folder / DATABASE
    if not database.is_file():
        raise NoSuchRecord(
            f"There is no shop in {folder}.",
            f"A shop is a folder with {DATABASE}.",
            "Choose another folder, or make a new shop there.",
        )
    with plain_words(database):
        is_a_shop(database)
    store = Store(folder, now)
    try:
        with plain_words(database), store.engine.connect() as connection:
            older = needs_upgrade(connection.execution_options(reading=True), database)
        if older:
            upgrade(database)
        if not damaged:
            store.shop()
    except BaseException:
        store.close()
        raise
    return store


class Store:
    """An open shop; made by `create` and `open_shop`, closed by `close` or the end of `with`."""

    def __init__(self, folder: Path, now: Clock) -> None:
        self.folder = folder
        self.engine: Engine = open_engine(folder / DATABASE)
        self._now = now
        self._geometries: dict[str, Geometry] = {}

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the files; a closed store may not be used again."""
        self.engine.dispose()

    # -- changing

    def act(
        self,
        by: str | Person,
        words: str,
        action_id: str | None = None,
        *,
        device_time: datetime | None = None,
        clock_offset_ms: float | None = None,
    ) -> Action:
        """One action of a user, as a context: its changes are stored together at its end.

        by: who acts; words: what is done, for the history; action_id: made by the client (a UUID as
        text), so that the same action may be sent twice; device_time: the client's clock with its
        offset from UTC; clock_offset_ms: the client's clock minus ours, as last compared there.
        What was stored is in `action.answer`. Raises, at the end of the block, StaleRecord,
        RepeatedAction, Refused, NoSuchRecord, DiskRefused or ShopBusy; then nothing was stored.
        """
        return self._act(by, words, action_id, device_time, clock_offset_ms=clock_offset_ms)

    def _act(
        self,
        by: str | Person,
        words: str,
        action_id: str | None = None,
        device_time: datetime | None = None,
        mode: str = "act",
        clock_offset_ms: float | None = None,
    ) -> Action:
        return Action(
            self.engine,
            self.folder,
            by,
            words,
            action_id=action_id,
            device_time=device_time,
            now=self._now(),
            photo_rules=lambda: photos.rules_of(self.shop().settings),
            mode=mode,
            clock_offset_ms=clock_offset_ms,
        )

    def undo(
        self,
        by: str | Person,
        job_id: str | None = None,
        *,
        action_id: str | None = None,
        device_time: datetime | None = None,
        clock_offset_ms: float | None = None,
        of_action: str | None = None,
    ) -> Answer:
        """Take back that person's latest action that is not undone, of one job or of all.

        of_action: the one that is meant, where that is known; another one is left alone. The
        answer's rows say in words what was taken back. Raises UndoRefused where there is none,
        where another person changed one of its records since (both versions shown), and Refused
        where something else refers to what would go.
        """
        return undo_or_redo(
            self.engine,
            self.folder,
            Request(
                "undo",
                by,
                job_id,
                action_id,
                device_time,
                self._now(),
                clock_offset_ms,
                of_action,
            ),
        )

    def redo(
        self,
        by: str | Person,
        job_id: str | None = None,
        *,
        action_id: str | None = None,
        device_time: datetime | None = None,
        clock_offset_ms: float | None = None,
        of_action: str | None = None,
    ) -> Answer:
        """Bring again what that person undid last; only until their next action. As `undo`."""
        return undo_or_redo(
            self.engine,
            self.folder,
            Request(
                "redo",
                by,
                job_id,
                action_id,
                device_time,
                self._now(),
                clock_offset_ms,
                of_action,
            ),
        )

    # -- reading

    def shop(self) -> Shop:
        """The shop's own record."""
        database = self.folder / DATABASE
        with plain_words(database), self.engine.connect() as connection:
            connection = connection.execution_options(reading=True)
            return read.read_shop(connection, database)

    def jobs(self) -> tuple[Job, ...]:
        """All jobs by name; () for a new shop."""
        return read.in_order(self._all(Job))

    def people(self) -> tuple[Person, ...]:
        """All people by name."""
        return read.in_order(self._all(Person))

    def lots(self) -> tuple[Lot, ...]:
        """All lots by product; () where there are none."""
        return read.in_order(self._all(Lot), "product")

    def find(self, cls: type[R], record_id: str) -> R | None:
        """The record of that type and id as it stands now, None where there is none."""
        with plain_words(self.folder / DATABASE), self.engine.connect() as connection:
            connection = connection.execution_options(reading=True)
            return read.read_one(connection, cls, record_id)

    def get(self, cls: type[R], record_id: str) -> R:
        """As `find`, but NoSuchRecord where there is none."""
        found = self.find(cls, record_id)
        if found is None:
            raise NoSuchRecord(
                f"There is no {BY_CLASS[cls].kind} with the id {record_id!r} in this shop."
            )
        return found

    def geometry(self, digest: str) -> Geometry:
        """The geometry version with that digest; NoSuchRecord where there is none."""
        if digest not in self._geometries:
            self._geometries[digest] = read.read_geometry(
                self.engine, self.folder / DATABASE, digest
            )
        return self._geometries[digest]

    def book(self, job_id: str) -> Book:
        """Everything of one job at one moment; NoSuchRecord for an unknown job."""
        return read.read_book(self.engine, self.folder, job_id, self._geometries)

    def photo(self, digest: str) -> bytes:
        """The stored bytes of a photo; NoSuchRecord or DiskRefused where they cannot be read."""
        path = photos.path_of(self.folder, digest)
        wrong = photos.is_sound(self.folder, digest)
        if wrong:
            raise DiskRefused(f"The photo {path} {wrong}.", "", "Take it from the newest backup.")
        with plain_words(path):
            return path.read_bytes()

    def head(self) -> str:
        """The newest hash of the history: what a report or a backup prints."""
        with plain_words(self.folder / DATABASE), self.engine.connect() as connection:
            return newest(connection.execution_options(reading=True))[1]

    def history(
        self,
        job_id: str | None = None,
        *,
        kind: str | None = None,
        record_id: str | None = None,
        by: str | None = None,
        action_id: str | None = None,
        limit: int | None = None,
    ) -> tuple[HistoryRow, ...]:
        """Rows of the history, newest first, of one job, kind, record, person or action, or all.

        limit: at most so many. () where there are none.
        """
        h = history.c
        wanted = ROWS.order_by(h.seq.desc())
        for column, value in (
            (h.job_id, job_id),
            (h.kind, kind),
            (h.record_id, record_id),
            (h.by_person, by),
            (h.action_id, action_id),
        ):
            if value is not None:
                wanted = wanted.where(column == value)
        if limit is not None:
            wanted = wanted.limit(limit)
        with plain_words(self.folder / DATABASE), self.engine.connect() as connection:
            rows = connection.execution_options(reading=True).execute(wanted)
            return tuple(from_row(row) for row in rows)

    def clocks_off(self, job_id: str, after: int = 0) -> dict[str, int]:
        """By id, the entries of a job that a device recorded whose clock was off by more than
        `CLOCK_OFF`: its clock minus the server's, ms. {} for none. after: rows after that number.
        """
        h = history.c
        wanted = select(h.record_id, h.clock_offset_ms).where(
            or_(h.clock_offset_ms > CLOCK_OFF, h.clock_offset_ms < -CLOCK_OFF),
            h.seq > after,
            h.job_id == job_id,
            h.kind == "entry",
            h.op == "add",
            h.mode == "act",
        )
        with plain_words(self.folder / DATABASE), self.engine.connect() as connection:
            found = connection.execution_options(reading=True).execute(wanted)
            return {row.record_id: row.clock_offset_ms for row in found}

    def verify(
        self, head: str | None = None, progress: Callable[[str, int, int], None] | None = None
    ) -> Verdict:
        """Check the whole shop: chain, records, geometry, photos, database.

        head: a hash printed before (in a report, with a backup; 16 digits or more of it), so that a
        history whose end was cut off shows; StoreError for what is no hash. progress: called with
        what is being checked, how many are done and how many there are. The command is `verify`,
        with `--head HASH`; it prints `Verdict.lines()` and ends with code 1 unless `Verdict.sound`.
        """
        with plain_words(self.folder / DATABASE):
            return verify_shop(self.engine, self.folder, head, progress)

    def _all(self, cls: type[R]) -> list[R]:
        with plain_words(self.folder / DATABASE), self.engine.connect() as connection:
            return read.read_all(connection.execution_options(reading=True), cls)
