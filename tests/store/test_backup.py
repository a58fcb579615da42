"""A backup is whole or not there, taken while others write, and checked before it is used."""

from __future__ import annotations

import json
import resource
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from mapper.job.entry import Entry, PhotoUse
from mapper.store.backup import MANIFEST, backup, restore
from mapper.store.errors import BackupRefused, DiskRefused, NoSuchRecord
from mapper.store.shop import Store, open_shop
from tests.store.makers import ANN, JOB, drawn, entry, picture, shape

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def full(store: Store) -> Store:
    with store.act(ANN, "drawn") as action:
        digest = action.add_geometry(shape())
        photo = action.add_photo(JOB, picture())
        action.add(replace(drawn("e", digest), photos=(PhotoUse(photo.id),)))
    with store.act(ANN, "photo taken back") as action:
        photo = action.add_photo(JOB, picture("PNG"))
        action.add(replace(drawn("f", digest), photos=(PhotoUse(photo.id),)))
    store.undo(ANN)
    return store


def files(folder: Path) -> set[str]:
    return {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}


def test_a_backup_holds_everything_and_comes_back(full: Store, tmp_path: Path) -> None:
    made = backup(full.folder, tmp_path / "backups" / "monday")
    assert (made.head, made.photos, made.missing) == (full.head(), 2, ())
    assert f"Newest hash: {full.head()}" in made.lines()
    back = restore(tmp_path / "backups" / "monday", tmp_path / "again")
    assert (back.head, back.changes) == (full.head(), len(full.history()))
    with open_shop(tmp_path / "again") as store:
        assert store.verify(full.head()).sound
        assert store.history() == full.history()
        assert store.redo(ANN).rows[0].words == "redo: photo taken back"
        assert len(store.book(JOB).photos) == 2
    assert [p.name for p in (tmp_path / "backups").iterdir()] == ["monday"]


def test_credentials_and_strangers_are_in_no_backup(full: Store, tmp_path: Path) -> None:
    for name in ("credentials.sqlite", "photos/notes.txt", "report.pdf"):
        (full.folder / name).write_text("secret")
    backup(full.folder, tmp_path / "b")
    told = files(tmp_path / "b")
    assert {n for n in told if not n.startswith("photos/")} == {"shop.sqlite", MANIFEST}
    assert len(told) == 4
    restore(tmp_path / "b", tmp_path / "again")
    assert "credentials.sqlite" not in files(tmp_path / "again")


def test_a_backup_while_others_write_is_one_moment(full: Store, tmp_path: Path) -> None:
    writer = subprocess.Popen(
        (sys.executable, "-m", "tests.store.worker", str(full.folder), "w", "100000"),
        cwd=ROOT,
        stdout=subprocess.PIPE,
    )
    assert writer.stdout is not None
    try:
        assert writer.stdout.readline() == b"ready\n"
        heads = []
        for number in range(3):
            for _ in range(5):
                writer.stdout.readline()
            heads.append(backup(full.folder, tmp_path / f"b{number}").head)
    finally:
        writer.kill()
        writer.communicate()
    assert len(set(heads)) == 3
    for number, head in enumerate(heads):
        assert restore(tmp_path / f"b{number}", tmp_path / f"again{number}").head == head
        assert full.verify(head).sound


def test_nothing_is_ever_written_over(full: Store, tmp_path: Path) -> None:
    backup(full.folder, tmp_path / "b")
    before = files(full.folder)
    with pytest.raises(BackupRefused, match="there already"):
        backup(full.folder, tmp_path / "b")
    with pytest.raises(BackupRefused, match="inside the shop"):
        backup(full.folder, full.folder / "photos" / "b")
    with pytest.raises(BackupRefused, match="holds a shop"):
        restore(tmp_path / "b", full.folder)
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "letter.txt").write_text("mine")
    with pytest.raises(BackupRefused, match="holds something"):
        restore(tmp_path / "b", tmp_path / "other")
    assert (files(full.folder), files(tmp_path / "other")) == (before, {"letter.txt"})
    with pytest.raises(NoSuchRecord, match="no shop"):
        backup(tmp_path / "nowhere", tmp_path / "c")


def cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-1000])


def change(path: Path) -> None:
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)


@pytest.mark.parametrize("harm", [cut, change, Path.unlink])
@pytest.mark.parametrize("which", ["shop.sqlite", "photo"])
def test_a_backup_that_is_not_whole_is_refused_and_leaves_nothing(
    full: Store, tmp_path: Path, which: str, harm: object
) -> None:
    backup(full.folder, tmp_path / "b")
    target = tmp_path / "b" / which
    if which == "photo":
        target = next(p for p in (tmp_path / "b" / "photos").rglob("*") if p.is_file())
    harm(target)  # type: ignore[operator]
    with pytest.raises((BackupRefused, NoSuchRecord)):
        restore(tmp_path / "b", tmp_path / "again")
    assert {p.name for p in tmp_path.iterdir()} == {"b", "shop"}


@pytest.mark.parametrize("text", [None, "", "{", "{}", "[]", '{"format": 3}'])
def test_a_folder_without_a_sound_manifest_is_no_backup(
    full: Store, tmp_path: Path, text: str | None
) -> None:
    backup(full.folder, tmp_path / "b")
    (tmp_path / "b" / MANIFEST).unlink()
    if text is not None:
        (tmp_path / "b" / MANIFEST).write_text(text)
    with pytest.raises(BackupRefused, match="no backup"):
        restore(tmp_path / "b", tmp_path / "again")
    assert not (tmp_path / "again").exists()


def edit(folder: Path, **values: object) -> None:
    told = json.loads((folder / MANIFEST).read_text())
    (folder / MANIFEST).write_text(json.dumps(told | values))


def test_a_manifest_that_says_something_else_is_refused(full: Store, tmp_path: Path) -> None:
    backup(full.folder, tmp_path / "b")
    told = json.loads((tmp_path / "b" / MANIFEST).read_text())
    stray = told["files"] | {"../../stray": {"sha256": "0" * 64, "bytes": 1}}
    for values, why in (
        ({"head": "0" * 64}, "cut off"),
        ({"head": full.history()[2].hash}, "ends elsewhere"),
        ({"number": 2}, "newer program"),
        ({"format": "something"}, "no backup"),
        ({"files": stray}, "no backup"),
        ({"files": {}}, "no backup"),
    ):
        edit(tmp_path / "b", **{**told, **values})
        with pytest.raises(BackupRefused, match=why):
            restore(tmp_path / "b", tmp_path / "again")
        assert not (tmp_path / "again").exists()


def test_a_missing_photo_does_not_stop_a_backup_and_is_named(full: Store, tmp_path: Path) -> None:
    lost = next(p for p in (full.folder / "photos").glob("??/*"))
    lost.unlink()
    made = backup(full.folder, tmp_path / "b")
    assert made.missing == (f"photo {lost.name} is missing",)
    assert restore(tmp_path / "b", tmp_path / "again").missing == made.missing
    with open_shop(tmp_path / "again") as store:
        assert store.verify().problems == (f"The photo {lost.name} is missing.",)


def test_a_full_disk_leaves_no_half_backup(full: Store, tmp_path: Path) -> None:
    usual = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, usual[1]))
    try:
        with pytest.raises(DiskRefused):
            backup(full.folder, tmp_path / "b")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, usual)
    assert {p.name for p in tmp_path.iterdir()} == {"shop"}
    assert full.verify().sound


def test_a_stopped_backup_leaves_nothing(full: Store, tmp_path: Path) -> None:
    def stop(what: str, done: int, of: int) -> None:
        if what == "photos":
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        backup(full.folder, tmp_path / "b", stop)
    assert {p.name for p in tmp_path.iterdir()} == {"shop"}


def test_a_restored_shop_goes_on(full: Store, tmp_path: Path) -> None:
    backup(full.folder, tmp_path / "b")
    shutil.rmtree(full.folder)
    restore(tmp_path / "b", full.folder)
    with open_shop(full.folder) as store:
        with store.act(ANN, "after") as action:
            action.add(entry("after"))
        assert store.get(Entry, "after").version == 1
        assert store.verify().sound
