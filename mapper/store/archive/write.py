"""Write a job as an open archive: a folder, or one zip file."""

from __future__ import annotations

import json
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from mapper import __version__
from mapper.job.book import Book
from mapper.job.plain import to_plain
from mapper.store import photos
from mapper.store.archive import layout
from mapper.store.archive.opened import opened
from mapper.store.archive.ply import to_ply
from mapper.store.archive.schema import schema
from mapper.store.archive.tables import tables_of
from mapper.store.archive.told import rows_of, to_lines
from mapper.store.canonical import digest
from mapper.store.disk import write_synced
from mapper.store.errors import ArchiveRefused
from mapper.store.read import read_geometry_bytes
from mapper.store.shop import DATABASE, Store
from mapper.store.stored import references
from mapper.store.whole import whole_file_or_nothing, whole_or_nothing

Progress = Callable[[str, int, int], None]
Put = Callable[[str, bytes], None]


@dataclass(frozen=True)
class Written:
    """An archive as written: where, how many records, changes and photos, the newest hash of the
    shop's history in it, and what could not be put in, in words."""

    path: Path
    head: str
    records: int
    changes: int
    photos: int
    missing: tuple[str, ...]

    def lines(self) -> tuple[str, ...]:
        """The archive in lines to print."""
        return (
            f"{self.path}: {self.records} records, {self.changes} changes, {self.photos} photos.",
            *(f"Not in it: {line}" for line in self.missing),
            f"Newest hash: {self.head}",
        )


def write_archive(
    store: Store,
    job_id: str,
    target: Path | str,
    progress: Progress | None = None,
    *,
    now: datetime | None = None,
) -> Written:
    """Everything of one job as an open archive at `target`: one file where its name ends in .zip,
    else a new folder.

    It is there whole or not at all. People and lots that the job does not refer to stay out, and so
    do secrets of any sort. Raises ArchiveRefused where the target is there already, NoSuchRecord
    for an unknown job, DiskRefused where the disk is full. A photo that is missing or damaged does
    not stop it: `Written.missing` names it.
    """
    target = Path(target)
    if target.exists():
        raise ArchiveRefused(
            f"{target} is there already.",
            "An archive never writes over anything.",
            "Name a new one.",
        )
    tell = progress or (lambda what, done, of: None)
    made = (now or datetime.now(UTC)).isoformat(timespec="seconds")
    book = store.book(job_id)
    rows = rows_of(store, job_id, book.head)
    listed: dict[str, dict[str, Any]] = {}
    missing: list[str] = []
    with _packed(target) as put_file:

        def put(name: str, data: bytes) -> None:
            listed[name] = {"sha256": digest(data), "bytes": len(data)}
            put_file(name, data)

        put(layout.README, layout.HOW_TO_READ.encode())
        put(layout.SCHEMA, _json(schema()))
        count = _put_job(book, rows, put)
        put(layout.HISTORY, to_lines(rows))
        _put_geometries(store, book, put, tell)
        for name, text in tables_of(book).items():
            put(name, text.encode())
        missing += _put_photos(store, book, put, tell)
        manifest = {
            "format": layout.FORMAT,
            "number": layout.NUMBER,
            "made": made,
            "program": __version__,
            "job": {"id": book.job.id, "name": book.job.name},
            "head": book.head,
            "changes": len(rows),
            "missing": missing,
            "files": listed,
        }
        put_file(layout.MANIFEST, _json(manifest))
    pictures = len({p.digest for p in book.photos}) - len(missing)
    return Written(target, book.head, count, len(rows), pictures, tuple(missing))


def _json(content: Any) -> bytes:
    text = json.dumps(content, ensure_ascii=False, indent=1, sort_keys=True, allow_nan=False)
    return text.encode()


def _put_job(book: Book, rows: list[dict[str, Any]], put: Put) -> int:
    wanted = _people_and_lots(book, rows)
    content: dict[str, Any] = {
        "format": layout.FORMAT,
        "number": layout.NUMBER,
        "shop": to_plain(book.shop),
        "job": to_plain(book.job),
    }
    count = 1
    for name, cls in layout.SECTIONS.items():
        records = [
            opened(cls, to_plain(r))
            for r in getattr(book, name)
            if name not in ("people", "lots") or r.id in wanted
        ]
        content[name] = records
        count += len(records)
    put(layout.JOB, _json(content))
    return count


def _people_and_lots(book: Book, rows: list[dict[str, Any]]) -> set[str]:
    """Ids of the people and lots that a job's entries or its history name."""
    found = {row["by_person"] for row in rows}
    for entry in book.entries:
        found.add(entry.by)
        found |= {key for _, key in references(to_plain(entry))}
    return found


def _put_geometries(store: Store, book: Book, put: Put, tell: Progress) -> None:
    for number, key in enumerate(sorted(book.geometries)):
        tell("geometry", number, len(book.geometries))
        data = read_geometry_bytes(store.engine, store.folder / DATABASE, key)
        put(layout.geometry_name(key), data)
        for i, skin in enumerate(book.geometries[key].skins, 1):
            put(f"geometry/{key}-{i}.ply", to_ply(skin))


def _put_photos(store: Store, book: Book, put: Put, tell: Progress) -> list[str]:
    missing = []
    by_digest = {p.digest: p for p in book.photos}
    for number, (key, photo) in enumerate(sorted(by_digest.items())):
        tell("photos", number, len(by_digest))
        wrong = photos.is_sound(store.folder, key)
        if wrong:
            missing.append(f"photo {key} {wrong}")
            continue
        put(layout.photo_name(key, photo.media_type), store.photo(key))
    return missing


@contextmanager
def _packed(target: Path) -> Iterator[Put]:
    """A way to put files by name into a new folder, or into a new zip file."""
    if target.suffix.lower() == ".zip":
        target.absolute().parent.mkdir(parents=True, exist_ok=True)
        with (
            whole_file_or_nothing(target) as part,
            zipfile.ZipFile(part, "x", zipfile.ZIP_DEFLATED, compresslevel=6) as packed,
        ):
            # Pictures are packed already.
            yield lambda name, data: packed.writestr(
                name,
                data,
                zipfile.ZIP_STORED if name.startswith("photos/") else zipfile.ZIP_DEFLATED,
            )
        return
    with whole_or_nothing(target) as folder:

        def put(name: str, data: bytes) -> None:
            path = folder / name
            path.parent.mkdir(exist_ok=True)
            write_synced(path, data)

        yield put
