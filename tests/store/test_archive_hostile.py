"""Archives from outside: nothing foreign, damaged or oversized gets in, and each is told why."""

from __future__ import annotations

import json
import shutil
import struct
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from mapper.store.archive import layout
from mapper.store.archive.box import open_box
from mapper.store.archive.layout import Limits
from mapper.store.archive.read import read_archive, take_in
from mapper.store.archive.write import write_archive
from mapper.store.canonical import digest
from mapper.store.errors import ArchiveRefused, PhotoRefused
from mapper.store.shop import Store
from tests.store.makers import JOB, OTHER


@pytest.fixture
def packed(full: Store, tmp_path: Path) -> Path:
    write_archive(full, JOB, tmp_path / "job.zip")
    return tmp_path / "job.zip"


def repacked(source: Path, change: Callable[[dict[str, bytes]], None], *, sign: bool) -> Path:
    """A copy of a zip with its files changed; sign: with a manifest that tells of them."""
    with zipfile.ZipFile(source) as old:
        files = {n: old.read(n) for n in old.namelist()}
    change(files)
    if sign:
        manifest = json.loads(files[layout.MANIFEST])
        manifest["files"] = {
            n: {"sha256": digest(d), "bytes": len(d)}
            for n, d in files.items()
            if n != layout.MANIFEST
        }
        files[layout.MANIFEST] = json.dumps(manifest).encode()
    target = source.with_name("changed.zip")
    target.unlink(missing_ok=True)
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for name, data in files.items():
            new.writestr(name, data)
    return target


def refusal(path: Path, limits: Limits | None = None) -> str:
    with pytest.raises(ArchiveRefused) as caught, open_box(path, limits) as box:
        read_archive(box)
    text = str(caught.value)
    assert "Traceback" not in text
    assert len(text) < 1500
    return text


def put(name: str, data: bytes = b"x") -> Callable[[dict[str, bytes]], None]:
    return lambda files: files.update({name: data})


@pytest.mark.parametrize(
    "name",
    ["../evil", "/etc/evil", "photos/../../evil", "C:\\evil", "tables/=x.csv", "photos/x.jpg",
     "geometry/" + "a" * 64 + ".exe", "job.json\n", "JOB.JSON"],
)  # fmt: skip
def test_names_that_no_archive_has(packed: Path, name: str) -> None:
    assert "name" in refusal(repacked(packed, put(name), sign=True))


