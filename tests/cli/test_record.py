"""The command line alone runs a shop."""

from __future__ import annotations

import csv
import io
import math
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image

from mapper.job.kinds import KINDS
from mapper.store.shop import open_shop
from tests.cli.typed import PART, Typed, fine, refused, typed


def id_in(text: str) -> str:
    found = re.search(r"[0-9a-f]{8}-[0-9a-f-]{27}", text)
    assert found, text
    return found.group()


def rows(what: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(fine(f"list {what} --csv"))))


def entry_of(shop: Path, entry_id: str):  # the stored entry itself
    from mapper.job.entry import Entry

    with open_shop(shop) as store:
        return store.get(Entry, entry_id)


def test_a_shop_is_run_by_the_command_alone(tmp_path: Path) -> None:
    """The main walk as typed in a shell, each command a process of its own."""
    (tmp_path / "wing.toml").write_text(PART)

    def run(line: str) -> Typed:
        words = [sys.executable, "-c", "from mapper.cli.main import run; run()", *shlex.split(line)]
        done = subprocess.run(words, cwd=tmp_path, capture_output=True, text=True, timeout=300)
        assert "Traceback" not in done.stderr, done.stderr
        return Typed(done.returncode, done.stdout, done.stderr)

    walk = [
        "new shop shop 'Hangar two' --person Mira",
        "new job 'Two-seater' --shop shop",
        "add assembly 'right wing' --shop shop",
        "add part wing.toml --code RW-01 --shop shop",
        "add entry finding RW-01 --stations 1200 1800 --chord 10 30 --side upper --shop shop"
        " --set what=corrosion --set 'depth_found=0.12 +/- 0.02 mm'",
    ]
    for line in walk:
        done = run(line)
        assert done.code == 0, done
    assert "on 2 sheets" in done.out and "To complete: kind of corrosion" in done.out
    listed = run("list entries --csv --shop shop")
    assert "corrosion, depth as found 0.12 ± 0.02 mm" in listed.out
    assert run("undo --shop shop").code == 0
    assert "No such entry." in run("list entries --shop shop").out
    wrong = run("add entry finding RW-02 --place x --shop shop")
    assert wrong.code == 2 and wrong.err.count("\n") == 1 and "RW-01" in wrong.err


def test_a_box_is_the_area_the_shape_gives(shop: Path) -> None:
    out = fine("add entry finding RW-01 --stations 1000 2000 --side upper --set what=dent")
    entry = entry_of(shop, id_in(out))
    assert len(entry.pieces) == 2
    # A tapered, straight-lined NACA 0012 (closed): between stations 1 and 2 m the mean chord is
    # 1.25 m, and the upper skin's length over chord 2.03955 / 2 (checks by quadrature, taper's
    # slope adds less than 0.1 %).
    assert entry.outline.drawn_area == pytest.approx(1000 * 1250 * 2.03955 / 2, rel=1e-3)
    assert sum(p.area for p in entry.pieces) == pytest.approx(entry.outline.drawn_area, rel=1e-6)


@pytest.mark.parametrize(
    ("where", "area"),
    [
        ("--disc '500' 40 100 --side upper", math.pi * 100**2),
        ("--circle 600 500 60 --side upper", math.pi * 60**2),
        ("--line '500 30, 900 30' --side upper --width 50", 400 * 50),
        ("--polygon {file}", 100 * 50),
    ],
)
def test_drawn_regions(shop: Path, tmp_path: Path, where: str, area: float) -> None:
    file = tmp_path / "ring.txt"
    file.write_text("500 400\n600 400\n600 450\n500 450\n")
    out = fine(f"add entry application RW-01 {where.format(file=file)}")
    assert entry_of(shop, id_in(out)).outline.drawn_area == pytest.approx(area, rel=0.02)


def test_panels_bays_and_the_whole_skin(shop: Path) -> None:
    panels = rows("panels")
    assert len(panels) == 2
    name = panels[0]["panel"]
    inboard = entry_of(shop, id_in(fine(f"add entry masking RW-01 --panel {shlex.quote(name)}")))
    assert inboard.outline.drawn_area / 1e6 == pytest.approx(float(panels[0]["area m²"]), rel=1e-6)
    assert len(inboard.pieces) == 1
    whole = entry_of(shop, id_in(fine("add entry 'coat zone' RW-01 --face inner")))
    assert whole.outline.face == "inner" and len(whole.pieces) == 2
    assert "has no panel 'nose'" in refused("add entry masking RW-01 --panel nose")
    assert "has no bay 'nose'" in refused("add entry masking RW-01 --bay nose")


