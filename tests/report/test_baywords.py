"""Bays on the page of a part."""

from __future__ import annotations

from pathlib import Path

import pytest

from mapper.report import baywords
from mapper.report.baywords import bay_facts
from mapper.report.cache import Cache
from mapper.report.lookup import Lookup
from mapper.report.partpage import _facts
from tests.job.test_inner import ATTACHED, MIDDLE, STRUCTURE, WING, book_of, sheet_text


def test_both_ways(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    right = WING.replace("SIDE", "right")
    cleat = sheet_text("cleat", more=ATTACHED)
    loose = sheet_text("loose", more=ATTACHED.replace("600, 15", "600, 900"))
    book = book_of(("wing", right + STRUCTURE), ("cleat", cleat), ("loose", loose))
    wing, piece, off = (p.id for p in book.parts)
    bay = f"rib 1 to rib 2, {MIDDLE}"
    told = bay_facts(book, Cache(tmp_path))
    assert told[wing] == ((f"In {bay}", "cleat"),)
    assert told[piece] == (("By geometry", f"Lies in bay {bay} of right wing"),)
    assert told[off] == (("By geometry", "Lies outside right wing"),)
    facts = _facts(book.part(piece), book.geometry_of(piece), Lookup(book), told[piece])
    assert facts[facts.index(("Attached to", "right wing")) + 1] == told[piece][0]
    # Without ribs and spars the wing is one bay.
    bare = book_of(("wing", right), ("cleat", cleat))
    assert bay_facts(bare, Cache(tmp_path))[bare.parts[0].id] == (("Inside", "cleat"),)
    # Asked for again, nothing is looked for.
    monkeypatch.setattr(baywords, "bays_of", None)
    assert bay_facts(book, Cache(tmp_path)) == told
