"""`mapper remap` and `mapper confirm`: shown first, stored on request, taken back in one go."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
import trimesh
from PIL import Image

from mapper.job.partfile.build import build
from mapper.job.partfile.read import read
from mapper.store.shop import open_shop
from tests.cli.typed import PART, fine, refused


@pytest.fixture
def marked(shop: Path) -> Path:
    """Entries on the upper side: a spot on either sheet, one out at the tip, one in words."""
    fine("add entry finding RW-01 --disc 1200 30 60 --side upper --set what=corrosion")
    fine("add entry finding RW-01 --disc 1450 30 20 --side upper --set what=dent")
    fine("add entry finding RW-01 --point '2960 40' --side upper --set what=crack")
    fine("add entry finding RW-01 --place 'inside, at the root' --set what=corrosion")
    return shop


def corrected(folder: Path, *changes: tuple[str, str]) -> Path:
    """The part file with some numbers changed."""
    text = PART
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    out = folder / "corrected.toml"
    out.write_text(text)
    return out


CHORD = ("chord = 1500", "chord = 1520")
SHORTER = ("station = 3000", "station = 2900")
SEAM = ("station = 1500", "station = 1400")


def book(shop: Path) -> object:
    with open_shop(shop) as store:
        return store.book(store.jobs()[0].id)


def listed(text: str) -> dict[str, dict[str, str]]:
    return {row["id"]: row for row in csv.DictReader(io.StringIO(text))}


def test_it_shows_every_entry_and_stores_nothing_until_told(marked: Path, tmp_path: Path) -> None:
    file = corrected(tmp_path, CHORD)
    before = book(marked)
    said = fine(f"remap RW-01 {file} --keep places")
    assert "Nothing is stored yet: add --store." in said
    assert "4 entries" in said and "Look at them on the metal" in said
    after = book(marked)
    assert [(e.id, e.version) for e in before.entries] == [(e.id, e.version) for e in after.entries]
    assert before.parts[0].geometry == after.parts[0].geometry
    assert fine("list unconfirmed").strip() == "No place is in doubt."


def test_stored_it_is_unconfirmed_everywhere_until_somebody_accepts_it(
    marked: Path, tmp_path: Path
) -> None:
    file = corrected(tmp_path, CHORD)
    old = book(marked)
    rows = listed(fine(f"remap RW-01 {file} --keep places --store --csv").split("Shape of")[0])
    assert len(rows) == 4
    new = book(marked)
    doubtful = [e for e in new.entries if e.unconfirmed]
    assert {e.id for e in doubtful} == {
        i for i, r in rows.items() if r["place"].startswith("unconfirmed")
    }
    spot = next(e for e in new.entries if e.values["what"] == "corrosion" and e.outline)
    row = rows[spot.id]
    # By hand: at station 1200 the chord grows from 1300 to 1312 mm about a quarter chord 5 mm
    # farther aft, so its nose comes 2 mm aft. The spot's middle is at 30 %: it moves by
    # 2 + .3 x 12 = 5.6 mm. Lengths across the chord grow by .92 %, but a pit does not. The largest
    # way is a corner's, and the two flat maps lie a tenth of a degree askew: .1 mm on 60.
    assert float(row["shift"]) == pytest.approx(5.6, abs=0.15)
    assert float(row["area"]) == pytest.approx(0.0, abs=0.02)
    assert spot.geometry == new.part(spot.part_id).geometry != old.part(spot.part_id).geometry
    tip = next(e for e in new.entries if e.values["what"] == "crack")
    listing, detail = fine("list entries"), fine(f"show {doubtful[0].id[:8]}")
    assert "unconfirmed" in listing and "unconfirmed: moved" in " ".join(detail.split())
    assert fine("list unconfirmed").count("RW-01") == len(doubtful)
    assert not tip.unconfirmed or float(rows[tip.id]["shift"]) > 2
    words = fine("confirm --part RW-01")
    assert (
        words == f"Place of {len(doubtful)} entr{'y' if len(doubtful) == 1 else 'ies'} confirmed.\n"
    )
    assert fine("list unconfirmed").strip() == "No place is in doubt."
    assert fine("confirm --part RW-01").strip() == "Nothing is unconfirmed there."
    fine("undo")
    assert len([e for e in book(marked).entries if e.unconfirmed]) == len(doubtful)
    fine("undo")
    back = book(marked)
    assert back.parts[0].geometry == old.parts[0].geometry
    assert back.parts[0].part_file == old.parts[0].part_file
    for one, other in zip(old.entries, back.entries, strict=True):
        assert one.geometry == other.geometry and not other.unconfirmed
        if one.outline is not None:
            assert one.outline.shape.equals_exact(other.outline.shape, 0.0)
    with open_shop(marked) as store:
        assert store.verify().sound


def test_keeping_stations_loses_what_is_beyond_the_new_tip(marked: Path, tmp_path: Path) -> None:
    file = corrected(tmp_path, SHORTER)
    shown = " ".join(fine(f"remap RW-01 {file} --keep stations").split())
    assert "1 of them off the sheet" in shown
    shown = " ".join(fine(f"remap RW-01 {file} --keep places").split())
    assert "off the sheet" not in shown
    fine(f"remap RW-01 {file} --keep stations --store")
    left = next(e for e in book(marked).entries if e.values["what"] == "crack")
    assert left.geometry != book(marked).part(left.part_id).geometry
    assert "nothing of it was on the new sheet" in left.unconfirmed
    assert "redraw" in refused(f"confirm {left.id[:8]}")
    fine(f"redraw {left.id[:8]} --point '2890 40' --side upper")
    assert "in doubt" in refused(f"confirm {left.id[:8]}")
    # Corrected back, what had to stay behind is where it was.
    fine("undo")
    assert "has already" in refused(f"remap RW-01 {file} --keep stations")
    back = corrected(tmp_path)
    fine(f"remap RW-01 {back} --keep stations --store")
    again = next(e for e in book(marked).entries if e.values["what"] == "crack")
    assert again.geometry == book(marked).part(again.part_id).geometry


def test_another_panel_is_said_and_the_pieces_are_of_its_sheet(
    marked: Path, tmp_path: Path
) -> None:
    file = corrected(tmp_path, SEAM)
    rows = listed(fine(f"remap RW-01 {file} --keep stations --csv"))
    dent = next(e for e in book(marked).entries if e.values["what"] == "dent")
    assert "->" in rows[dent.id]["panel"] and rows[dent.id]["place"] == "unconfirmed"
    assert float(rows[dent.id]["shift"]) < 0.01 and abs(float(rows[dent.id]["area"])) < 0.01
    fine(f"remap RW-01 {file} --keep stations --store")
    moved = next(e for e in book(marked).entries if e.id == dent.id)
    assert {p.item_id for p in moved.pieces}.isdisjoint({p.item_id for p in dent.pieces})
    assert "from" in moved.unconfirmed
    # The two sheets are called after their stations: they got new names, not new places.
    panels = {p.id: p.panel for p in book(marked).positions if p.panel}
    assert sorted(panels.values()) == ["station 0 to 1400", "station 1400 to 3000"]
    spot = next(e for e in rows if e != dent.id and rows[e]["area"])
    assert rows[spot]["panel"] == "" and rows[spot]["place"] == "kept"
    # Kept between the seam and the ends it stays on its sheet.
    fine("undo")
    rows = listed(fine(f"remap RW-01 {file} --keep places --csv"))
    assert rows[dent.id]["panel"] == ""
    assert float(rows[dent.id]["shift"]) > 50


def test_a_replaced_sheet_keeps_its_pieces(marked: Path, tmp_path: Path) -> None:
    panels = [p.panel for p in book(marked).positions if p.panel]
    dent = next(e for e in book(marked).entries if e.values["what"] == "dent")
    items = {i.id: i for i in book(marked).items}
    places = {p.id: p.panel for p in book(marked).positions}
    (mine,) = {places[items[p.item_id].position_id] for p in dent.pieces}
    assert mine in panels
    fine(f"replace RW-01 --panel '{mine}' --on 2090-01-01")
    fine(f"remap RW-01 {corrected(tmp_path, CHORD)} --keep places --store")
    moved = next(e for e in book(marked).entries if e.id == dent.id)
    assert {p.item_id for p in moved.pieces} == {p.item_id for p in dent.pieces}


def test_the_moves_are_drawn(marked: Path, tmp_path: Path) -> None:
    file, out = corrected(tmp_path, CHORD), tmp_path / "moves.svg"
    assert str(out) in fine(f"remap RW-01 {file} --keep places --picture {out}")
    drawn = out.read_text("utf-8")
    assert "before the correction" in drawn and "place not confirmed" in drawn
    assert "stroke-dasharray" in drawn
    png = tmp_path / "moves.png"
    fine(f"remap RW-01 {file} --keep places --picture {png}")
    with Image.open(png) as picture:
        assert picture.width > 1000
    assert "ends in" in refused(f"remap RW-01 {file} --keep places --picture moves.pdf")


SCAN = """
units = "mm"
part = "wing"
shape = "mesh"
mesh_file = "scan.ply"
mesh_unit = "mm"
station_axis = "y"

