"""One entry with its history on disk, against the same rows written by hand, in the same run."""

from __future__ import annotations

import sqlite3
import statistics
import time
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from tests.store.makers import ANN, drawn, new_shop, shape

pytestmark = pytest.mark.bench
ROUNDS, WARM = 300, 20
GOAL = 3.0
TABLES = ("entry", "entry_piece", "history")


def rows_of(database: Path, key: str) -> list[tuple[str, list[tuple[Any, ...]]]]:
    """Per table, an INSERT for all its columns and the rows that one entry left there."""
    where = {"entry": "id", "entry_piece": "entry_id", "history": "record_id"}
    found = []
    with closing(sqlite3.connect(database)) as source:
        for table in TABLES:
            rows = source.execute(f"SELECT * FROM {table} WHERE {where[table]} = ?", (key,))
            marks = ", ".join("?" * len(rows.description))
            found.append((f"INSERT INTO {table} VALUES ({marks})", rows.fetchall()))
    return found


def by_hand(database: sqlite3.Connection, work: list[tuple[str, list[tuple[Any, ...]]]]) -> None:
    database.execute("BEGIN IMMEDIATE")
    for statement, rows in work:
        database.executemany(statement, rows)
    database.execute("COMMIT")


def test_one_entry_with_history_is_within_three_times_the_same_rows_by_hand(tmp_path: Path) -> None:
    with new_shop(tmp_path / "ours") as store, new_shop(tmp_path / "by hand") as other:
        for each in (store, other):
            with each.act(ANN, "shape") as action:
                digest = action.add_geometry(shape())
        other.close()
        entries = [drawn(f"entry-{n}", digest) for n in range(ROUNDS + WARM)]
        hand = sqlite3.connect(tmp_path / "by hand" / "shop.sqlite", isolation_level=None)
        with closing(hand):
            for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
                hand.execute(f"PRAGMA {pragma}")
            ours, theirs = [], []
            for entry in entries:
                start = time.perf_counter()
                with store.act(ANN, "pitting written up") as action:
                    action.add(entry)
                ours.append(time.perf_counter() - start)
                work = rows_of(tmp_path / "ours" / "shop.sqlite", entry.id)
                assert [len(rows) for _, rows in work] == [1, 2, 1]
                start = time.perf_counter()
                by_hand(hand, work)
                theirs.append(time.perf_counter() - start)
        assert store.verify().sound
    mine, yours = (statistics.median(times[WARM:]) for times in (ours, theirs))
    print(
        f"\none entry: {mine * 1e3:.2f} ms, by hand {yours * 1e3:.2f} ms: {mine / yours:.2f} times"
    )
    assert mine < GOAL * yours
