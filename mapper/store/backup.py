"""Copies of a shop that can be trusted: made while others write, checked before they are used.

A backup is a folder: the database as one file, the photos it names, and `manifest.json` with the
SHA-256 of each file and the newest hash of the history. The database is copied first, so every
photo it names was stored before. Only these files are ever copied, so whatever else lies in a
shop's folder (credentials) is in no backup.

The commands: `backup TARGET` calls `backup(shop folder, TARGET)` and prints `Backup.lines()`;
`restore SOURCE` calls `restore(SOURCE, shop folder)`.
"""

from __future__ import annotations

import json
import re
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from mapper import __version__
from mapper.store import photos
from mapper.store.canonical import digest
from mapper.store.disk import sync_file, write_synced
from mapper.store.engine import check_promises, connect, is_a_shop
from mapper.store.errors import BackupRefused, NoSuchRecord, in_plain_words, plain_words
from mapper.store.history import FIRST
from mapper.store.shop import DATABASE, open_shop
from mapper.store.whole import whole_or_nothing

MANIFEST = "manifest.json"
FORMAT = "backup of a shop"
NUMBER = 1
_MISSING = re.compile(r"photo ([0-9a-f]{64}) ")
_NAMES = re.compile(r"shop\.sqlite|photos/([0-9a-f]{2})/\1[0-9a-f]{62}")
_OF_THE_COPY = ("SQLITE_FULL", "SQLITE_IOERR", "SQLITE_CANTOPEN", "SQLITE_READONLY")
Progress = Callable[[str, int, int], None]


@dataclass(frozen=True)
class Backup:
    """What a backup holds: where it is, the newest hash of its history, how many changes and
    photos; missing: photos that the shop names and could not give, with what was wrong."""

    path: Path
    head: str
    changes: int
    photos: int
    missing: tuple[str, ...]
    made: str

    def lines(self) -> tuple[str, ...]:
        """The backup in lines to print."""
        return (
            f"{self.path}: {self.changes} changes, {self.photos} photos, made {self.made}.",
            *(f"Not in it: {line}" for line in self.missing),
            f"Newest hash: {self.head}",
        )


def backup(folder: Path | str, target: Path | str, progress: Progress | None = None) -> Backup:
    """Copy a shop to a new folder, while others may go on writing.

    It is written under another name and renamed when every byte is on the disk: a folder named
    `target` is a whole backup. Raises BackupRefused where the target is there already, DiskRefused
    where its disk is full (nothing is left behind), NoSuchRecord or ShopDamaged for the shop. A
    photo that is missing or damaged does not stop it; `Backup.missing` names it.
    """
    folder, target = Path(folder), Path(target)
    tell = progress or (lambda what, done, of: None)
    database = folder / DATABASE
    if not database.is_file():
        raise NoSuchRecord(f"There is no shop in {folder}.", f"A shop is a folder with {DATABASE}.")
    with plain_words(database):
        is_a_shop(database)
    if target.exists():
        raise BackupRefused(
            f"{target} is there already.", "A backup never writes over anything.", "Name a new one."
        )
    if target.resolve().is_relative_to(folder.resolve()):
        raise BackupRefused(
            f"{target} lies inside the shop's own folder.",
            "A backup lies elsewhere, best on another disk.",
        )
    with whole_or_nothing(target) as part:
        tell("database", 0, 1)
        _snapshot(database, part / DATABASE)
        named, head, changes, schema = _named(part / DATABASE)
        files = {DATABASE: _described(part / DATABASE)}
        missing = []
        for number, key in enumerate(named):
            tell("photos", number, len(named))
            wrong = photos.is_sound(folder, key)
            if wrong:
                missing.append(f"photo {key} {wrong}")
                continue
            copy = photos.path_of(part, key)
            copy.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(photos.path_of(folder, key), copy)
            files[copy.relative_to(part).as_posix()] = _described(copy)
        made = datetime.now(UTC).isoformat(timespec="seconds")
        manifest = {
            "format": FORMAT,
            "number": NUMBER,
            "made": made,
            "program": __version__,
            "schema": schema,
            "head": head,
            "changes": changes,
            "missing": missing,
            "files": files,
        }
        text = json.dumps(manifest, ensure_ascii=False, indent=1, sort_keys=True)
        write_synced(part / MANIFEST, text.encode("utf-8"))
        tell("disk", 0, 1)
    return Backup(target, head, changes, len(named) - len(missing), tuple(missing), made)


