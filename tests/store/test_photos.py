"""Photos: only sound pictures, without their place, kept for good under their digest."""

from __future__ import annotations

import hashlib
import io
import os
import stat
import zlib
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from PIL.PngImagePlugin import PngInfo
from sqlalchemy import Connection, Engine

from mapper.job.entry import PhotoUse
from mapper.store import photos
from mapper.store.errors import DiskRefused, PhotoRefused
from mapper.store.photos import Rules, take_in
from mapper.store.shop import Store
from tests.store.makers import ANN, JOB, entry, picture

PLACE = b"54.3210"
EXIF, GPS = 0x8769, 0x8825


def exif() -> Image.Exif:
    """Exif data with a position, a maker's note, a time with its offset, and an orientation."""
    tags = Image.Exif()
    tags[0x0112] = 6
    tags[0x010E] = "at 54.3210 north"
    tags[EXIF] = {0x9003: "2024:05:06 07:08:09", 0x9011: "+02:00", 0x927C: b"maker 54.3210"}
    tags[GPS] = {1: "N", 2: (54.0, 19.0, 15.6)}
    return tags


def located(kind: str) -> bytes:
    """A picture whose place is told in every way its format has."""
    if kind == "JPEG":
        data = picture(kind, exif=exif(), comment=b"near 54.3210", xmp=b"<x>54.3210</x>")
        return data + b"more after the end: 54.3210"
    if kind == "PNG":
        info = PngInfo()
        info.add_text("Comment", "near 54.3210")
        info.add_itxt("XML:com.adobe.xmp", "<x>54.3210</x>")
        return picture(kind, exif=exif(), pnginfo=info) + b"54.3210"
    return picture(kind, exif=exif(), xmp=b"<x>54.3210</x>", lossless=True) + b"54.3210"


def pixels(data: bytes) -> np.ndarray:
    with Image.open(io.BytesIO(data)) as image:
        return np.asarray(image.convert("RGB"))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_the_place_is_taken_out_and_the_picture_is_untouched(kind: str) -> None:
    data = located(kind)
    assert PLACE in data
    got = take_in(data)
    assert PLACE not in got.data
    with Image.open(io.BytesIO(got.data)) as image:
        image.load()
        tags = image.getexif()
        assert GPS not in tags
        assert tags[0x0112] == 6
        assert 0x927C not in tags.get_ifd(EXIF)
        assert (image.width, image.height) == (got.width, got.height) == (64, 48)
    assert np.array_equal(pixels(got.data), pixels(data))
    assert got.received == hashlib.sha256(data).hexdigest()
    assert got.digest == hashlib.sha256(got.data).hexdigest() != got.received
    assert got.taken == datetime.fromisoformat("2024-05-06T07:08:09+02:00")
    (note,) = got.notes
    assert "position in the Exif data" in note and "pixels are untouched" in note
    # What is stored has nothing left to take out.
    again = take_in(got.data)
    assert (again.data, again.notes) == (got.data, ())


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_without_a_place_or_where_the_shop_keeps_it_a_file_stays_as_it_came(kind: str) -> None:
    plain = picture(kind)
    got = take_in(plain)
    assert (got.data, got.notes, got.digest) == (plain, (), got.received)
    data = located(kind)
    assert take_in(data, Rules(keep_location=True)).data == data


def test_a_progressive_and_a_grey_picture_are_taken_too() -> None:
    for data in (picture(progressive=True), picture("PNG", (1, 1)), picture("WEBP", quality=20)):
        assert take_in(data).data == data


def bomb() -> bytes:
    """A small PNG that says it is 30,000 pixels square (and would be, in memory)."""
    head = b"IHDR" + (30_000).to_bytes(4) * 2 + bytes([8, 2, 0, 0, 0])
    return (
        b"\x89PNG\r\n\x1a\n" + (13).to_bytes(4) + head + zlib.crc32(head).to_bytes(4)
        + picture("PNG")[33:]
    )  # fmt: skip


