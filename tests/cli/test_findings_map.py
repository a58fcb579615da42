"""`mapper findings-map`: words, files and refusals."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from mapper.drawing.scene import can_render
from tests.cli.typed import fine, refused


@pytest.fixture
def found(shop: Path) -> Path:
    """Two metres of the upper side looked at, fifteen findings close together on it."""
    fine("add entry 'inspected area' RW-01 --stations 0 2000 --side upper --set technique=eye")
    for i in range(15):
        at = f"{600 + 15 * i} {25 + i % 4}"
        fine(f"add entry finding RW-01 --point '{at}' --side upper --set what=corrosion")
    return shop


def test_it_says_and_draws_where_findings_lie_close(found: Path, tmp_path: Path) -> None:
    out = tmp_path / "map.svg"
    said = fine(f"findings-map RW-01 {out} --width '200 mm'")
    flat = " ".join(said.split())
    assert "outer wing, skin, outer face" in flat
    assert "15 findings in" in flat and "width of 200 mm" in flat
    assert "below 6.4" in flat and "% of what was looked at" in flat
    shares = [int(line.split(": ")[1].split(" %")[0]) for line in said.splitlines() if "  " in line]
    assert len(shares) >= 2 and abs(sum(shares) - 100) <= 2
    assert said.strip().endswith(str(out))
    assert "<svg" in out.read_text("utf-8")
    png = tmp_path / "map.png"
    fine(f"findings-map RW-01 {png}")
    with Image.open(png) as picture:
        assert picture.width > 1000 and np.ptp(np.asarray(picture)) > 200


def test_widths_and_answers_in_inches(found: Path) -> None:
    fine("change shop --set units=inch")
    said = fine("findings-map RW-01 --width 8 --what corrosion")
    assert "width of 8.00 in" in said and "/ft²" in said
    assert "0 findings" in fine("findings-map RW-01 --what dent")
    assert "Nobody has looked" in fine("findings-map RW-01 --face inner")
    assert "no area is known" in " ".join(fine("findings-map RW-01 --by area").split())


def test_the_width_is_a_setting(found: Path) -> None:
    fine("setting corrosion.width 400")
    assert "width of 400 mm" in fine("findings-map RW-01")
    assert "20" in refused("setting corrosion.width 4")


@pytest.mark.parametrize(
    "more, words",
    [
        ("map.txt", ".svg or .png"),
        ("no-such-folder/map.svg", "no folder"),
        ("--picture map.svg", ".png"),
        ("--what rot", "Sorts: corrosion"),
        ("--by weight", "'count' or 'area'"),
        ("--width 0", "above 0"),
        ("--width 1", "larger width"),
        ("--skin rib", "It has 'skin'"),
        ("--face third", "'outer', 'inner'"),
    ],
)
def test_mistakes_are_one_line(shop: Path, more: str, words: str) -> None:
    assert words in refused(f"findings-map RW-01 {more}")


def test_a_part_without_a_shape(shop: Path) -> None:
    assert "no shape" in refused("findings-map PT-1")


@pytest.mark.picture
def test_the_picture_wears_the_map(found: Path, tmp_path: Path) -> None:
    if not can_render():
        word = "no EGL here (Debian: libegl1, libegl-mesa0, libgl1-mesa-dri): no 3D pictures"
        if os.environ.get("MAPPER_NO_SKIP") == "1":
            pytest.fail(word)
        pytest.skip(word)
    out = tmp_path / "wing.png"
    fine(f"findings-map RW-01 --picture {out}")
    with Image.open(out) as picture:
        pixels = np.asarray(picture.convert("RGB")).astype(int)
    # Steps above the lowest are orange: more red than blue by far; bare sheet and hatches are not.
    assert ((pixels[..., 0] - pixels[..., 2]) > 60).mean() > 0.004