def restore(source: Path | str, folder: Path | str, progress: Progress | None = None) -> Backup:
    """Make a shop again from a backup; checked whole before it gets its name.

    folder: new or empty; one that holds anything, a shop above all, is refused. Every file must
    have the digest that the manifest gives, the history must end at its newest hash, and `verify`
    must find nothing but photos that were missing when the backup was made. Raises BackupRefused
    for a backup that is not whole, with what is wrong; then nothing is left in `folder`.
    """
    source, folder = Path(source), Path(folder)
    tell = progress or (lambda what, done, of: None)
    manifest = read_manifest(source)
    with plain_words(folder):
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            what = "a shop" if (folder / DATABASE).exists() else "something"
            raise BackupRefused(
                f"{folder} holds {what} already.",
                "A backup is restored into a folder that is new or empty, never over a shop.",
                "Name another folder.",
            )
    files = manifest["files"]
    with whole_or_nothing(folder) as part:
        for number, (name, told) in enumerate(sorted(files.items())):
            tell("files", number, len(files))
            copy = part / name
            copy.parent.mkdir(parents=True, exist_ok=True)
            if not (source / name).is_file():
                raise _not_whole(source, f"{name} is missing")
            with plain_words(source / name):
                shutil.copyfile(source / name, copy)
            if _described(copy) != told:
                raise _not_whole(source, f"{name} is cut short or damaged")
        # Only now, with every byte compared, is the copy opened.
        with open_shop(part, damaged=True) as store:
            verdict = store.verify(manifest["head"], progress)
        # Whatever was wrong with a photo at home, in the copy it is missing.
        told_of = [_MISSING.match(str(line)) for line in manifest["missing"]]
        accepted = {f"The photo {found[1]} is missing." for found in told_of if found}
        wrong = [line for line in verdict.problems if line not in accepted]
        if not wrong and verdict.head != manifest["head"]:
            wrong = ["its history ends elsewhere than its manifest says"]
        if wrong:
            raise _not_whole(source, "; ".join(wrong[:5]))
        for extra in (f"{DATABASE}-wal", f"{DATABASE}-shm"):
            (part / extra).unlink(missing_ok=True)
    return Backup(
        folder,
        verdict.head,
        verdict.rows,
        len(files) - 1,
        tuple(manifest["missing"]),
        manifest["made"],
    )


def read_manifest(source: Path) -> dict[str, Any]:
    """The manifest of a backup; BackupRefused where there is none, or a foreign or newer one."""
    try:
        with plain_words(source / MANIFEST):
            manifest = json.loads((source / MANIFEST).read_text("utf-8"))
        if manifest["format"] != FORMAT:
            raise KeyError("format")
        if manifest["number"] > NUMBER:
            raise BackupRefused(
                f"{source} was made by a newer program (format {manifest['number']}).",
                f"This one reads formats up to {NUMBER}.",
                "Install the newer program.",
            )
        names = set(manifest["files"])
        if DATABASE not in names or not all(_NAMES.fullmatch(name) for name in names):
            raise KeyError("files")
        head, missing = manifest["head"], manifest["missing"]
        if not re.fullmatch("[0-9a-f]{64}", head) or not isinstance(missing, list):
            raise KeyError("head")
        manifest["changes"], manifest["made"]
    except NoSuchRecord:
        raise BackupRefused(
            f"{source} is no backup of a shop: it has no {MANIFEST}.",
            "",
            "Choose a folder that `mapper backup` made.",
        ) from None
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise BackupRefused(
            f"{source} is no backup of a shop, or a damaged one: its {MANIFEST} cannot be read"
            f" ({error}).",
            "",
            "Choose another backup.",
        ) from error
    return dict(manifest)


def _not_whole(source: Path, why: str) -> BackupRefused:
    return BackupRefused(
        f"The backup {source} is not whole: {why.rstrip('.')}.",
        "Nothing was restored.",
        "Choose another backup; keep this one for whoever can look into it.",
    )


def _snapshot(database: Path, copy: Path) -> None:
    """The database at one moment as one file without a log, by SQLite's own copying."""
    with closing(connect(copy, new=True)) as target:
        with plain_words(database), closing(connect(database)) as source:
            source.execute("PRAGMA synchronous=FULL")
            source.execute("PRAGMA foreign_keys=ON")
            check_promises(source)
            source.execute("SELECT count(*) FROM sqlite_master").fetchone()
            try:
                source.backup(target)
            except sqlite3.Error as error:
                # A full disk is that of the copy; whatever is damaged is the shop.
                if error.sqlite_errorname.startswith(_OF_THE_COPY):
                    raise in_plain_words(error, copy.parent) from error
                raise
        target.execute("PRAGMA journal_mode=DELETE")
    sync_file(copy)


def _named(database: Path) -> tuple[list[str], str, int, str]:
    """Photos that a database's history names, its newest hash, number of changes and schema."""
    with closing(connect(database)) as source:
        rows = source.execute("SELECT before, after FROM history WHERE kind = 'photo'").fetchall()
        named = {json.loads(text)["digest"] for row in rows for text in row if text}
        newest = source.execute(
            "SELECT seq, hash FROM history ORDER BY seq DESC LIMIT 1"
        ).fetchone()
        (schema,) = source.execute("SELECT version_num FROM alembic_version").fetchone()
    changes, head = newest or (0, FIRST)
    return sorted(named), head, changes, schema


def _described(path: Path) -> dict[str, Any]:
    data = path.read_bytes()
    return {"sha256": digest(data), "bytes": len(data)}