def test_points_by_place_and_by_tape(shop: Path) -> None:
    by_place = entry_of(
        shop,
        id_in(
            fine(
                "add entry reading RW-01 --point '1500 mm 30' --side lower --set quantity=gauge"
                " --set 'gauge=0.8 +/- 0.05 mm'"
            )
        ),
    )
    station, chord, side = by_place.outline.anchors[0]
    assert (station, chord, side) == (pytest.approx(1500), pytest.approx(30, abs=1e-3), -1.0)
    by_tape = entry_of(
        shop,
        id_in(fine("add entry finding RW-01 --tape 'rib 4' 120 'front spar' -40 --side upper")),
    )
    # A rib is a straight chordwise line on this flat map, so 120 mm outboard of station 1000.
    assert by_tape.outline.anchors[0][0] == pytest.approx(1120, abs=2)
    assert by_tape.outline.anchors[0][1] < 20
    assert by_tape.values["rib_distance"] == pytest.approx(120, abs=0.01)


def test_a_place_in_words_on_a_part_without_a_shape(shop: Path) -> None:
    out = fine("add entry finding PT-1 --place 'tip, left of the hole' --set what=crack")
    assert entry_of(shop, id_in(out)).place.words == "tip, left of the hole"
    assert "has no shape" in refused("add entry finding PT-1 --stations 0 100")


def test_a_part_file_with_mistakes_gives_them_all(shop: Path, tmp_path: Path) -> None:
    (tmp_path / "bad.toml").write_text(PART.replace("chord = 1500", "chord = -1"))
    done = typed(f"add part {tmp_path}/bad.toml")
    assert done.code == 2 and "bad.toml" in done.err and "chord" in done.err
    assert typed(f"add part {tmp_path}/none.toml").code == 2
    assert len(rows("parts")) == 2


def test_no_shop_here(tmp_path: Path) -> None:
    assert "There is no shop in" in refused(f"list parts --shop {tmp_path}")


def test_values_change_and_states(shop: Path) -> None:
    which = id_in(fine("add entry finding RW-01 --place here --set what=dent --set length=10"))
    short = which[:8]
    assert "what=hole" in refused(
        f"change {short} --set what=wear --set gauge=1 --set depth_found=2"
    )
    fine(f"change {short} --set length= --set 'width=1 in' --note 'seen twice'")
    entry = entry_of(shop, which)
    assert dict(entry.values) == {"what": "dent", "width": 25.4} and entry.note == "seen twice"
    assert entry.version == 2
    fine(f"state {short} deferred --to 2027-01-01")
    assert str(entry_of(shop, which).deferred_to) == "2027-01-01"
    fine(f"state {short} closed")
    assert entry_of(shop, which).deferred_to is None
    fine(f"redraw {short} --stations 100 200 --side upper")
    assert len(entry_of(shop, which).pieces) == 1
    assert "removed" in fine(f"remove {short}")
    assert "No such entry" in fine("list entries")
    fine("undo")
    assert entry_of(shop, which).state == "closed"


def test_undo_and_redo_say_what(shop: Path) -> None:
    fine("new person Otto --licence 'B1 4711'")
    fine("add entry marking RW-01 --place 'fin root' --by Otto")
    assert "new marking" in fine("undo --by Otto")
    assert "new marking" in fine("redo --by otto")
    assert "new person Otto" not in fine("list entries")
    # Who acts must be said now, and the answer names both ways to say it.
    who = refused("undo")
    assert "Mira; Otto" in who and "--by" in who and "MAPPER_PERSON" in who


def test_records_change_by_name(shop: Path) -> None:
    fine("change RW-01 --set name='outer wing, right' --set code=RW-02 --note 'spare'")
    fine("change Mira --set licence='B1 12'")
    fine("change 'right wing' --set order=3")
    fine("change shop --set units=inch --set name='Hangar three'")
    parts = rows("parts")
    assert parts[0]["code"] == "RW-02" or parts[1]["code"] == "RW-02"
    assert "area ft²" in parts[0]
    shown = fine("show Mira")
    assert "B1 12" in shown
    fine("add assembly 'left wing'")
    fine("change RW-02 --set assembly='left wing'")
    assert "left wing" in fine("show RW-02")