[measured]
how = "scan"
tolerance = 1
"""


def test_a_scan_replaces_the_tape_and_its_residual_is_shown(marked: Path, tmp_path: Path) -> None:
    skin = build(read(PART), triangles=1500).skins[0]
    mesh = trimesh.Trimesh(skin.points, skin.triangles[:, ::-1], process=False)
    mesh.export(tmp_path / "scan.ply")
    points = {"a": [0, 0, 0], "b": [1500, 0, 0], "c": [300, 3000, 0]}
    marks = "".join(
        f'[[landmark]]\nname = "{n}"\nin_mesh = {p}\non_part = {p}\n' for n, p in points.items()
    )
    file = tmp_path / "scan.toml"
    file.write_text(SCAN + marks)
    said = " ".join(fine(f"remap RW-01 {file} --keep places").split())
    assert "Aligned on 3 landmarks, 0.00 mm rms" in said
    rows = listed(fine(f"remap RW-01 {file} --keep places --csv"))
    drawn = [row for row in rows.values() if row["shift"]]
    assert len(drawn) == 3 and all(float(row["shift"]) < 0.1 for row in drawn)
    # Two sheets are one on the scan: a person says which was which.
    assert all(row["place"] == "unconfirmed" for row in drawn)


def test_a_part_without_entries_gets_its_shape_all_the_same(shop: Path, tmp_path: Path) -> None:
    file = corrected(tmp_path, CHORD)
    said = fine(f"remap RW-01 {file} --keep places --store")
    assert "No entry on outer wing to carry over." in said and "0 unconfirmed" in said
    assert "1520" in book(shop).parts[0].part_file + book(shop).parts[1].part_file


@pytest.mark.parametrize(
    "line, words",
    [
        ("remap RW-01 {file}", "--keep places"),
        ("remap RW-01 {file} --keep both", "--keep both"),
        ("remap PT-1 {file} --keep places", "has no shape"),
        ("remap nobody {file} --keep places", "nobody"),
        ("remap RW-01 {same} --keep places", "has already"),
        ("remap RW-01 {left} --keep places", "other hand"),
        ("confirm", "which entries"),
    ],
)
def test_mistakes_are_said(shop: Path, tmp_path: Path, line: str, words: str) -> None:
    file = corrected(tmp_path, CHORD)
    same = tmp_path / "same.toml"
    same.write_text(PART)
    left = tmp_path / "left.toml"
    left.write_text(PART.replace('shape = "loft"', 'shape = "loft"\nside = "left"'))
    assert words in refused(line.format(file=file, same=same, left=left))
