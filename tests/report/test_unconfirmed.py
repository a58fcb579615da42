"""An entry that a corrected shape has moved is told as unconfirmed wherever it is shown."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from mapper.report.build import report
from tests.report.books import WHEN, shaped
from tests.report.test_build import words


def test_map_tables_full_list_and_what_is_not_known_say_so(tmp_path: Path) -> None:
    there = shaped()
    moved = next(e for e in there.entries if e.kind == "finding" and e.outline is not None)
    doubt = replace(moved, unconfirmed="moved 3.1 mm when the shape was corrected")
    entries = tuple(doubt if e.id == moved.id else e for e in there.entries)
    files = report(replace(there, entries=entries), tmp_path, now=WHEN, pictures=False)
    text = " ".join(words(files.html).split())
    assert "place not confirmed: moved 3.1 mm" in text  # the tables of the part
    assert "Its place is not confirmed: moved 3.1 mm" in text  # the entry in full
    assert "Carried over to a corrected shape of" in text  # what is not known
    page = files.html.read_text("utf-8")
    assert "place not confirmed, 1" in text or ">place not confirmed" in page  # the map's legend
    plain = report(there, tmp_path / "plain", now=WHEN, pictures=False)
    assert "not confirmed" not in words(plain.html)