def test_inch_shops_type_and_read_inches(shop: Path) -> None:
    fine("change shop --set units=inch")
    out = fine("add entry finding RW-01 --stations 40 60 --chord 0 10 --side upper"
               " --set what=dent --set length='1 1/2'")  # fmt: skip
    entry = entry_of(shop, id_in(out))
    assert entry.values["length"] == pytest.approx(38.1)
    station = entry.outline.anchors[:, 0]
    assert (station.min(), station.max()) == (pytest.approx(1016), pytest.approx(1524))
    assert "ft²" in out or "in²" in out
    assert "station 40-60 in" in " ".join(fine("list entries --csv").split())
    assert "1.5 in" in fine(f"show {entry.id[:8]}")


def test_photos_with_caption_and_scale(shop: Path, tmp_path: Path) -> None:
    for name, colour in (("a.png", "red"), ("b.jpg", "blue")):
        Image.new("RGB", (40, 30), colour).save(tmp_path / name)
    out = fine(f"add entry finding RW-01 --place here --photo {tmp_path}/a.png --caption 'a dent'"
               f" --mm-per-pixel 0.5 --photo {tmp_path}/b.jpg")  # fmt: skip
    entry = entry_of(shop, id_in(out))
    assert [(u.caption, u.mm_per_pixel) for u in entry.photos] == [("a dent", 0.5), ("", None)]
    photos = rows("photos")
    assert {p["pixels"] for p in photos} == {"40 x 30"}
    assert all((shop / p["file"]).exists() or Path(p["file"]).exists() for p in photos)
    assert "a dent" in fine(f"show {entry.id[:8]}")


def test_lots_finish_systems_and_references(shop: Path) -> None:
    fine("new lot 'gel stripper' B-7 --received 2026-02-01 --quantity 5 --unit L")
    fine("add finish-system grey --coat 'kind=enamel; colour=grey; thickness=40 +/- 5 um'"
         " --coat kind=primer")  # fmt: skip
    zone = fine("add entry coat-zone RW-01 --set finish_system=grey")
    used = fine("add entry application RW-01 --chord 0 10 --set lot=B-7 --set left_fraction=10")
    assert "grey" in fine(f"show {id_in(zone)[:8]}")
    assert "gel stripper B-7" in fine(f"show {id_in(used)[:8]}")
    assert "40 ± 5 µm" in fine("list finish-systems")
    assert "still in use" in refused("remove B-7")


def test_a_shops_own_choice(shop: Path) -> None:
    fine("add choice finding what 'scorch mark'")
    out = fine("add entry finding RW-01 --place here --set 'what=Scorch mark'")
    assert entry_of(shop, id_in(out)).values["what"] == "other: scorch mark"
    assert "scorch" in fine("fields finding")
    assert "scorch mark" in fine("list entries")


def test_a_replaced_sheet_keeps_what_was_on_it(shop: Path) -> None:
    panel = rows("panels")[0]["panel"]
    quoted = shlex.quote(panel)
    old = fine(f"add entry finding RW-01 --panel {quoted} --when '2026-01-15 09:00'")
    fine(f"replace RW-01 --panel {quoted} --on 2026-02-01 --made 'new sheet' --serial S-9")
    new = fine(f"add entry finding RW-01 --panel {quoted} --when '2026-03-01 09:00'")
    first, second = (entry_of(shop, id_in(t)).pieces[0].item_id for t in (old, new))
    assert first != second
    items = {r["id"]: r for r in rows("items")}
    assert items[first]["until"] == items[second]["since"] == "2026-02-01"
    assert rows("panels")[0]["sheet"] == "new sheet S-9"


def test_csv_is_no_formula_and_keeps_full_precision(shop: Path) -> None:
    fine("add entry marking RW-01 --place '=cmd()' --set text=+41 --note '@home'")
    fine("add entry finding RW-01 --stations 1000 2000 --side upper")
    table = {r["kind"]: r for r in rows("entries")}
    assert table["marking"]["where"] == "'=cmd()"
    assert table["marking"]["what"] == "'+41" and table["marking"]["note"] == "'@home"
    area = table["finding"]["area m²"]
    assert len(area) > 10 and float(area) == pytest.approx(1.2747, rel=1e-3)


