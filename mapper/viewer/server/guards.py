"""Locks: who waits for whom while shapes are looked at and actions are stored."""

from __future__ import annotations

import threading


class Guards:
    """One lock for each geometry version, and one for storing.

    What a shape keeps prepared for quick questions is for one thread at a time; two people at two
    parts do not wait for each other. A book's own lock is taken before one of these, never after.
    """

    def __init__(self) -> None:
        self._locks: dict[str, threading.RLock] = {}
        self._making = threading.Lock()
        self.writing = threading.Lock()

    def of(self, digest: str) -> threading.RLock:
        """The lock of a geometry version; that of "" for what has none."""
        with self._making:
            return self._locks.setdefault(digest, threading.RLock())
