"""Read an open archive back into records, and take its job into a shop."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import shapely

from mapper.errors import MapperError
from mapper.job.book import Book
from mapper.job.plain import from_plain
from mapper.job.records import Job, Photo, Shop
from mapper.store import photos
from mapper.store.action import Answer
from mapper.store.archive import layout
from mapper.store.archive.box import Opened, refused
from mapper.store.archive.opened import closed
from mapper.store.archive.told import Row, rows_from
from mapper.store.canonical import digest
from mapper.store.errors import ArchiveRefused
from mapper.store.shop import Store
from mapper.surface.geometry import Geometry
from mapper.surface.version import from_bytes

# In this order nothing is stored before what it refers to.
_ORDER = (
    "people",
    "lots",
    "assemblies",
    "parts",
    "positions",
    "items",
    "finish_systems",
    "photos",
    "entries",
)


@dataclass(frozen=True)
class Archived:
    """A job as read from an archive: a Book of its records, its history rows, oldest first, and the
    bytes of its geometry versions and photos (by digest, through the open archive)."""

    book: Book
    rows: tuple[Row, ...]
    history: bytes
    missing: tuple[str, ...]
    geometry: Mapping[str, bytes] = field(default_factory=dict)

    def lines(self) -> tuple[str, ...]:
        """What it holds, in lines to print."""
        book = self.book
        count = sum(len(getattr(book, name)) for name in layout.SECTIONS) + 1
        return (
            f"{book.job.name}: {len(book.parts)} parts, {len(book.entries)} entries, "
            f"{count} records, {len(self.rows)} changes, {len(book.photos)} photos.",
            *(f"Not in it: {line}" for line in self.missing),
            f"Newest hash: {book.head}",
        )


def read_archive(archive: Opened) -> Archived:
    """Everything in an open archive, every byte of it compared with its digest.

    archive: from `box.open_box`. Raises ArchiveRefused, naming what is wrong, where a record is one
    that no job can hold, where a history row's hash does not hold, or where something that is
    referred to is not there.
    """
    names = archive.names()
    content = _json(archive, layout.JOB)
    shop, job, records = _records(archive, content)
    history = archive.read(layout.HISTORY)
    rows = rows_from(history)
    blobs: dict[str, bytes] = {}
    shapes: dict[str, Geometry] = {}
    pictures: dict[str, str] = {}
    for name in names:
        data = archive.read(name)
        if found := layout.GEOMETRY_NAME.fullmatch(name):
            key = found.group(1)
            if digest(data) != key:
                raise refused(archive.path, f"{name} has another digest than its name")
            try:
                shapes[key], blobs[key] = from_bytes(data), data
            except (MapperError, RecursionError) as error:
                raise refused(archive.path, f"{name}: {error}") from error
        elif found := layout.PHOTO_NAME.fullmatch(name):
            if digest(data) != found.group(1):
                raise refused(archive.path, f"{name} has another digest than its name")
            pictures[found.group(1)] = name
    _check_photos(archive, records["photos"], pictures)
    try:
        book = Book(
            shop=shop,
            job=job,
            **records,
            geometries=shapes,
            photo_files={},
            head=archive.manifest["head"],
        )
    except MapperError as error:
        raise refused(archive.path, str(error)) from error
    missing = tuple(str(line) for line in archive.manifest.get("missing", ()))
    return Archived(book, tuple(rows), history, missing, blobs)


def _json(archive: Opened, name: str) -> dict[str, Any]:
    try:
        content = json.loads(archive.read(name))
    except (ValueError, RecursionError) as error:
        raise refused(archive.path, f"{name} is no JSON ({error})") from error
    wanted = {"format", "number", "shop", "job", *layout.SECTIONS}
    if not isinstance(content, dict) or set(content) != wanted:
        raise refused(archive.path, f"{name} does not hold what a job has")
    return content


def _records(
    archive: Opened, content: Mapping[str, Any]
) -> tuple[Shop, Job, dict[str, tuple[Any, ...]]]:
    what = "the shop"
    try:
        shop = from_plain(Shop, content["shop"])
        what = "the job"
        job = from_plain(Job, content["job"])
        records = {}
        for name, cls in layout.SECTIONS.items():
            made = []
            for number, plain in enumerate(content[name], 1):
                what = f"number {number} of {name}"
                made.append(from_plain(cls, closed(cls, plain)))
            records[name] = tuple(made)
    except (
        MapperError,
        shapely.errors.ShapelyError,
        ValueError,
        TypeError,
        KeyError,
        AttributeError,
        RecursionError,
    ) as error:
        raise refused(archive.path, f"{what} cannot be read: {error}") from error
    return shop, job, records


def _check_photos(archive: Opened, records: tuple[Photo, ...], pictures: Mapping[str, str]) -> None:
    for photo in records:
        name = layout.photo_name(photo.digest, photo.media_type)
        told = any(photo.digest in str(m) for m in archive.manifest.get("missing", ()))
        if pictures.get(photo.digest) != name and not told:
            raise refused(archive.path, f"it has no {name}")
    if extra := sorted(set(pictures) - {p.digest for p in records}):
        raise refused(archive.path, f"it holds {pictures[extra[0]]}, which no record names")


def take_in(store: Store, archive: Opened, by: str, action_id: str | None = None) -> Answer:
    """Take the job of an archive into a shop, as one action that can be undone.

    by: id of the person who takes it in. People and lots that the shop knows by their id stay as
    the shop has them. Records begin at version 1 here; who recorded them and when stays, and the
    history they bring is kept beside the shop's own and goes into its archives again. Each photo is
    looked at as one from a camera would be. Raises ArchiveRefused where the shop has the job
    already, where a photo is refused, or where a photo is missing; nothing is stored then.
    """
    found = read_archive(archive)
    book = found.book
    words = f"job {book.job.name} taken in from an archive that ends at {book.head[:16]}"
    done = store.history(action_id=action_id) if action_id else ()
    if done and done[0].words == words:
        # Sent again after an answer that never came: what is here now differs from what was then,
        # so it is answered from the history.
        return Answer(done[0].action_id, True, done[0].hash, done[::-1])
    if store.find(Job, book.job.id) is not None:
        raise ArchiveRefused(
            f"The job {book.job.name!r} is in this shop already.",
            "An archive is taken in where its job is not, and never over one.",
            "Open another shop, or make a new one.",
        )
    if found.missing:
        raise ArchiveRefused(
            f"The archive lacks {'; '.join(found.missing[:3])}.",
            "A job is taken in with all its photos.",
            "Write the archive again where the photos are whole.",
        )
    with store.act(by, words, action_id) as action:
        for key, data in found.geometry.items():
            action.bring_geometry(book.geometries[key].part, data)
        action.bring_history(book.job.id, found.history)
        action.bring(book.job)
        for name in _ORDER:
            for record in getattr(book, name):
                known = name in ("people", "lots") and store.find(type(record), record.id)
                if known:
                    continue
                if name == "photos":
                    _bring_photo(action, archive, record)
                else:
                    action.bring(record)
    return action.answer


def _bring_photo(action: Any, archive: Opened, photo: Photo) -> None:
    name = layout.photo_name(photo.digest, photo.media_type)
    data = archive.read(name)
    # The bytes stay as they are, or the record's digest would be another: only looked at.
    seen = photos.take_in(data, photos.Rules(keep_location=True))
    if (seen.media_type, seen.width, seen.height) != (photo.media_type, photo.width, photo.height):
        raise refused(
            archive.path,
            f"{name} is {seen.width} x {seen.height} {seen.media_type}, and its record tells "
            f"otherwise",
        )
    action.bring_photo(photo, data)
