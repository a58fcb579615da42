"""Places as typed: lines along % chord and along named lines; what the reply says of them."""

from __future__ import annotations

from pathlib import Path

import pytest

from mapper.job.entry import Entry
from mapper.store.shop import open_shop
from tests.cli.test_record import id_in
from tests.cli.typed import fine, refused


def entry_of(shop: Path, out: str) -> Entry:
    with open_shop(shop) as store:
        found = store.get(Entry, id_in(out))
    assert isinstance(found, Entry)
    return found


def test_a_line_follows_its_percent_and_a_named_line(shop: Path) -> None:
    typed = entry_of(shop, fine("add entry masking RW-01 --line '500 20, 2500 20' --side upper"))
    named = entry_of(
        shop,
        fine("add entry masking RW-01 --along 'front spar' --stations 500 2500 --side upper"),
    )
    for entry in (typed, named):
        assert entry.region == "line"
        stations, chords, sides = entry.outline.anchors.T
        assert chords == pytest.approx(20.0, abs=1e-3) and set(sides) == {1.0}
        assert (stations.min(), stations.max()) == (pytest.approx(500), pytest.approx(2500))
    assert typed.outline.shape.length == pytest.approx(named.outline.shape.length, rel=1e-6)
    rib = entry_of(shop, fine("add entry masking RW-01 --along 'Rib 4' --width 40"))
    # A band on both sides of the rib, all round the section: 1333 mm of chord, perimeter
    # 2.03955 of it (0012 closed, by quadrature), less what a band loses at the trailing edge.
    assert rib.outline.drawn_area == pytest.approx(40 * 1333.3 * 2.03955, rel=0.01)


def test_a_name_that_no_line_has(shop: Path) -> None:
    assert "It has mid seam; rib 4; front spar" in refused(
        "add entry masking RW-01 --along 'rib 9'"
    )
    assert "Nothing of the 'skin'" in refused(
        "add entry masking RW-01 --along 'rib 4' --stations 0 100"
    )
    assert "at once" in refused(
        "add entry masking RW-01 --along 'rib 4' --line '1 2, 3 2' --side upper"
    )