@pytest.mark.parametrize(
    "what",
    ["jobs", "people", "lots", "assemblies", "parts", "panels", "items", "finish-systems",
     "entries", "photos", "to-complete"],
)  # fmt: skip
def test_lists_fit_80_columns(shop: Path, what: str) -> None:
    fine("new lot 'a long name of a product that nobody can say' B-7 --note 'stands in the shed'")
    long = "a very long place in words, beside the third rib, near the step that was worn"
    fine(f"add entry finding RW-01 --place '{long}' --set 'what=other: a word'")
    assert max(map(len, fine(f"list {what}").splitlines())) <= 80


def test_to_complete_shrinks_as_values_come(shop: Path) -> None:
    which = id_in(fine("add entry finding RW-01 --place here"))[:8]
    assert "what it is, technique" in " ".join(fine("list to-complete").split())
    fine(f"change {which} --set what=crack --set technique=eye")
    assert "Nothing is left to complete." in fine("list to-complete")


def test_history_of_one_thing(shop: Path) -> None:
    which = id_in(fine("add entry finding RW-01 --place here"))
    fine(f"state {which[:8]} closed")
    told = list(csv.DictReader(io.StringIO(fine(f"history {which[:8]} --csv"))))
    assert [r["change"] for r in told] == ["change entry", "add entry"]
    assert len(told[0]["hash"]) == 64 and told[0]["by"] == "Mira"


def test_the_same_action_sent_again_is_done_once(shop: Path) -> None:
    line = "add entry finding RW-01 --place here --set what=dent --action a-1"
    line += " --when '2026-05-31 12:00+02:00'"
    first, second = fine(line), fine(line)
    assert id_in(first) == id_in(second) and "done before" in second
    assert len(rows("entries")) == 1
    assert "a-1" in refused(line.replace("dent", "hole"))


def test_verify_backup_restore(shop: Path, tmp_path: Path) -> None:
    fine("add entry finding RW-01 --place here")
    assert "Everything is as it was recorded." in fine("verify")
    made = fine(f"backup {tmp_path}/copy")
    head = re.findall(r"[0-9a-f]{64}", made)[-1]
    fine(f"restore {tmp_path}/copy {tmp_path}/again")
    assert head in fine(f"verify --head {head} --shop {tmp_path}/again")
    assert len(fine(f"list entries --shop {tmp_path}/again").splitlines()) >= 3
    other = typed(f"verify --head {'0' * 64}")
    assert other.code == 1


def test_settings(shop: Path) -> None:
    assert "as the defaults" in fine("setting")
    fine("setting photo_pixel_limit 1000000")
    assert "photo_pixel_limit: 1000000" in fine("setting")
    fine("setting photo_pixel_limit --default")
    assert "as the defaults" in fine("setting")


def test_fields_tell_of_every_field_of_every_kind(shop: Path) -> None:
    kinds = fine("fields")
    for name, kind in KINDS.items():
        assert name in kinds
        told = fine(f"fields '{name}'")
        assert all(re.search(rf"^ *{f.name}\b", told, flags=re.M) for f in kind.fields)
        assert max(map(len, told.splitlines())) <= 80
    assert re.search(r"0 in or\s", fine("change shop --set units=inch") + fine("fields finding"))


def test_two_things_of_one_name_are_told_apart(shop: Path) -> None:
    fine("add entry removed-part RW-01 --place rib --set name=bracket --set tag_code=T-1")
    fine("add entry removed-part RW-01 --place rib --set name=bracket --set tag_code=T-2")
    assert "2 things answer" in refused("show bracket")
    assert "T-2" in fine("show T-2")
    assert "2 of them answer" in refused("state bracket closed")


def test_a_part_file_in_other_units_than_the_shop_is_said(tmp_path: Path, shop: Path) -> None:
    file = tmp_path / "aileron.toml"
    file.write_text(fine("example aileron-inches"), "utf-8")
    out = " ".join(fine(f"add part {file} --name 'spare aileron'").split())
    assert "in this shop in mm" in out and "mapper change shop --set units=inch" in out
