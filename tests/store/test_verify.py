"""Whatever is changed behind the program's back, `verify` names it."""

from __future__ import annotations

import hashlib
import json
import re
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from mapper.job.entry import Entry, PhotoUse
from mapper.store.errors import StoreError
from mapper.store.history import row_hash
from mapper.store.shop import Store, open_shop
from tests.store.makers import ANN, drawn, entry, new_shop, picture, shape


@pytest.fixture
def full(tmp_path: Path) -> Store:
    """A shop with a shape, a photo and two entries, closed so that files can be meddled with."""
    with new_shop(tmp_path / "shop") as store:
        with store.act(ANN, "shape") as action:
            digest = action.add_geometry(shape())
        with store.act(ANN, "drawn") as action:
            photo = action.add_photo("job-1", picture())
            action.add(replace(drawn("e", digest), photos=(PhotoUse(photo.id, "edge"),)))
        for text in ("one", "two"):
            with store.act(ANN, text) as action:
                action.change(replace(store.get(Entry, "e"), note=text))
        with store.act(ANN, "another") as action:
            action.add(entry("f"))
    return store


def meddle(store: Store, *statements: str) -> None:
    with closing(sqlite3.connect(store.folder / "shop.sqlite")) as database:
        for statement in statements:
            database.execute(statement)
        database.commit()


def verdict(store: Store, head: str | None = None):  # type: ignore[no-untyped-def]
    with open_shop(store.folder) as opened:
        return opened.verify(head)


def test_an_untouched_shop_is_sound(full: Store) -> None:
    found = verdict(full)
    assert (found.sound, found.first_broken, found.problems) == (True, None, ())
    assert (found.rows, found.records, found.geometries, found.photos) == (14, 11, 1, 1)
    assert found.lines()[-2:] == (
        "Everything is as it was recorded.",
        f"Newest hash: {found.head}",
    )


def test_the_chain_can_be_recomputed_by_anybody(full: Store) -> None:
    # Written from the definition in the documentation, with nothing of the program's own.
    with closing(sqlite3.connect(full.folder / "shop.sqlite")) as database:
        database.row_factory = sqlite3.Row
        rows = [dict(row) for row in database.execute("SELECT * FROM history ORDER BY seq")]
    previous = "0" * 64
    for row in rows:
        told = row.pop("hash")
        before, after = row.pop("before"), row.pop("after")
        if row["clock_offset_ms"] is None:  # came later, and earlier rows keep their hash
            del row["clock_offset_ms"]
        assert row["previous"] == previous
        content = {
            "row": row,
            "before": None if before is None else json.loads(before),
            "after": None if after is None else json.loads(after),
        }
        text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        previous = hashlib.sha256(text.encode()).hexdigest()
        assert previous == told
    assert previous == verdict(full).head


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("words", "'other'"),
        ("server_time", "'2024-03-01T09:00:01.000000+00:00'"),
        ("device_time", "replace(device_time, '+00:00', 'Z')"),
        ("by_person", "'person-ben'"),
        ("job_id", "null"),
        ("after", "replace(after, 'pitting', 'nothing')"),
        ("content", "upper(content)"),
        ("hash", "upper(hash)"),
        ("previous", "hash"),
        ("record_id", "'f'"),
    ],
)
def test_a_changed_row_of_the_history_is_named(full: Store, column: str, value: str) -> None:
    meddle(full, f'UPDATE history SET "{column}" = {value} WHERE seq = 11')
    found = verdict(full)
    assert found.first_broken == 11
    assert found.problems[0].startswith("The history breaks at change 11")


def test_a_row_taken_out_of_the_middle_is_named(full: Store) -> None:
    meddle(full, "DELETE FROM history WHERE seq = 12")
    assert verdict(full).first_broken == 12


def test_a_cut_tail_shows_against_a_hash_that_was_printed(full: Store) -> None:
    printed = verdict(full).head
    assert verdict(full, printed).sound
    assert verdict(full, printed[:16].upper()).sound
    earlier = full.folder / "shop.sqlite"
    meddle(full, "DELETE FROM history WHERE seq = 14", "DELETE FROM entry WHERE id = 'f'")
    assert earlier.exists()
    assert verdict(full).sound  # nothing in the shop itself tells
    found = verdict(full, printed)
    assert not found.sound
    assert "cut off" in found.problems[0]


