"""What somebody at the wing gets wrong, and what the answer says: words that help."""

from __future__ import annotations

import os
from pathlib import Path
from unittest import mock

import pytest
from PIL import Image

from tests.cli.typed import fine, refused, typed

SPOT = "add entry finding RW-01 --disc 800 30 20 --side upper"


def picture(folder: Path, name: str, red: int) -> Path:
    Image.new("RGB", (40, 30), (red, 90, 60)).save(folder / name)
    return folder / name


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("when", ["9999-01-01 10:00", "2150-05-31 14:20"])
def test_nothing_is_recorded_before_it_happens(shop: Path, when: str) -> None:
    told = refused(f"{SPOT} --when '{when}'")
    assert when in told and "has happened" in told and "--state deferred" in told
    assert fine("list entries --csv").count("\n") <= 1


def test_a_refused_photo_is_named(shop: Path, tmp_path: Path) -> None:
    good = picture(tmp_path, "good.png", 200)
    (tmp_path / "words.jpg").write_text("no picture")
    told = refused(f"{SPOT} --photo {good} --photo {tmp_path / 'words.jpg'}")
    assert f"{tmp_path / 'words.jpg'} was refused" in told and "JPEG, PNG and WebP" in told


def test_missing_photos_are_named_in_lists_checks_and_backups(shop: Path, tmp_path: Path) -> None:
    for name, red in (("one.png", 10), ("two.png", 200)):
        fine(f"{SPOT} --photo {picture(tmp_path, name, red)} --caption {name[:3]}")
    assert typed(f"backup {tmp_path / 'whole'}").code == 0
    assert "missing: " not in fine("list photos --csv")
    (path, _) = sorted(p for p in (shop / "photos").glob("??/*") if p.is_file())
    path.unlink()
    lines = [line for line in fine("list photos --csv").splitlines() if "missing: " in line]
    assert len(lines) == 1 and path.name in lines[0]
    done = typed(f"backup {tmp_path / 'short'}")
    assert done.code == 1 and f"Not in it: photo {path.name} is missing" in done.out
    assert (tmp_path / "short" / "manifest.json").is_file()
    checked = typed("verify")
    caption = "one" if "one" in lines[0] else "two"
    assert checked.code == 1
    assert f"({path.name[:8]}) belongs to the finding" in flat(checked.out)
    assert f"({caption})" in checked.out


def test_a_shop_that_may_not_be_written_is_said_to_be_read_only(shop: Path) -> None:
    # As on a read-only disk: SQLite cannot make its log beside the database.
    (shop / "shop.sqlite-wal").mkdir()
    with mock.patch.object(os, "access", lambda path, mode: not mode & os.W_OK):
        told = refused("list entries")
    assert f"The shop in {shop} is read-only" in told and "Copy the whole folder" in told


def test_eight_digits_of_a_hash_are_no_alarm(shop: Path) -> None:
    told = refused("verify --head d2fa74d8")
    assert "no hash to compare with" in told and "cut off" not in told
