"""A job's book in memory, kept up to date from the rows of the history.

Whoever writes (this server, the command line, another program) leaves rows; reading those that are
new is all that is ever read again. Only what is rare (a part, a sheet, a lot) reads the book anew.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace

from sqlalchemy import or_

from mapper.job.book import Book
from mapper.job.entry import Entry
from mapper.job.naming import label
from mapper.job.plain import from_plain
from mapper.job.records import Person, Photo
from mapper.store.errors import plain_words
from mapper.store.history import ROWS, HistoryRow, clock_words, from_row
from mapper.store.history import newest as newest_row
from mapper.store.shop import DATABASE, Store
from mapper.store.tables import history
from mapper.units import Units

# What changes the book itself; its parts, sheets and lists are read again as a whole.
_ELSE = ("shop", "job", "assembly", "part", "position", "item", "lot", "finish system")
MOST_ROWS = 3000  # of a catching up; more is a whole book


@dataclass
class Moved:
    """What some rows of the history did to a job: ids, each once, in order."""

    seq: int
    head: str
    entries: list[str] = field(default_factory=list)
    removed: list[str] = field(default_factory=list)
    people: list[str] = field(default_factory=list)
    again: bool = False

    def any(self) -> bool:
        """Whether anything a page shows is among it."""
        return bool(self.entries or self.removed or self.people or self.again)


def newest_of(store: Store) -> tuple[int, str]:
    """Number and hash of the newest row of a shop's history."""
    with plain_words(store.folder / DATABASE), store.engine.connect() as connection:
        return newest_row(connection.execution_options(reading=True))


def rows_after(store: Store, job_id: str, seq: int, most: int) -> list[HistoryRow]:
    """At most `most` rows of a job, and of what the shop shares, after number `seq`, in order."""
    h = history.c
    wanted = ROWS.where(h.seq > seq, or_(h.job_id == job_id, h.job_id.is_(None)))
    wanted = wanted.order_by(h.seq).limit(most)
    with plain_words(store.folder / DATABASE), store.engine.connect() as connection:
        rows = connection.execution_options(reading=True).execute(wanted)
        return [from_row(row) for row in rows]


def moved_by(rows: Iterable[HistoryRow], seq: int, head: str) -> Moved:
    """What these rows did, taken together."""
    moved = Moved(seq, head)
    last: dict[tuple[str, str], HistoryRow] = {(r.kind, r.record_id): r for r in rows}
    for (kind, key), row in last.items():
        if kind == "entry":
            (moved.removed if row.op == "remove" else moved.entries).append(key)
        elif kind == "person" and row.op != "remove":
            moved.people.append(key)
        elif kind in _ELSE or kind == "person":
            moved.again = True
    return moved


class LiveBook:
    """One job, as of the history's row `seq`. All methods may be called from any thread."""

    def __init__(self, store: Store, job_id: str) -> None:
        self.store = store
        self.job_id = job_id
        self.lock = threading.RLock()
        self.entries: dict[str, Entry] = {}
        # By entry: device clock minus ours, ms, where that of the device was off.
        self.clocks: dict[str, int] = {}
        self.book: Book
        self.seq, self.head = 0, ""
        self.epoch = 0  # one more with every whole reading: words made before may be others now
        self._names: dict[str, str] | None = None
        # Called within the lock after every step: (what moved, entries as they were before).
        self.listeners: list[Callable[[Moved, dict[str, Entry]], None]] = []
        self._read()

    def _read(self) -> None:
        seq, head = newest_of(self.store)
        whole = self.store.book(self.job_id)
        self.clocks = self.store.clocks_off(self.job_id)
        self.entries = {e.id: e for e in whole.entries}
        # Without its entries a book is made again in no time.
        self.book = replace(whole, entries=())
        self.seq, self.head = seq, head
        self.epoch += 1
        self._names = None

    def catch_up(self) -> Moved:
        """Take in the rows that are new, and say what they did."""
        with self.lock:
            # Looked at before the rows: what is stored in between is among them, or comes next.
            newest = newest_of(self.store)
            if newest[0] <= self.seq:
                return Moved(self.seq, self.head)
            rows = rows_after(self.store, self.job_id, self.seq, MOST_ROWS)
            if not rows:  # those of another job
                self.seq, self.head = newest
                return Moved(self.seq, self.head)
            before = dict(self.entries)
            moved = moved_by(rows, rows[-1].seq, rows[-1].hash)
            if moved.again or len(rows) == MOST_ROWS:
                self._read()
                moved.again, moved.seq, moved.head = True, self.seq, self.head
            else:
                for row in rows:
                    self._take(row)
                self.seq, self.head = moved.seq, moved.head
            for listener in self.listeners:
                listener(moved, before)
            return moved

    def _take(self, row: HistoryRow) -> None:
        if row.kind == "entry":
            if row.op == "remove":
                self.entries.pop(row.record_id, None)
            elif row.after is not None:
                self.entries[row.record_id] = from_plain(Entry, row.after)
            if row.op == "add" and row.mode == "act" and clock_words(row.clock_offset_ms):
                self.clocks[row.record_id] = row.clock_offset_ms or 0
        elif row.kind == "photo":
            photos = [p for p in self.book.photos if p.id != row.record_id]
            if row.after is not None:
                photos.append(from_plain(Photo, row.after))
            self.book = replace(self.book, photos=tuple(photos))
        elif row.kind == "person" and row.after is not None:
            people = [p for p in self.book.people if p.id != row.record_id]
            people.append(from_plain(Person, row.after))
            people.sort(key=lambda p: (p.name.casefold(), p.id))
            self.book = replace(self.book, people=tuple(people))
            self._names = None

    def since(self, seq: int) -> Moved:
        """What was done after row `seq`, up to where this book stands; `again` where it is much, or
        where that row is not of this history (a restored backup, say)."""
        with self.lock:
            if not 0 <= seq <= self.seq:
                return Moved(self.seq, self.head, again=True)
            if seq == self.seq:
                return Moved(self.seq, self.head)
            rows = rows_after(self.store, self.job_id, seq, MOST_ROWS)
            rows = [row for row in rows if row.seq <= self.seq]
            moved = moved_by(rows, self.seq, self.head)
            moved.again = moved.again or len(rows) == MOST_ROWS
            return moved

    def of_rows(self, rows: Sequence[HistoryRow]) -> Moved:
        """What the rows of one action did; number and hash are those of the last of them."""
        if not rows:
            return Moved(self.seq, self.head)
        return moved_by(rows, rows[-1].seq, rows[-1].hash)

    @property
    def units(self) -> Units:
        """The shop's units."""
        return Units(self.book.shop.units)

    def names(self) -> dict[str, str]:
        """Words for every id that a value may refer to."""
        with self.lock:
            if self._names is None:
                book = self.book
                rows = (*book.people, *book.lots, *book.parts, *book.finish_systems)
                self._names = {r.id: label(r) for r in rows}
            return self._names

    def entries_of(self, part_id: str) -> tuple[Entry, ...]:
        """The entries of a part, in no order."""
        with self.lock:
            return tuple(e for e in self.entries.values() if e.part_id == part_id)