def test_an_older_hash_is_found_with_what_came_since(full: Store) -> None:
    with open_shop(full.folder) as store:
        old = store.history()[3].hash
    found = verdict(full, old)
    assert found.sound
    assert found.notes == (
        "The hash given is that of change 11 of 14: nothing up to there was cut off.",
    )


def test_a_hash_that_this_history_does_not_hold_is_no_assurance(full: Store) -> None:
    assert not verdict(full, "0" * 64).sound


@pytest.mark.parametrize("head", ["", "abc", "z" * 64, "d2fa74d8"])
def test_what_is_no_hash_is_refused_and_no_forgery_is_told_of(full: Store, head: str) -> None:
    with pytest.raises(StoreError, match=r"no hash to compare with.*history --csv"):
        verdict(full, head)


@pytest.mark.parametrize(
    ("statement", "told"),
    [
        (
            "UPDATE entry SET body = replace(body, 'two', 'six') WHERE id = 'e'",
            "not as the history",
        ),
        ("UPDATE entry SET body = '{}' WHERE id = 'f'", "cannot be read"),
        ("UPDATE entry SET body = 'no' WHERE id = 'f'", "cannot be read"),
        ("UPDATE entry SET version = 7 WHERE id = 'f'", "filed wrongly: version"),
        ("UPDATE entry SET kind = 'marking' WHERE id = 'f'", "filed wrongly: kind"),
        ("UPDATE part SET code = 'RW-01'", "filed wrongly: code"),
        ("DELETE FROM entry WHERE id = 'f'", "not in the shop"),
        ("DELETE FROM entry_piece WHERE number = 1", "rows of entry piece"),
        ("UPDATE entry_piece SET face = 'inner'", "rows of entry piece"),
        ("DELETE FROM entry_photo", "rows of entry photo"),
        (
            "INSERT INTO lot SELECT 'l', 1, '7', '{}'",
            "lot l is in the shop, but not in the history",
        ),
        ("UPDATE geometry SET data = zeroblob(size)", "shape [0-9a-f]+ is damaged"),
        ("DELETE FROM geometry", "shape [0-9a-f]+ is in the history, but not in the shop"),
        ("UPDATE geometry SET part = 'Rib'", "shape [0-9a-f]+ is not as the history"),
        ("DELETE FROM assembly", "refers to a assembly that is not there"),
    ],
)
def test_a_changed_record_is_named(full: Store, statement: str, told: str) -> None:
    meddle(full, statement)
    found = verdict(full)
    assert not found.sound
    assert any(re.search(told, problem) for problem in found.problems), found.problems
    assert found.first_broken is None


@pytest.mark.parametrize(("data", "told"), [(b"other", "is damaged"), (None, "is missing")])
def test_a_changed_photo_is_named(full: Store, data: bytes | None, told: str) -> None:
    (path,) = (p for p in (full.folder / "photos").glob("??/*") if p.is_file())
    path.unlink()
    if data is not None:
        path.write_bytes(data)
    found = verdict(full)
    assert any(told in problem and path.name in problem for problem in found.problems)
    assert any(f"({path.name[:8]}) belongs to the " in note for note in found.notes), found.notes


def test_a_file_that_no_record_names_is_only_noted(full: Store) -> None:
    extra = full.folder / "photos" / "ab" / ("ab" + "0" * 62)
    extra.parent.mkdir()
    extra.write_bytes(b"left over")
    found = verdict(full)
    assert found.sound
    assert "1 photo files belong to no record" in found.notes[0]


def test_progress_is_told_and_the_check_can_be_stopped(full: Store) -> None:
    told = []
    with open_shop(full.folder) as store:
        store.verify(progress=lambda what, done, of: told.append(what))
        assert {"database", "history", "entry", "shapes", "photos"} <= set(told)

        def stop(what: str, done: int, of: int) -> None:
            raise KeyboardInterrupt

        with pytest.raises(KeyboardInterrupt):
            store.verify(progress=stop)
        assert store.verify().sound


def test_a_rewritten_row_with_a_right_hash_of_its_own_breaks_the_next(full: Store) -> None:
    with closing(sqlite3.connect(full.folder / "shop.sqlite")) as database:
        database.row_factory = sqlite3.Row
        row = dict(database.execute("SELECT * FROM history WHERE seq = 11").fetchone())
        row["words"] = "something else"
        database.execute(
            "UPDATE history SET words = ?, hash = ? WHERE seq = 11", (row["words"], row_hash(row))
        )
        database.commit()
    assert verdict(full).first_broken == 12