def moving() -> bytes:
    out = io.BytesIO()
    frames = [Image.new("RGB", (8, 8), (v, 0, 0)) for v in (0, 255)]
    frames[0].save(out, "WEBP", save_all=True, append_images=frames[1:])
    return out.getvalue()


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "no sound picture"),
        (b"GIF89a" + bytes(40), "no sound picture"),
        (picture("GIF"), "no sound picture"),
        (picture("TIFF"), "no sound picture"),
        (b"%PDF-1.7 and so on", "no sound picture"),
        (picture()[:400], "no sound picture"),
        (picture()[:-2], "no end|no sound"),
        (picture("PNG")[:-30], "no sound picture"),
        (picture("PNG").replace(b"IDAT", b"IDAX"), "no sound picture"),
        (picture("WEBP")[:-9], "no sound picture|cut short"),
        (bomb(), r"30000 x 30000 = 900,000,000 pixels.*photo_pixel_limit"),
        (moving(), "moving"),
    ],
)
def test_what_is_no_sound_picture_is_refused_in_words(data: bytes, told: str) -> None:
    with pytest.raises(PhotoRefused, match=told):
        take_in(data)


def test_the_shops_limits_hold() -> None:
    data = picture()
    with pytest.raises(PhotoRefused, match=f"{len(data):,} bytes"):
        take_in(data, Rules(byte_limit=len(data) - 1))
    with pytest.raises(PhotoRefused, match="3,072 pixels"):
        take_in(data, Rules(pixel_limit=64 * 48 - 1))
    assert take_in(data, Rules(pixel_limit=64 * 48, byte_limit=len(data))).width == 64


def test_a_picture_that_needs_too_much_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(photos, "MEMORY", 250_000_000)
    with pytest.raises(PhotoRefused, match="memory"):
        take_in(picture("PNG", (9000, 9000), compress_level=1))


def test_a_photo_is_a_file_under_its_digest_and_a_record(store: Store) -> None:
    data = located("JPEG")
    with store.act(ANN, "photo") as action:
        told = action.add_photo(JOB, data)
    (note,) = action.answer.notes
    assert told.digest[:12] in note
    assert told.received == hashlib.sha256(data).hexdigest()
    assert hashlib.sha256(store.photo(told.digest)).hexdigest() == told.digest
    book = store.book(JOB)
    assert book.photos == (told,)
    path = Path(book.photo_files[told.id])
    assert path == store.folder / "photos" / told.digest[:2] / told.digest
    assert path.read_bytes() == store.photo(told.digest)
    assert list((store.folder / "photos" / "arriving").iterdir()) == []


def test_the_file_is_on_the_disk_before_it_has_its_name_and_the_row_comes_last(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    done: list[str] = []
    sync, rename, begin = os.fsync, Path.replace, Engine.connect

    def syncing(handle: int) -> None:
        done.append("folder" if stat.S_ISDIR(os.fstat(handle).st_mode) else "file")
        sync(handle)

    def renaming(path: Path, target: Path) -> Path:
        done.append("rename")
        return rename(path, target)

    def connecting(engine: Engine) -> Connection:
        done.append("database")
        return begin(engine)

    with store.act(ANN, "photo") as action:
        action.add_photo(JOB, picture())
        monkeypatch.setattr(os, "fsync", syncing)
        monkeypatch.setattr(Path, "replace", renaming)
        monkeypatch.setattr(Engine, "connect", connecting)
    assert done[:3] == ["file", "rename", "folder"]
    assert done.index("database") == len(done) - 1


def test_a_refused_photo_stores_nothing(store: Store) -> None:
    head = store.head()
    with pytest.raises(PhotoRefused), store.act(ANN, "photo") as action:
        action.add_photo(JOB, b"no picture")
    assert store.head() == head


def test_the_shops_settings_are_used(store: Store) -> None:
    with store.act(ANN, "settings") as action:
        action.change(replace(store.shop(), settings={"photo_keep_location": True}))
    data = located("PNG")
    with store.act(ANN, "photo") as action:
        told = action.add_photo(JOB, data)
    assert store.photo(told.digest) == data
    assert action.answer.notes == ()


def test_the_same_photo_sent_again_is_the_same(store: Store) -> None:
    for _ in range(2):
        with store.act(ANN, "photo", "action-1") as action:
            action.add_photo(JOB, picture())
    assert action.answer.repeated
    assert len(store.book(JOB).photos) == 1


def test_undo_keeps_the_file_for_redo_and_a_damaged_one_is_not_shown(store: Store) -> None:
    with store.act(ANN, "photo") as action:
        told = action.add_photo(JOB, picture())
        action.add(entry("shows-it", photos=(PhotoUse(told.id),)))
    store.undo(ANN)
    store.redo(ANN)
    path = photos.path_of(store.folder, told.digest)
    path.write_bytes(b"other")
    with pytest.raises(DiskRefused, match="damaged"):
        store.photo(told.digest)
    photos.keep(store.folder, told.digest, picture())
    assert store.photo(told.digest) == picture()
    assert store.verify().sound
