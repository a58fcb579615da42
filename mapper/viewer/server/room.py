"""One shop being served: its store, its jobs in memory, and what is told to whom."""

from __future__ import annotations

import gzip
import os
import tempfile
import threading
from collections import OrderedDict
from collections.abc import Iterable, Mapping
from pathlib import Path

from mapper.job.entry import Entry
from mapper.report.cache import key_of
from mapper.store.errors import NoSuchRecord
from mapper.store.history import clock_words
from mapper.store.shop import Clock, local_now, open_shop
from mapper.viewer.server.events import Feed, Message
from mapper.viewer.server.glance import Glances
from mapper.viewer.server.guards import Guards
from mapper.viewer.server.helper import Helper
from mapper.viewer.server.jsons import joined, listed, text
from mapper.viewer.server.live import LiveBook, Moved
from mapper.viewer.server.views import (
    entry_reference,
    entry_view,
    job_view,
    part_view,
    person_view,
    references_of,
    tally_of,
)

SHAPES_KEPT = 24  # packed shapes in memory
BEGIN = 5.0  # seconds in which the first page is loaded before areas are worked out


def cache_folder() -> Path:
    """Where shapes made once are kept: the user's cache folder, else one that goes with reboot."""
    given = os.environ.get("XDG_CACHE_HOME", "")
    base = Path(given) if given.startswith("/") else Path.home() / ".cache"
    folder = base / "airframe-mapper" / "shapes"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if os.access(folder, os.W_OK):
            return folder
    except OSError:
        pass
    return Path(tempfile.mkdtemp(prefix="airframe-mapper-"))


