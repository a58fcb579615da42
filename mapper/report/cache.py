"""Drawings, pictures and tables made once: kept by a digest of everything they were made from.

A key holds the code's own digest too, so nothing outlives the program that made it. A folder that
cannot be written is no reason to go without a report: then the work is done again each time.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
import time
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

ROOTS = ("mapper", "meshes")
MADE_BY = (".py", ".json", ".toml")  # what drawings and numbers come from, not the layout
KEPT_FOR = 60 * 24 * 3600.0  # seconds since last used


@cache
def code_digest() -> str:
    """SHA-256 of the program's own sources."""
    top = Path(__file__).resolve().parents[2]
    digest = hashlib.sha256()
    for root in ROOTS:
        for path in sorted((top / root).rglob("*")):
            if path.suffix in MADE_BY:
                digest.update(str(path.relative_to(top)).encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()


def key_of(*parts: Any) -> str:
    """SHA-256 of the parts (text, numbers, lists, mappings; dates as text) and of the code."""
    text = json.dumps([code_digest(), parts], sort_keys=True, default=str)
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


class Cache:
    """A folder of made files. made, found: how many were made and how many were there already."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.made = 0
        self.found = 0
        folder.mkdir(parents=True, exist_ok=True)

    def path(self, key: str, suffix: str) -> Path:
        """Where the file of that key is or will be."""
        return self.folder / f"{key[:40]}{suffix}"

    def has(self, key: str, suffix: str) -> bool:
        """Whether it is there; a found file counts as used now."""
        path = self.path(key, suffix)
        try:
            os.utime(path)
        except OSError:
            return False
        return True

    def file(self, key: str, suffix: str, make: Callable[[Path], object]) -> Path:
        """The file of that key, made by `make(path)` when it is not there. It appears whole or not
        at all; what `make` raises passes through."""
        path = self.path(key, suffix)
        if self.has(key, suffix):
            self.found += 1
            return path
        handle, name = tempfile.mkstemp(prefix="making-", suffix=suffix, dir=self.folder)
        os.close(handle)
        try:
            make(Path(name))
            Path(name).replace(path)
        finally:
            Path(name).unlink(missing_ok=True)
        self.made += 1
        return path

    def value(self, key: str, make: Callable[[], Any]) -> Any:
        """A JSON value of that key, as it comes back from JSON whether it was made now or before.

        A damaged file is made again.
        """

        def write(path: Path) -> None:
            path.write_text(json.dumps(make()), "utf-8")

        path = self.file(key, ".json", write)
        try:
            return json.loads(path.read_text("utf-8"))
        except ValueError:
            path.unlink(missing_ok=True)
            return json.loads(self.file(key, ".json", write).read_text("utf-8"))

    def tidy(self, now: float | None = None) -> int:
        """Takes away what nobody used for two months; gives how many files."""
        limit = (time.time() if now is None else now) - KEPT_FOR
        old = [p for p in self.folder.iterdir() if p.is_file() and p.stat().st_mtime < limit]
        for path in old:
            path.unlink(missing_ok=True)
        return len(old)