def test_a_byte_changed_anywhere_is_found(packed: Path) -> None:
    with zipfile.ZipFile(packed) as old:
        names = [n for n in old.namelist() if n != layout.MANIFEST]
    for name in names:

        def flip(files: dict[str, bytes], name: str = name) -> None:
            data = bytearray(files[name])
            data[len(data) // 2] ^= 1
            files[name] = bytes(data)

        assert name in refusal(repacked(packed, flip, sign=False))


def test_files_that_are_not_named_or_not_there(packed: Path) -> None:
    extra = put("tables/more.csv")
    assert "tables/more.csv" in refusal(repacked(packed, extra, sign=False))
    gone = repacked(packed, lambda files: files.pop(layout.HISTORY), sign=False)
    assert "has no history.jsonl" in refusal(gone)
    gone = repacked(packed, lambda files: files.pop(layout.JOB), sign=True)
    assert "has no job.json" in refusal(gone)
    gone = repacked(packed, lambda files: files.pop(layout.MANIFEST), sign=False)
    assert "has no archive.json" in refusal(gone)


def test_counts_and_sizes(packed: Path) -> None:
    assert "files" in refusal(packed, Limits(files=3))
    assert "bytes" in refusal(packed, Limits(one=100))
    assert "bytes" in refusal(packed, Limits(all=1000))
    assert "bytes" in refusal(packed, Limits(text=100))


def test_a_file_that_unpacks_without_end(packed: Path) -> None:
    bomb = repacked(packed, put("tables/bomb.csv", bytes(50_000_000)), sign=True)
    assert "times when unpacked" in refusal(bomb)


def test_a_zip_that_lies_about_its_sizes(packed: Path) -> None:
    data = bytearray(packed.read_bytes())
    # The size unpacked, in the central directory, of the first file: told smaller than it is.
    at = data.index(b"PK\x01\x02") + 24
    (size,) = struct.unpack_from("<I", data, at)
    struct.pack_into("<I", data, at, size - 1)
    lying = packed.with_name("lying.zip")
    lying.write_bytes(data)
    refusal(lying)


def test_two_files_of_one_name_links_and_passwords(packed: Path) -> None:
    twice = packed.with_name("twice.zip")
    shutil.copy(packed, twice)
    with zipfile.ZipFile(twice, "a") as target, pytest.warns(UserWarning):
        target.writestr(layout.JOB, b"{}")
    assert f"{layout.JOB!r} twice" in refusal(twice)
    linked = packed.with_name("linked.zip")
    shutil.copy(packed, linked)
    with zipfile.ZipFile(linked, "a") as target:
        link = zipfile.ZipInfo("tables/link.csv")
        link.external_attr = 0o120777 << 16
        target.writestr(link, "/etc/passwd")
    assert "is a link or a device" in refusal(linked)
    locked = bytearray(packed.read_bytes())
    locked[locked.index(b"PK\x01\x02") + 8] |= 1
    (packed.with_name("locked.zip")).write_bytes(locked)
    assert "under a password" in refusal(packed.with_name("locked.zip"))


def test_links_in_a_folder(full: Store, tmp_path: Path) -> None:
    write_archive(full, JOB, tmp_path / "job")
    target = tmp_path / "job" / "tables" / "parts.csv"
    target.unlink()
    target.symlink_to("/etc/hostname")
    assert "is a link or a device" in refusal(tmp_path / "job")


@pytest.mark.parametrize("content", [b"", b"PK\x05\x06" + bytes(18), b"no zip at all"])
def test_files_that_are_no_archive(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "foreign.zip"
    path.write_bytes(content)
    refusal(path)
    refusal(tmp_path / "not there")


def test_a_zip_cut_short_is_refused(packed: Path) -> None:
    whole = packed.read_bytes()
    for part in (0.1, 0.5, 0.9, 0.999):
        cut = packed.with_name("cut.zip")
        cut.write_bytes(whole[: int(len(whole) * part)])
        refusal(cut)


@pytest.mark.parametrize(
    ("name", "data"),
    [
        (layout.JOB, b"[" * 200_000),
        (layout.JOB, b"{}"),
        (layout.JOB, b"\xff\xfe"),
        (layout.HISTORY, b"{}\n"),
        (layout.HISTORY, b"[" * 200_000),
        (layout.MANIFEST, b"[]"),
        (layout.MANIFEST, b'{"format": 1}'),
        (layout.MANIFEST, b"{" * 100_000),
    ],
)
def test_texts_that_are_not_what_they_should_be(packed: Path, name: str, data: bytes) -> None:
    refusal(repacked(packed, put(name, data), sign=name != layout.MANIFEST))


def test_a_record_that_no_job_can_hold_is_named(packed: Path) -> None:
    def spoil(change: Callable[[Any], None]) -> Callable[[dict[str, bytes]], None]:
        def run(files: dict[str, bytes]) -> None:
            content = json.loads(files[layout.JOB])
            change(content)
            files[layout.JOB] = json.dumps(content).encode()

        return run

    cases: list[tuple[Callable[[Any], None], str]] = [
        (lambda c: c["entries"][0].update(state="serviceable"), "number 1 of entries"),
        (lambda c: c["entries"][0].update(kind="nonsense"), "number 1 of entries"),
        (lambda c: c["entries"][0].update(part_id="nobody"), "nobody"),
        (lambda c: c["parts"][0].update(geometry="0" * 64), "0000"),
        (lambda c: c["photos"][0].update(digest="0" * 64), "0000"),
        (lambda c: c["items"].append(c["items"][0]), "same id"),
        (lambda c: c["job"].update(name=""), "the job"),
        (lambda c: c["shop"].update(units="furlong"), "the shop"),
        (lambda c: c.update(entries={"a": 1}), "entries"),
        (lambda c: c.update(people=[1]), "number 1 of people"),
        (lambda c: c["entries"][1].update(outline={"shape": "POLYGON(("}), "number 2 of entries"),
    ]
    for change, told in cases:
        assert told in refusal(repacked(packed, spoil(change), sign=True))


def test_a_history_row_changed_after_it_was_recorded(packed: Path) -> None:
    def change(files: dict[str, bytes]) -> None:
        files[layout.HISTORY] = files[layout.HISTORY].replace(b"measured again", b"measured twice")

    assert "hash" in refusal(repacked(packed, change, sign=True))


def test_a_newer_format_is_refused_in_words(packed: Path) -> None:
    def change(files: dict[str, bytes]) -> None:
        manifest = json.loads(files[layout.MANIFEST]) | {"number": 2}
        files[layout.MANIFEST] = json.dumps(manifest).encode()

    assert "newer program" in refusal(repacked(packed, change, sign=False))


def test_a_photo_that_is_no_picture_is_not_taken_in(packed: Path, other: Store) -> None:
    fake = b"no picture at all"

    def change(files: dict[str, bytes]) -> None:
        (name,) = (n for n in files if n.startswith("photos/"))
        del files[name]
        files[f"photos/{digest(fake)}.jpg"] = fake
        content = json.loads(files[layout.JOB])
        content["photos"][0]["digest"] = digest(fake)
        files[layout.JOB] = json.dumps(content).encode()

    with open_box(repacked(packed, change, sign=True)) as box, pytest.raises(PhotoRefused):
        take_in(other, box, OTHER)
    assert other.jobs() == ()


def test_a_photo_of_another_size_than_told_is_not_taken_in(packed: Path, other: Store) -> None:
    def change(files: dict[str, bytes]) -> None:
        content = json.loads(files[layout.JOB])
        content["photos"][0]["width"] = 9
        files[layout.JOB] = json.dumps(content).encode()

    with (
        open_box(repacked(packed, change, sign=True)) as box,
        pytest.raises(ArchiveRefused, match="its record tells"),
    ):
        take_in(other, box, OTHER)
