"""Faults that a hostile user found: damaged rows and photos, wrong settings, odd files."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from mapper.job.entry import PhotoUse
from mapper.job.records import Job
from mapper.store import photos
from mapper.store.backup import MANIFEST, backup, restore
from mapper.store.errors import BackupRefused, DiskRefused, PhotoRefused, ShopDamaged, StoreError
from mapper.store.shop import Store, open_shop
from tests.store.makers import ANN, JOB, drawn, picture, shape


@pytest.fixture
def full(store: Store) -> Store:
    with store.act(ANN, "drawn") as action:
        digest = action.add_geometry(shape())
        photo = action.add_photo(JOB, picture())
        action.add(replace(drawn("e", digest), photos=(PhotoUse(photo.id),)))
    return store


def harm(folder: Path, statement: str) -> None:
    with closing(sqlite3.connect(folder / "shop.sqlite")) as database:
        database.execute("PRAGMA foreign_keys=OFF")
        database.execute(statement)
        database.commit()


def photo_file(store: Store) -> Path:
    return photos.path_of(store.folder, store.book(JOB).photos[0].digest)


def hurt(path: Path) -> None:
    path.write_bytes(b"another picture")


def pipe(path: Path) -> None:
    path.unlink()
    os.mkfifo(path)


@pytest.mark.parametrize("harmed", [hurt, pipe, Path.unlink])
def test_a_backup_without_a_harmed_photo_can_be_restored(
    full: Store, tmp_path: Path, harmed: Callable[[Path], None]
) -> None:
    harmed(photo_file(full))
    made = backup(full.folder, tmp_path / "b")
    assert len(made.missing) == 1
    back = restore(tmp_path / "b", tmp_path / "again")
    assert (back.head, back.missing) == (full.head(), made.missing)
    with open_shop(tmp_path / "again") as again:
        assert "is missing" in "".join(again.verify().problems)


def test_a_pipe_in_the_place_of_a_photo_does_not_stop_a_check(full: Store) -> None:
    pipe(photo_file(full))
    assert "no file" in "".join(full.verify().problems)


def test_a_file_missing_from_a_backup_is_called_so(full: Store, tmp_path: Path) -> None:
    backup(full.folder, tmp_path / "b")
    next((tmp_path / "b" / "photos").glob("*/*")).unlink()
    with pytest.raises(BackupRefused, match=r"not whole: photos/.* is missing"):
        restore(tmp_path / "b", tmp_path / "again")


def test_a_manifest_without_an_end_of_brackets_is_refused(full: Store, tmp_path: Path) -> None:
    backup(full.folder, tmp_path / "b")
    (tmp_path / "b" / MANIFEST).write_text("[" * 200_000)
    with pytest.raises(BackupRefused, match="cannot be read"):
        restore(tmp_path / "b", tmp_path / "again")


def test_a_backup_by_another_way_into_the_shops_folder_is_refused(
    full: Store, tmp_path: Path
) -> None:
    (tmp_path / "way").symlink_to(full.folder)
    with pytest.raises(BackupRefused, match="inside the shop's own folder"):
        backup(full.folder, tmp_path / "way" / "b")


def test_a_backup_of_a_damaged_shop_names_the_shop(full: Store, tmp_path: Path) -> None:
    full.close()
    database = full.folder / "shop.sqlite"
    database.write_bytes(database.read_bytes()[:40_960])
    with pytest.raises(ShopDamaged, match=r"shop\.sqlite is cut short"):
        backup(full.folder, tmp_path / "b")
    assert not (tmp_path / "b").exists()


@pytest.mark.parametrize("body", ["'not json'", "'[]'", "'{}'", "replace(body,'metric','ells')"])
def test_a_shop_whose_own_record_is_damaged_can_be_checked(full: Store, body: str) -> None:
    harm(full.folder, f"UPDATE shop SET body={body}")
    full.close()
    with pytest.raises(StoreError):
        open_shop(full.folder)
    with open_shop(full.folder, damaged=True) as opened:
        assert any("The shop shop-1" in line for line in opened.verify().problems)


@pytest.mark.parametrize("body", ["'not json'", "'[]'", "'{}'"])
def test_a_damaged_record_is_told_of_in_words(full: Store, body: str) -> None:
    harm(full.folder, f"UPDATE entry SET body={body}")
    with pytest.raises(ShopDamaged, match=r"entry .* cannot be read"):
        full.book(JOB)
    harm(full.folder, f"UPDATE job SET body={body}")
    with pytest.raises(ShopDamaged, match=r"job .* cannot be read"):
        full.jobs()
    with pytest.raises(ShopDamaged, match=r"job .* cannot be read"):
        full.find(Job, JOB)


def test_undo_of_a_damaged_row_of_the_history_is_refused_in_words(full: Store) -> None:
    harm(full.folder, "UPDATE history SET after='x' WHERE kind='entry'")
    with pytest.raises(ShopDamaged, match="history"):
        full.undo(ANN)


def test_a_shop_without_one_of_its_tables_is_not_called_safe(full: Store) -> None:
    harm(full.folder, "DROP TABLE entry_piece")
    with pytest.raises(ShopDamaged, match="no such table") as told:
        full.verify()
    assert "safe" not in str(told.value)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("photo_pixel_limit", True),
        ("photo_pixel_limit", -5),
        ("photo_pixel_limit", 0),
        ("photo_byte_limit", 1.5),
        ("photo_byte_limit", "much"),
        ("photo_keep_location", 2),
        ("photo_keep_location", "perhaps"),
    ],
)
def test_a_setting_for_photos_that_says_nothing_is_refused(name: str, value: object) -> None:
    with pytest.raises(PhotoRefused, match=name):
        photos.rules_of({name: value})


@pytest.mark.parametrize(
    ("value", "kept"),
    [(True, True), ("yes", True), ("True", True), (False, False), ("no", False), ("off", False)],
)
def test_no_means_no(value: object, kept: bool) -> None:
    assert photos.rules_of({"photo_keep_location": value}).keep_location is kept


def test_what_is_no_picture_is_refused_without_inner_words() -> None:
    for data in (b"", b"hello"):
        with pytest.raises(PhotoRefused) as told:
            photos.take_in(data)
        assert "BytesIO" not in str(told.value)


def test_a_trigger_of_another_program_is_told_of(full: Store) -> None:
    harm(full.folder, "CREATE TRIGGER t AFTER INSERT ON history BEGIN DELETE FROM entry; END")
    assert "trigger 't'" in "".join(full.verify().problems)


def test_every_file_of_a_backup_is_on_the_disk_before_it_has_its_name(
    full: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: set[str] = set()
    fsync, rename = os.fsync, Path.rename

    def syncing(handle: int) -> None:
        synced.add(str(Path(f"/proc/self/fd/{handle}").readlink()))
        fsync(handle)

    def naming(part: Path, target: Path) -> Path:
        waiting = {str(p) for p in [part, *part.rglob("*")]}
        assert len(waiting) > 4
        assert waiting <= synced
        return rename(part, target)

    monkeypatch.setattr(os, "fsync", syncing)
    monkeypatch.setattr(Path, "rename", naming)
    backup(full.folder, tmp_path / "b")
    restore(tmp_path / "b", tmp_path / "again")
    assert str(tmp_path) in synced


def test_a_damaged_shape_is_never_measured(full: Store) -> None:
    (digest,) = {entry.geometry for entry in full.book(JOB).entries}
    # One bit of one number: the file still reads, the areas would be others.
    harm(
        full.folder,
        "UPDATE geometry SET data = CAST(substr(data, 1, size - 9) || x'01' ||"
        " substr(data, size - 7) AS BLOB)",
    )
    with open_shop(full.folder) as again:
        with pytest.raises(ShopDamaged, match=r"geometry version .* is damaged"):
            again.geometry(digest)
        with pytest.raises(ShopDamaged, match=r"geometry version .* is damaged"):
            again.book(JOB).geometries[digest]


@pytest.mark.parametrize("another", [False, True])
def test_what_would_go_into_a_file_that_is_not_there_is_not_acknowledged(
    full: Store, tmp_path: Path, another: bool
) -> None:
    there, away = full.folder / "shop.sqlite", tmp_path / "away"
    there.rename(away)
    if another:
        there.write_bytes(away.read_bytes())
    with (
        pytest.raises(DiskRefused, match="moved, removed or replaced"),
        full.act(ANN, "lost") as action,
    ):
        action.add(Job("job-lost", "Lost"))
    away.replace(there)
    with full.act(ANN, "found", "action-found") as action:
        action.add(Job("job-lost", "Lost"))
    assert [row.words for row in full.history(limit=1)] == ["found"] and full.verify().sound
