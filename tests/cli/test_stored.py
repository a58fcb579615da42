"""`mapper area` and `mapper distance` of a part that the shop holds."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.typed import PART, fine, refused

ASKED = "--stations 100 400 --chord 0 30 --side upper"


def area_of(words: str) -> float:
    return float(json.loads(fine(f"area {words} --json"))["area_mm2"])


def test_same_area_and_distance_as_its_part_file(shop: Path, ready: Path) -> None:
    file = ready / "wing.toml"
    for words in ("", ASKED):
        assert area_of(f"--part RW-01 {words}") == area_of(f"{file} {words}") > 0
    # By its name, and by a start of its id, as everywhere.
    assert area_of("--part 'outer wing'") == area_of("--part RW-01")
    way = "--from '200 30 upper' --to '300 30 upper'"
    assert fine(f"distance --part RW-01 {way}") == fine(f"distance {file} {way}")


def test_numbers_are_in_the_shops_units(shop: Path) -> None:
    inches = " ".join(str(v / 25.4) for v in (100, 400))
    metric = area_of(f"--part RW-01 {ASKED}")
    fine("change shop --set units=inch")
    as_typed = area_of(f"--part RW-01 --stations {inches} --chord 0 30 --side upper")
    assert as_typed == pytest.approx(metric, rel=1e-9)
    assert area_of(f"--part RW-01 {ASKED} --units mm") == pytest.approx(metric, rel=1e-12)
    assert "in²" in fine("area --part RW-01") or "ft²" in fine("area --part RW-01")


def test_of_a_corrected_part_the_shape_it_has_now(shop: Path, tmp_path: Path) -> None:
    before = area_of("--part RW-01")
    corrected = tmp_path / "corrected.toml"
    corrected.write_text(PART.replace("chord = 1500", "chord = 1520"))
    fine(f"remap RW-01 {corrected} --keep places --store")
    assert area_of("--part RW-01") == area_of(str(corrected)) > before


def test_what_is_needed_is_said(shop: Path, ready: Path) -> None:
    for command in ("area", "distance"):
        both = refused(f"{command} {ready / 'wing.toml'} --part RW-01")
        assert "One of them is needed" in both
        neither = refused(command)
        assert "Neither a part file nor --part" in neither and "--part CODE" in neither
        assert f"mapper {command} --part RW-01" in refused(f"{command} RW-01")
        assert "pitot tube has no shape" in refused(f"{command} --part PT-1")
        assert "RW-99" in refused(f"{command} --part RW-99")
