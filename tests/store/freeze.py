"""Freeze a shop of the schema of today, so that every later program can be held to it.

    python -m tests.store.freeze

writes `frozen/<schema>.sql` (a dump with a row in every table) and `frozen/<schema>.json` (rows of
each table, newest hash, words of each record). Once written they are never changed: a shop like
that may be on somebody's disk.
"""

from __future__ import annotations

import json
import sqlite3
import tempfile
from contextlib import closing
from dataclasses import replace
from datetime import date
from pathlib import Path

from mapper.job.entry import Entry, PhotoUse
from mapper.job.fields import Measured
from mapper.job.kinds import KINDS
from mapper.job.records import FinishSystem, Lot
from mapper.store.archive.told import rows_of, to_lines
from mapper.store.shop import Store
from mapper.store.tables import SCHEMA
from tests.store.makers import ANN, BEN, JOB, drawn, entry, new_shop, picture, shape

FROZEN = Path(__file__).parent / "frozen"


def fill(store: Store) -> None:
    """At least one row in every table, and one entry of every kind; changes, an undo and a redo."""
    with store.act(ANN, "shape", "shape") as action:
        digest = action.add_geometry(shape())
        action.add(
            Lot("lot-1", "Stripper", "L7", received=date(2024, 1, 9), quantity=5.0, unit="L")
        )
        coats = ({"kind": "enamel", "colour": "white", "thickness": Measured(55.0, 5.0)},)
        action.add(FinishSystem("finish-1", JOB, "White", coats=coats))
    with store.act(ANN, "written up", "written-up") as action:
        photo = action.add_photo(JOB, picture(size=(8, 8)), photo_id="photo-1")
        action.add(replace(drawn("drawn", digest, 12), photos=(PhotoUse(photo.id, "edge", 0.2),)))
        for number, kind in enumerate(KINDS):
            values = {"lot": "lot-1"} if kind == "application" else {}
            action.add(entry(f"kind-{number}", kind=kind, note="Größe ½″ 🛠", values=values))
    with store.act(ANN, "brought along", "brought-along") as action:
        action.bring_history(JOB, to_lines(rows_of(store, JOB, store.head())))
    with store.act(BEN, "measured", "measured", clock_offset_ms=-7_200_000) as action:
        action.change(replace(store.get(Entry, "drawn"), note="measured again"))
    with store.act(BEN, "wrong", "wrong") as action:
        action.remove(store.get(Entry, "kind-0"))
    store.undo(BEN, action_id="undo")
    store.redo(BEN, action_id="redo")


def dump(database: Path) -> str:
    """The database as SQL, marks included."""
    with closing(sqlite3.connect(database)) as source:
        (mark,) = source.execute("PRAGMA application_id").fetchone()
        return "\n".join((f"PRAGMA application_id={mark};", *source.iterdump(), ""))


def counts(database: Path) -> dict[str, int]:
    """Rows of every table."""
    with closing(sqlite3.connect(database)) as source:
        names = source.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()
        return {n: source.execute(f'SELECT count(*) FROM "{n}"').fetchone()[0] for (n,) in names}


def main() -> None:
    """Write both files for the schema of today; refuse where they are there."""
    target = FROZEN / f"{SCHEMA}.sql"
    if target.exists():
        raise SystemExit(f"{target} is frozen already; a new schema gets a new number.")
    with tempfile.TemporaryDirectory() as folder, new_shop(Path(folder) / "shop") as store:
        fill(store)
        told = {
            "head": store.head(),
            "rows": counts(store.folder / "shop.sqlite"),
            "notes": {e.id: e.note for e in store.book(JOB).entries},
        }
        target.write_text(dump(store.folder / "shop.sqlite"), "utf-8")
    text = json.dumps(told, ensure_ascii=False, indent=1, sort_keys=True)
    target.with_suffix(".json").write_text(text + "\n", "utf-8")


if __name__ == "__main__":
    main()
