"""Parts at a glance: how much of each is stripped and inspected, kept up to date beside the work.

The numbers are the ledger's (`mapper.estimate.ledger`), which may take seconds; so a process of its
own works them out once things are quiet, and whoever looks on is told then.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterable
from difflib import SequenceMatcher
from typing import Any

from mapper.errors import MapperError
from mapper.job.records import Part
from mapper.viewer.server.helper import Helper, HelperGone
from mapper.viewer.server.live import LiveBook

QUIET = 0.5  # seconds without a change before it is looked at
LATEST = 4.0  # seconds after which it is looked at anyhow
Told = Callable[[LiveBook, Iterable[str]], None]


class Glances:
    """Works through the parts that changed, in a thread of its own.

    tell(book, part ids): called when something is known, or known anew.
    """

    def __init__(self, helper: Helper, tell: Told) -> None:
        self._helper = helper
        self._tell = tell
        self._numbers: dict[tuple[str, str], dict[str, float]] = {}
        self._facts: dict[str, dict[str, Any]] = {}
        self._dirty: dict[tuple[str, str], LiveBook] = {}
        self._first = self._last = 0.0
        self._wake = threading.Condition()
        self._closed = False
        self._thread: threading.Thread | None = None

    def look(self, live: LiveBook, part_ids: Iterable[str], later: float = 0.0) -> None:
        """Have these parts looked at again before long, not before `later` seconds."""
        with self._wake:
            now = time.monotonic() + later
            for part_id in part_ids:
                if not self._dirty:
                    self._first = now
                self._dirty[live.job_id, part_id] = live
                self._last = now
            if self._dirty and self._thread is None and not self._closed:
                self._thread = threading.Thread(target=self._run, name="glances", daemon=True)
                self._thread.start()
            self._wake.notify()

    def of(self, live: LiveBook, part: Part) -> tuple[dict[str, float], dict[str, Any]]:
        """(areas by state, facts of the shape) of a part, {} where they are not known yet."""
        facts = self._facts.get(part.geometry, {})
        if facts:
            facts = {**facts, "mirror_id": self._mirror(live, part, facts)}
        return self._numbers.get((live.job_id, part.id), {}), facts

    def _mirror(self, live: LiveBook, part: Part, facts: dict[str, Any]) -> str:
        """The part of the other hand: of several that of the likest name, "" for none."""
        others = [
            p
            for p in live.book.parts
            if (f := self._facts.get(p.geometry))
            and f["mirror_key"] == facts["mirror_key"]
            and f["mirrored"] != facts["mirrored"]
        ]

        def alike(other: Part) -> float:
            return SequenceMatcher(None, other.name, part.name).ratio()

        return max(others, key=alike).id if others else ""

    def close(self) -> None:
        """Stop, and end the helper."""
        with self._wake:
            self._closed = True
            self._wake.notify()
        self._helper.close()

    def _run(self) -> None:
        while True:
            with self._wake:
                while not self._closed and not self._due():
                    self._wake.wait(QUIET / 2 if self._dirty else None)
                if self._closed:
                    return
                key, live = self._dirty.popitem()
                self._first = time.monotonic()
            try:
                self._look_at(live, key[1])
            except HelperGone:
                if self._closed:
                    return
            except MapperError:
                # A part that is gone, or that cannot be measured: it stays without numbers.
                self._numbers.pop(key, None)

    def _due(self) -> bool:
        now = time.monotonic()
        quiet = now - self._last >= QUIET or now - self._first >= LATEST
        return bool(self._dirty) and quiet

    def _look_at(self, live: LiveBook, part_id: str) -> None:
        part = live.book.part(part_id)
        told = [part_id]
        if part.geometry and part.geometry not in self._facts:
            facts = self._helper.ask(ask="facts", digest=part.geometry)
            self._facts[part.geometry] = facts
            key = facts["mirror_key"]
            told += [
                p.id
                for p in live.book.parts
                if p.id != part_id and self._facts.get(p.geometry, {}).get("mirror_key") == key
            ]
        numbers = self._helper.ask(ask="glance", job=live.job_id, part=part_id)
        self._numbers[live.job_id, part_id] = numbers
        self._tell(live, told)
