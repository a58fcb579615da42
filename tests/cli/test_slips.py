"""What somebody at the wing gets wrong, and what the answer says: words that help."""

from __future__ import annotations

import os
from pathlib import Path
from unittest import mock

import pytest
from PIL import Image

from tests.cli.typed import PART, fine, refused, typed

SPOT = "add entry finding RW-01 --disc 800 30 20 --side upper"


def picture(folder: Path, name: str, red: int) -> Path:
    Image.new("RGB", (40, 30), (red, 90, 60)).save(folder / name)
    return folder / name


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("when", ["9999-01-01 10:00", "2150-05-31 14:20"])
def test_nothing_is_recorded_before_it_happens(shop: Path, when: str) -> None:
    told = refused(f"{SPOT} --when '{when}'")
    assert when in told and "has happened" in told and "--state deferred" in told
    assert fine("list entries --csv").count("\n") <= 1


def test_a_refused_photo_is_named(shop: Path, tmp_path: Path) -> None:
    good = picture(tmp_path, "good.png", 200)
    (tmp_path / "words.jpg").write_text("no picture")
    told = refused(f"{SPOT} --photo {good} --photo {tmp_path / 'words.jpg'}")
    assert f"{tmp_path / 'words.jpg'} was refused" in told and "JPEG, PNG and WebP" in told


def test_missing_photos_are_named_in_lists_checks_and_backups(shop: Path, tmp_path: Path) -> None:
    for name, red in (("one.png", 10), ("two.png", 200)):
        fine(f"{SPOT} --photo {picture(tmp_path, name, red)} --caption {name[:3]}")
    assert typed(f"backup {tmp_path / 'whole'}").code == 0
    assert "missing: " not in fine("list photos --csv")
    (path, _) = sorted(p for p in (shop / "photos").glob("??/*") if p.is_file())
    path.unlink()
    lines = [line for line in fine("list photos --csv").splitlines() if "missing: " in line]
    assert len(lines) == 1 and path.name in lines[0]
    done = typed(f"backup {tmp_path / 'short'}")
    assert done.code == 1 and f"Not in it: photo {path.name} is missing" in done.out
    assert (tmp_path / "short" / "manifest.json").is_file()
    checked = typed("verify")
    caption = "one" if "one" in lines[0] else "two"
    assert checked.code == 1
    assert f"({path.name[:8]}) belongs to the finding" in flat(checked.out)
    assert f"({caption})" in checked.out


def test_a_shop_that_may_not_be_written_is_said_to_be_read_only(shop: Path) -> None:
    # As on a read-only disk: SQLite cannot make its log beside the database.
    (shop / "shop.sqlite-wal").mkdir()
    with mock.patch.object(os, "access", lambda path, mode: not mode & os.W_OK):
        told = refused("list entries")
    assert f"The shop in {shop} is read-only" in told and "Copy the whole folder" in told


def test_eight_digits_of_a_hash_are_no_alarm(shop: Path) -> None:
    told = refused("verify --head d2fa74d8")
    assert "no hash to compare with" in told and "cut off" not in told


@pytest.fixture
def inches(shop: Path) -> Path:
    fine("change shop --set units=inch")
    return shop


def test_the_reply_says_the_values_with_their_units(inches: Path) -> None:
    told = flat(fine(f"{SPOT.replace('800 30 20', '30 30 1')} --set depth_found=0.005"))
    assert "Says: depth as found 0.005 in." in told and "Please check" not in told


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ("--set quantity=gauge --set gauge=32", "the part file says 0.0315 in here: check"),
        ("--set film_thickness=0.0065", "thinner than any coat"),
        ("--set calibrated=2150-01-01", "still to come"),
    ],
)
def test_values_of_another_size_are_asked_about(inches: Path, values: str, words: str) -> None:
    wing = Path(os.environ["MAPPER_SHOP"]).parent / "gauged.toml"
    wing.write_text(PART + "\n[sheet]\ngauge = 0.8\n")
    fine(f"add part {wing} --code RW-02 --name gauged")
    assert words in flat(fine(f"add entry reading RW-02 --point '30 30' --side upper {values}"))


def test_a_lot_of_another_product_is_asked_about(shop: Path) -> None:
    fine("new lot 'Gel stripper' B-1177")
    line = "add entry treatment RW-01 --panel 'station 0 to 1500' --set product={} --set lot=B-1177"
    assert "is of 'Gel stripper'" in flat(fine(line.format("Brightener")))
    assert "Please check" not in fine(line.format("'gel stripper'"))
    (key,) = {row.split()[0] for row in fine("list entries").splitlines() if "gel" in row}
    assert "is of 'Gel stripper'" in flat(fine(f"change {key} --set product=Brightener"))