class Room:
    """A shop as the server holds it. Methods may be called from any thread.

    Shapes are made once and kept in the user's cache folder.
    """

    def __init__(self, folder: Path, *, clock: Clock = local_now) -> None:
        self.store = open_shop(folder, now=clock)
        self.clock = clock
        self.folder = folder
        self.guards = Guards()
        self.feed = Feed()
        self._books: dict[str, LiveBook] = {}
        self._opening = threading.Lock()
        self._views: dict[str, dict[str, tuple[tuple[int, int], str, str]]] = {}
        self._cache = cache_folder()
        self._packed: OrderedDict[str, bytes] = OrderedDict()
        self._making: dict[str, threading.Lock] = {}
        self._noting = threading.Lock()
        self.helper = Helper(folder)
        self.glances = Glances(Helper(folder), self._glanced)

    def close(self) -> None:
        """Let go of files and helpers."""
        self.glances.close()
        self.helper.close()
        self.store.close()

    def live(self, job_id: str) -> LiveBook:
        """The book of a job, read when it is first asked for; NoSuchRecord for another id."""
        with self._opening:
            live = self._books.get(job_id)
            if live is None:
                live = LiveBook(self.store, job_id)
                live.listeners.append(lambda moved, before: self._moved(live, moved, before))
                self._views[job_id] = {}
                self._books[job_id] = live
                self.glances.look(live, [p.id for p in live.book.parts], BEGIN)
        return live

    def catch_up(self) -> None:
        """Take into every open book what anybody has written since."""
        for live in list(self._books.values()):
            live.catch_up()

    # -- what the page is told

    def entry_text(self, live: LiveBook, entry: Entry) -> str:
        """An entry for the page, as JSON; made once for each version."""
        return self._of_entry(live, entry)[1]

    def _of_entry(self, live: LiveBook, entry: Entry) -> tuple[tuple[int, int], str, str]:
        """(what it was made from, an entry as JSON, the same as what a value may refer to)."""
        kept = self._views[live.job_id]
        key = (entry.version, live.epoch)
        found = kept.get(entry.id)
        if found is None or found[0] != key:
            clock = clock_words(live.clocks.get(entry.id))
            view = entry_view(entry, live.book, live.units, live.names(), self.guards, clock)
            words = entry_reference(entry, live.book, view.where)
            found = kept[entry.id] = (key, view.model_dump_json(), words.model_dump_json())
        return found

    def parts_text(self, live: LiveBook, part_ids: Iterable[str]) -> str:
        """Parts for the page, as a list in JSON; those that are gone are left out."""
        tally = tally_of(live.entries.values())
        parts = {p.id: p for p in live.book.parts}
        return listed(
            part_view(parts[key], tally, *self.glances.of(live, parts[key])).model_dump_json()
            for key in part_ids
            if key in parts
        )

    def book_text(self, live: LiveBook) -> bytes:
        """A whole job for the page, as JSON."""
        with live.lock:
            book = live.book
            entries = sorted(live.entries.values(), key=lambda e: (str(e.device_time), e.id))
            made = [self._of_entry(live, e) for e in entries]
            references = {
                kind: listed(row.model_dump_json() for row in rows)
                for kind, rows in references_of(book).items()
            }
            references["entry"] = listed(words for _, _, words in made)
            pairs = ",".join(f"{text(kind)}:{rows}" for kind, rows in references.items())
            return joined(
                job=job_view(book.job).model_dump_json(),
                assemblies=text([{"id": a.id, "name": a.name} for a in book.assemblies]),
                parts=self.parts_text(live, (p.id for p in book.parts)),
                entries=listed(entry for _, entry, _ in made),
                references=f"{{{pairs}}}",
                seq=text(live.seq),
                head=text(live.head),
            )

    def changes_text(self, live: LiveBook, moved: Moved, parts: Iterable[str] = ()) -> bytes:
        """What moved, as JSON, with the parts that these entries and `parts` name."""
        with live.lock:
            if moved.again:
                moved = Moved(moved.seq, moved.head, again=True)
            entries = [live.entries[key] for key in moved.entries if key in live.entries]
            touched = dict.fromkeys((*parts, *(e.part_id for e in entries)))
            people = [p for p in live.book.people if p.id in moved.people]
            return joined(
                seq=text(moved.seq),
                head=text(moved.head),
                entries=listed(self.entry_text(live, e) for e in entries),
                parts=self.parts_text(live, touched) if touched else "[]",
                removed=text([key for key in moved.removed if key not in live.entries]),
                people=listed(person_view(p).model_dump_json() for p in people),
                again=text(moved.again),
            )

    def _moved(self, live: LiveBook, moved: Moved, before: Mapping[str, Entry]) -> None:
        if moved.people and not moved.again:
            live.epoch += 1  # a name stands in many entries
        lost = [before[key].part_id for key in moved.removed if key in before]
        there = [live.entries[key].part_id for key in moved.entries if key in live.entries]
        touched = list(dict.fromkeys([*lost, *there]))
        self.glances.look(live, [p.id for p in live.book.parts] if moved.again else touched)
        if moved.any():
            data = self.changes_text(live, moved, lost)
            self.feed.publish(live.job_id, Message(moved.seq, data))

    def _glanced(self, live: LiveBook, part_ids: Iterable[str]) -> None:
        """Parts whose areas at a glance are known now, or anew."""
        with live.lock:
            data = self.changes_text(live, Moved(live.seq, live.head), part_ids)
            self.feed.publish(live.job_id, Message(live.seq, data, extra=True))

    # -- shapes and photos

    def shape(self, digest: str, units: str) -> bytes:
        """A geometry version for the page, packed with gzip. NoSuchRecord for another digest."""
        name = f"{key_of(digest, units)[:40]}.shape"
        with self._noting:
            making = self._making.setdefault(name, threading.Lock())
        with making:
            if name in self._packed:
                self._packed.move_to_end(name)
                return self._packed[name]
            path = self._cache / name
            if not path.is_file():
                self.helper.ask(ask="shape", digest=digest, units=units, out=str(path))
            packed = gzip.compress(path.read_bytes(), 6, mtime=0)
            self._packed[name] = packed
            while len(self._packed) > SHAPES_KEPT:
                self._packed.popitem(last=False)
            return packed

    def photo_type(self, digest: str) -> str:
        """The media type of a stored photo; NoSuchRecord for a digest no photo of a job has."""
        for fresh in (False, True):
            for job in self.store.jobs():
                live = self.live(job.id)
                if fresh:
                    live.catch_up()
                for photo in live.book.photos:
                    if photo.digest == digest:
                        return photo.media_type
        raise NoSuchRecord(f"There is no photo {digest[:12]} in this shop.")
