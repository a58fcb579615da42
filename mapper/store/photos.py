"""Photos: looked at by a process of their own, then kept for good under the digest of their bytes.

A picture from outside is decoded once, whole, in a child process with limited memory and time, so
that a damaged or hostile file costs that process and nothing else. What is kept is either the file
as it came, or the same picture with what tells its place taken out; pixels are never encoded anew.
"""

from __future__ import annotations

import json
import os
import stat
import subprocess
import sys
import time
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from mapper.store.canonical import digest
from mapper.store.disk import sync_folder, write_synced
from mapper.store.errors import PhotoRefused

SECONDS = 30
MEMORY = 1_500_000_000
SETTINGS = ("photo_pixel_limit", "photo_byte_limit", "photo_keep_location")
_YES, _NO = ("true", "yes", "on"), ("false", "no", "off")
_KINDS = "Allowed: JPEG, PNG and WebP pictures."


@dataclass(frozen=True)
class Rules:
    """What a shop takes; its settings of the same names, with "photo_" before, change them.

    pixel_limit: pixels of a picture; byte_limit: bytes of a file; keep_location: store files as
    they come, with the place where they were taken.
    """

    pixel_limit: int = 100_000_000
    byte_limit: int = 60_000_000
    keep_location: bool = False


def rules_of(settings: Mapping[str, Any]) -> Rules:
    """The rules in a shop's settings ("photo_pixel_limit", "photo_byte_limit",
    "photo_keep_location"), each as in `Rules` where it is not set.

    Raises PhotoRefused for a limit that is no whole number above 0, and for a yes or no that is
    neither: a guess there could keep the places that somebody wanted out.
    """
    usual = Rules()
    return Rules(
        _limit(settings, "photo_pixel_limit", usual.pixel_limit),
        _limit(settings, "photo_byte_limit", usual.byte_limit),
        _yes_or_no(settings, "photo_keep_location", usual.keep_location),
    )


def _limit(settings: Mapping[str, Any], name: str, usual: int) -> int:
    given = settings.get(name, usual)
    if isinstance(given, bool) or not isinstance(given, int | float) or given != given // 1:
        given = 0
    if given < 1:
        raise PhotoRefused(
            f"The setting {name} is {settings[name]!r}.",
            "Allowed: a whole number, 1 or more.",
            f"Change it: mapper setting {name} {usual}",
        )
    return int(given)


def _yes_or_no(settings: Mapping[str, Any], name: str, usual: bool) -> bool:
    given = settings.get(name, usual)
    word = str(given).strip().casefold()
    if word in _YES + _NO:
        return word in _YES
    raise PhotoRefused(
        f"The setting {name} is {given!r}.",
        "Allowed: yes or no.",
        f"Change it: mapper setting {name} {'yes' if usual else 'no'}",
    )


@dataclass(frozen=True)
class TakenIn:
    """A picture that may be kept: its bytes to store, and what is known about it.

    received, digest: SHA-256 of the bytes as they came and of `data`; width, height in pixels as
    stored; taken: when, where the camera said so with its offset; notes: what was taken out.
    """

    data: bytes
    digest: str
    received: str
    media_type: str
    width: int
    height: int
    taken: datetime | None
    notes: tuple[str, ...]


def take_in(data: bytes, rules: Rules | None = None) -> TakenIn:
    """Look at a picture file whole; PhotoRefused for whatever is no sound picture within the rules.

    An empty file is refused like any other that is no picture.
    """
    rules = rules or Rules()
    if len(data) > rules.byte_limit:
        raise PhotoRefused(
            f"The file has {len(data):,} bytes.",
            f"The shop takes up to {rules.byte_limit:,} (setting photo_byte_limit).",
            "Make the picture smaller.",
        )
    told, stored = _looked_at(data, rules)
    if "refused" in told:
        raise PhotoRefused(f"The file was refused: {told['refused']}.", told.get("allowed", _KINDS))
    kept = stored or data
    taken = told.get("taken")
    return TakenIn(
        kept,
        digest(kept),
        digest(data),
        told["media_type"],
        told["width"],
        told["height"],
        None if taken is None else datetime.fromisoformat(taken),
        tuple(told["notes"]),
    )


def _looked_at(data: bytes, rules: Rules) -> tuple[dict[str, Any], bytes]:
    order = {
        "pixels": rules.pixel_limit,
        "keep_location": rules.keep_location,
        "seconds": SECONDS,
        "memory": MEMORY,
    }
    try:
        done = subprocess.run(
            # -P: nothing that lies in the folder somebody works in is taken for a library.
            [sys.executable, "-P", "-m", "mapper.store.photo_worker"],
            env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
            input=json.dumps(order).encode() + b"\n" + data,
            capture_output=True,
            timeout=SECONDS + 10,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return {"refused": f"it could not be read within {SECONDS} seconds"}, b""
    head, _, stored = done.stdout.partition(b"\n")
    if done.returncode != 0 or not head:
        return {"refused": "reading it took more memory or time than a picture may"}, b""
    return json.loads(head), stored


def path_of(folder: Path, key: str) -> Path:
    """Where the photo with that digest lies in a shop's folder."""
    return folder / "photos" / key[:2] / key


def keep(folder: Path, key: str, data: bytes) -> None:
    """Put a photo's bytes in the shop for good: written, synced, renamed, folder synced.

    Returns when the file would survive a power cut; only then may a row name it. A sound file that
    is there already is left alone, a damaged one is replaced by these bytes.
    """
    target = path_of(folder, key)
    if target.exists() and digest(target.read_bytes()) == key:
        return
    arriving = folder / "photos" / "arriving"
    arriving.mkdir(parents=True, exist_ok=True)
    _sweep(arriving)
    temporary = arriving / f"{key}.{uuid.uuid4().hex}"
    try:
        write_synced(temporary, data)
        target.parent.mkdir(exist_ok=True)
        temporary.replace(target)
    finally:
        temporary.unlink(missing_ok=True)
    sync_folder(target.parent)
    sync_folder(target.parent.parent)
    sync_folder(folder)


def _sweep(arriving: Path) -> None:
    """Drop what a killed process left half-written; a day old, so that nobody is writing it."""
    for left in arriving.iterdir():
        try:
            if left.stat().st_mtime < time.time() - 86_400:
                left.unlink(missing_ok=True)
        except FileNotFoundError:
            continue


def names_in(folder: Path) -> set[str]:
    """Digests of all photo files that lie in the shop, named or not."""
    return {
        path.name
        for path in (folder / "photos").glob("??/*")
        if len(path.name) == 64 and path.parent.name == path.name[:2]
    }


def is_sound(folder: Path, key: str) -> str:
    """ "" where the photo is there and has its digest, else what is wrong, in words."""
    path = path_of(folder, key)
    try:
        # A pipe in its place would be waited at for ever.
        if not stat.S_ISREG(path.stat().st_mode):
            return "cannot be read (there is no file of that name, but something else)"
        found = digest(path.read_bytes())
    except FileNotFoundError:
        return "is missing"
    except OSError as error:
        return f"cannot be read ({error.strerror or os.strerror(error.errno or 0)})"
    return "" if found == key else "is damaged: its bytes have another digest"
