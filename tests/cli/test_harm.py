"""What a hostile user does to the command line: full disks, poor terminals, odd files, slips."""

from __future__ import annotations

import csv
import errno
import io
import os
import sqlite3
import sys
from contextlib import closing
from pathlib import Path
from unittest import mock

import pandas as pd
import pytest

from mapper.cli import main
from mapper.cli.desk import Desk
from mapper.job.csvtext import to_csv
from mapper.store.photos import rules_of
from mapper.store.shop import open_shop
from tests.cli.typed import fine, refused, typed

ENTRY = "add entry finding RW-01 --stations 200 400 --chord 10 20 --side upper"


class Full(io.StringIO):
    """A device without room."""

    hole = -1

    def write(self, text: str) -> int:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    def fileno(self) -> int:
        return self.hole


def entries(shop: Path) -> int:
    with open_shop(shop) as store:
        return len(store.book(store.jobs()[0].id).entries)


def test_what_was_recorded_is_said_to_be_where_it_cannot_be_printed(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    full = Full()
    full.hole = os.open(os.devnull, os.O_WRONLY)
    with (
        mock.patch.object(sys, "argv", ["mapper", *ENTRY.split()]),
        mock.patch.object(sys, "stdout", full),
        pytest.raises(SystemExit) as stop,
    ):
        main.run()
    os.close(full.hole)
    assert stop.value.code == 2
    told = capsys.readouterr().err
    assert "stays recorded" in told
    assert "No space left" in told
    assert entries(shop) == 1


def test_a_terminal_without_a_letter_shows_its_number(shop: Path) -> None:
    poor = io.TextIOWrapper(io.BytesIO(), encoding="ascii", write_through=True)
    with (
        mock.patch.object(sys, "argv", ["mapper", *ENTRY.split()]),
        mock.patch.object(sys, "stdout", poor),
        pytest.raises(SystemExit) as stop,
    ):
        main.run()
    assert stop.value.code == 0
    assert rb" m\xb2 on 1 sheet" in poor.buffer.getvalue()
    assert entries(shop) == 1


def test_a_photo_is_a_file_within_the_limit(shop: Path, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.jpg")
    assert "is no file" in refused(f"{ENTRY} --photo {tmp_path / 'pipe.jpg'}")
    assert "is no file" in refused(f"{ENTRY} --photo /dev/zero")
    with (tmp_path / "film.jpg").open("wb") as film:
        film.truncate(200_000_000_000)  # a hole: it takes no room, and no memory would hold it
    assert "photo_byte_limit" in refused(f"{ENTRY} --photo {tmp_path / 'film.jpg'}")
    assert entries(shop) == 0


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("setting photo_pixel_limits 5", "Did you mean 'photo_pixel_limit'"),
        ("setting '' 5", "no setting ''"),
        ("setting photo_pixel_limit true", "whole number"),
        ("setting photo_byte_limit -- -5", "whole number"),
        ("setting photo_keep_location perhaps", "yes or no"),
        ("history --limit 99999999999999999999", "--limit"),
    ],
)
def test_slips_are_told_of(shop: Path, line: str, told: str) -> None:
    assert told in refused(line)


def test_no_means_no(shop: Path) -> None:
    fine("setting photo_keep_location no")
    with Desk(shop) as desk:
        assert not rules_of(desk.shop.settings).keep_location


def test_a_harmed_shop_is_checked_all_the_same(shop: Path) -> None:
    with closing(sqlite3.connect(shop / "shop.sqlite")) as database:
        database.execute("UPDATE shop SET body='no json'")
        database.commit()
    done = typed("verify")
    assert (done.code, done.err) == (1, "")
    assert "cannot be read" in done.out
    assert "cannot be read" in refused("list entries")


def test_names_are_read_once(shop: Path) -> None:
    with Desk(shop) as desk:
        desk.names()
        with mock.patch.object(type(desk.store), "people", side_effect=AssertionError):
            assert "Mira" in desk.names().values()


@pytest.mark.parametrize("text", ["=1+1", "  =1+1", "+1", "-1+2", "@A1", "\t=1", " \r=1", "\r1"])
def test_no_text_in_a_csv_is_a_formula(text: str) -> None:
    made = to_csv(pd.DataFrame({text: [text]}))
    safe = "'" + text.replace("\r", "\n")
    assert [row[0] for row in csv.reader(io.StringIO(made, newline=""))] == [safe] * 2


def test_a_carriage_return_in_a_csv_begins_no_row() -> None:
    made = to_csv(pd.DataFrame({"note": ["one\r=1+1", "one\r\ntwo"]}))
    assert list(csv.reader(io.StringIO(made, newline=""))) == [
        ["note"], ["one\n=1+1"], ["one\ntwo"]
    ]  # fmt: skip
