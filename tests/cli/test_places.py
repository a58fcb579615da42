"""Places as typed: lines along % chord and along named lines; what the reply says of them."""

from __future__ import annotations

from pathlib import Path

import pytest

from mapper.job.entry import Entry
from mapper.store.shop import open_shop
from tests.cli.test_record import id_in
from tests.cli.typed import PART, fine, refused


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


def told(line: str) -> str:
    return " ".join(fine(line).split())


def test_the_reply_says_where_it_is(shop: Path) -> None:
    spot = told("add entry finding RW-01 --point '1100 20' --side lower --face inner")
    assert "1 point on 1 sheet" in spot
    assert "Where: lower, inner, station 1100 mm, 20 %; panel" in spot
    assert "Near: on front spar; 100 mm from rib 4; 400 mm from mid seam." in spot
    area = told("add entry finding RW-01 --stations 900 1600 --chord 30 60 --side upper")
    assert "Where: upper, station 900-1600 mm, 30-60 %, outer face; panels" in area
    assert "Near: on rib 4; on mid seam;" in area
    fine("change shop --set units=inch")
    line = told("add entry finding RW-01 --line '1 ft 8 30, 3 ft 4 30' --side upper")
    # 20 in along the span of a wing 1500 mm to 1000 mm over 3 m: the 30 % line leans by
    # (.3 - .25) x 500 / 3000, which adds less than a thousandth.
    assert "a line of 20.0 in on 1 sheet" in line and "station 20-40 in, 30 %" in line
    words = told("add entry finding RW-01 --place 'by the step'")
    assert "Where:" not in words and "To complete:" in words


def test_a_redrawn_entry_says_where_it_is_now(shop: Path) -> None:
    which = id_in(fine("add entry finding RW-01 --place here"))[:8]
    assert "Where: upper, station 100-200 mm" in told(
        f"redraw {which} --stations 100 200 --side upper"
    )


def test_media_that_the_sheet_is_out_for_is_kept_with_its_caution(
    shop: Path, tmp_path: Path
) -> None:
    sheet = '\n[sheet]\nalloy = "2024-T3"\ngauge = 0.6\n'
    (tmp_path / "thin.toml").write_text(PART + sheet)
    fine(f"add part {tmp_path}/thin.toml --code LW-01 --name 'other wing'")
    sand = told("add entry 'blasting round' LW-01 --stations 100 200 --side upper --set media=sand")
    assert "CAUTION, sand on" in sand and "(2024-T3, 0.6 mm)" in sand
    assert "Sand is for steel only. (common practice, no source)" in sand
    assert "(FAA AC 43.13-1B ch. 6)" in sand
    assert "ask the inspector to look at the sheet" in sand
    assert len(fine("list entries --csv").splitlines()) == 2  # the record is kept
    which = sand.split()[sand.split().index("sheet:") + 1][:8]
    plastic = told(f"change {which} --set 'media=plastic media'")
    assert "The gauge is under .81 mm (.032 in)" in plastic and "TM 1-1500-344-23-2" in plastic
    patch = "add entry 'trial patch' LW-01 --stations 100 200 --side upper --set method="
    assert "Glass bead on aluminium only where directed" in told(f"{patch}'glass bead'")
    assert "CAUTION" not in told(f"{patch}chemical")
    assert "CAUTION" not in told("add entry masking LW-01 --stations 100 200")