@pytest.mark.parametrize(
    ("where", "words"),
    [
        ("--stations 200 9000", "9000 mm was given"),
        ("--chord 0.2 30", "for 20 % write 20"),
        ("--disc 800 0.3 20", "for 30 % write 30"),
    ],
)
def test_places_of_another_size_are_asked_about(shop: Path, where: str, words: str) -> None:
    done = typed(f"add entry finding RW-01 --side upper {where}")
    assert done.code == 0 and words in flat(done.err), done.err
    assert (
        typed(f"add entry finding RW-01 --side upper {where.split()[0]} 200 400").err.count(
            "please check"
        )
        == 0
        or "--disc" in where
    )


def test_a_polygon_may_say_its_unit(inches: Path, tmp_path: Path) -> None:
    corners = "10 4\n12 4\n12 7\n10 7\n"
    (tmp_path / "bare.txt").write_text(corners)
    (tmp_path / "inch.txt").write_text("# off the tape\nin\n" + corners)
    (tmp_path / "wkt.txt").write_text("in\nPOLYGON ((10 4, 12 4, 12 7, 10 7, 10 4))")
    bare = typed(f"add entry finding RW-01 --polygon {tmp_path / 'bare.txt'}")
    assert "says no unit and is read in mm" in flat(bare.err)
    wing = Path(os.environ["MAPPER_SHOP"]).parent / "wing.toml"
    wing.write_text(PART)
    for name in ("inch", "wkt"):
        done = typed(f"add entry finding RW-01 --polygon {tmp_path / name}.txt")
        assert (done.code, done.err) == (0, "")
        assert "6.00 in²" in done.out  # 2 x 3
        assert "6.00 in²" in fine(f"area {wing} --units inch --polygon {tmp_path / name}.txt")


def test_stations_the_wrong_way_round_are_said_as_typed(tmp_path: Path) -> None:
    (tmp_path / "wing.toml").write_text(PART)
    told = refused(f"area {tmp_path / 'wing.toml'} --units inch --stations 104 60")
    assert "--stations 104 60 was given" in told


def test_what_lies_in_an_opening_is_told_its_name(shop: Path, tmp_path: Path) -> None:
    (tmp_path / "wing.toml").write_text(
        PART + '\n[[opening]]\nname = "filler"\nform = "round"\nstation = 800\nchord = 40\n'
        'side = "upper"\ndiameter = 80\n'
    )
    fine(f"add part {tmp_path / 'wing.toml'} --code RW-02 --name holed")
    for place in ("--disc 800 40 20", "--point '800 40'"):
        told = refused(f"add entry finding RW-02 {place} --side upper")
        assert "'filler'" in told and "--place" in told and "674" not in told


def test_parts_of_the_old_sections_are_named(shop: Path, tmp_path: Path) -> None:
    (tmp_path / "wing.toml").write_text(PART)
    (tmp_path / "rib.toml").write_text(
        'units = "mm"\npart = "rib 4"\nshape = "rib"\nsections_from = "wing.toml"\nstation = 1000\n'
        '[measured]\nhow = "tape"\ntolerance = 1\n'
    )
    fine(f"add part {tmp_path / 'rib.toml'} --code RW-04")
    # A web has no place by station and % chord, on no side.
    assert "lies at one station, 1000 mm" in refused("add entry finding RW-04 --disc 1000 30 5")
    (tmp_path / "wider.toml").write_text(PART.replace("chord = 1000", "chord = 1010"))
    told = flat(fine(f"remap RW-01 {tmp_path / 'wider.toml'} --keep places"))
    assert "Made with the sections of 'outer wing'" in told and "RW-04 rib 4" in told
    (tmp_path / "rib2.toml").write_text((tmp_path / "rib.toml").read_text().replace("1000", "1100"))
    told = flat(fine(f"remap RW-04 {tmp_path / 'rib2.toml'} --keep places"))
    assert "Made with the sections" not in told


@pytest.mark.parametrize(("said", "kept"), [("in", "inch"), ("inches", "inch"), ("mm", "metric")])
def test_a_shop_takes_the_units_of_a_part_file(tmp_path: Path, said: str, kept: str) -> None:
    fine(f"new shop {tmp_path / 'made'} Here --person Mira --units {said}")
    assert f"units {kept}" in flat(fine(f"show shop --shop {tmp_path / 'made'}"))


def test_a_finish_system_is_named_once_and_told(shop: Path) -> None:
    made = fine("add finish-system scheme --coat 'kind=enamel; thickness=50 um' --coat kind=primer")
    assert "coat 1: enamel, 50 " in made and "coat 2: primer" in made
    assert "'scheme' already" in refused("add finish-system Scheme --coat kind=dope")


def test_doubts_of_a_corrected_shape_are_in_the_units_of_the_shop(
    inches: Path, tmp_path: Path
) -> None:
    fine("add entry finding RW-01 --disc 100 30 1 --side upper")
    (tmp_path / "longer.toml").write_text(PART.replace("station = 3000", "station = 3300"))
    fine(f"remap RW-01 {tmp_path / 'longer.toml'} --keep places --store")
    for line in ("list unconfirmed", "show RW-01"):
        assert " mm" not in flat(fine(line))
    assert " in" in flat(fine("list unconfirmed")).partition("moved")[2][:12]
