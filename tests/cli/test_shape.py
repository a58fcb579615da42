"""The commands `shape`, `area`, `keys` and `example`, run as a person runs them."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner, Result

from mapper.cli import shape as _commands  # noqa: F401  (registers the commands)
from mapper.cli.main import app
from mapper.drawing.scene import NoPictures, can_render
from mapper.errors import MapperError
from mapper.job.partfile.key import SHAPES
from mapper.job.partfile.keys import keys_of, tables_of
from mapper.job.partfile.words import example, example_names

HEAD = 'part = "test part"\n[measured]\nhow = "tape"\ntolerance = 2\n'
TAPERED = """\
units = "mm"
shape = "loft"
trailing_edge = "{edge}"
{head}
[[section]]
station = 0
chord = 2000
profile = "0012"
[[section]]
station = 5000
chord = 1000
"""
TUBE = 'units = "mm"\nshape = "tube"\ndiameter = 1000\nend_diameter = 600\nlength = 1000\n' + HEAD
PLATE = (
    'units = "mm"\nshape = "plate"\nform = "rectangle"\nlength = 400\nwidth = 300\n'
    + HEAD
    + '[[opening]]\nname = "hole"\nform = "round"\nat = [50, 0]\ndiameter = 40\n'
)


def run(*arguments: object) -> Result:
    return CliRunner().invoke(app, [str(a) for a in arguments])


def answer(*arguments: object) -> dict[str, Any]:
    result = run(*arguments, "--json")
    assert result.exit_code == 0, result.exception
    return json.loads(result.stdout)


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("parts")
    for edge in ("closed", "open"):
        text = TAPERED.format(edge=edge, head=HEAD)
        (folder / f"{edge}.toml").write_text(text, "utf-8")
    (folder / "tube.toml").write_text(TUBE, "utf-8")
    (folder / "plate.toml").write_text(PLATE, "utf-8")
    (folder / "inch.toml").write_text(PLATE.replace('"mm"', '"in"'), "utf-8")
    return folder


@pytest.mark.parametrize(
    ("file", "area_mm2", "within"),
    [
        # Tapered panel, root 2 m, tip 1 m, semispan 5 m, NACA 0012: quadrature, and gmsh's
        # OpenCASCADE kernel on the same loft 15.298776; open trailing edge by quadrature.
        ("closed", 15.29878e6, 10.0),
        ("open", 15.2967e6, 60.0),
        # Frustum r 0.5 -> 0.3 over h 1: pi (r0 + r1) sqrt(h^2 + (r0 - r1)^2), identity.
        ("tube", math.pi * 0.8 * math.sqrt(1.04) * 1e6, 2.6),
        ("plate", 400.0 * 300.0 - math.pi * 400.0, 0.12),
    ],
)
def test_whole_areas_are_those_of_the_shape(
    files: Path, file: str, area_mm2: float, within: float
) -> None:
    found = answer("area", files / f"{file}.toml")
    assert found["area_mm2"] == pytest.approx(area_mm2, abs=within)
    skin = answer("shape", files / f"{file}.toml")["skins"][0]
    assert skin["area_mm2"] == pytest.approx(found["area_mm2"], rel=1e-6)
    assert skin["low"] == pytest.approx(0.98 * skin["area_mm2"])
    assert skin["high"] == pytest.approx(1.02 * skin["area_mm2"])


def test_boxes_add_up_to_the_whole_and_combinations_intersect(files: Path) -> None:
    wing = files / "closed.toml"
    whole = answer("area", wing)["area_mm2"]
    parts = [
        answer("area", wing, "--stations", a, b, "--chord", c, d, "--side", side)["area_mm2"]
        for a, b in ((0, 2000), (2000, 5000))
        for c, d in ((0, 30), (30, 100))
        for side in ("upper", "lower")
    ]
    assert sum(parts) == pytest.approx(whole, rel=2e-6)
    # A symmetrical section: both sides are alike.
    assert parts[0] == pytest.approx(parts[1], rel=1e-6)
    both = answer("area", wing, "--stations", 0, 2000, "--chord", 0, 30)["area_mm2"]
    assert both == pytest.approx(parts[0] + parts[1], rel=2e-6)


def test_a_flat_polygon_on_an_untwisted_wing_is_its_plane_area(files: Path) -> None:
    turn = np.linspace(0.0, 2.0 * np.pi, 721)[:-1]
    ring = np.stack([1500.0 + 60.0 * np.cos(turn), 700.0 + 60.0 * np.sin(turn)], axis=-1)
    # pi r^2 by a polygon of 720 sides: the identity n/2 sin(2 pi/n) r^2.
    plane = 360.0 * math.sin(2.0 * math.pi / 720.0) * 3600.0
    file = files / "ring.txt"
    file.write_text("\n".join(f"{x!r} {y!r}" for x, y in ring.tolist()), "utf-8")
    found = answer("area", files / "closed.toml", "--polygon", file)
    assert found["area_mm2"] == pytest.approx(plane, abs=0.1)
    assert found["perimeter_mm"] == pytest.approx(2.0 * math.pi * 60.0, rel=1e-4)
    wkt = ", ".join(f"{x!r} {y!r}" for x, y in [*ring.tolist(), ring[0].tolist()])
    (files / "ring.wkt").write_text(f"POLYGON (({wkt}))", "utf-8")
    again = answer("area", files / "closed.toml", "--polygon", files / "ring.wkt")
    assert again["area_mm2"] == pytest.approx(found["area_mm2"], rel=1e-9)


def test_a_ring_in_a_ring_is_a_hole_and_openings_are_off(files: Path) -> None:
    square = "-200 -150\n200 -150\n200 150\n-200 150\n"
    hole = "\n-100 -50\n-60 -50\n-60 50\n-100 50\n"
    (files / "holed.txt").write_text(square + hole, "utf-8")
    found = answer("area", files / "plate.toml", "--polygon", files / "holed.txt")
    assert found["area_mm2"] == pytest.approx(120000.0 - 4000.0 - math.pi * 400.0, abs=0.12)


def test_a_plan_circle_on_a_flat_plate_is_a_circle(files: Path) -> None:
    found = answer("area", files / "plate.toml", "--circle", 40, -100, 30)
    assert found["area_mm2"] == pytest.approx(math.pi * 900.0, rel=1e-6)
    inside = answer("area", files / "inch.toml", "--circle", 40, -100, 30)
    assert inside["area_mm2"] == pytest.approx(math.pi * 900.0 * 645.16, rel=1e-6)
    assert inside["units_of_arguments"] == "in"
    by_mm = answer("area", files / "inch.toml", "--circle", 1016, -2540, 762, "--units", "mm")
    assert by_mm["area_mm2"] == pytest.approx(inside["area_mm2"], rel=1e-9)
    # 12 in to the foot: 3 ft 4 is 40 in.
    by_feet = answer("area", files / "inch.toml", "--circle", "3 ft 4", "-8'-4", "2 ft 6 in")
    assert by_feet["area_mm2"] == pytest.approx(inside["area_mm2"], rel=1e-12)
    assert "no unit" in str(run("area", files / "inch.toml", "--stations", "1 kg", "2").exception)


def test_a_left_part_has_the_areas_of_the_right_one(files: Path) -> None:
    left = files / "left.toml"
    text = (files / "closed.toml").read_text("utf-8")
    left.write_text(text.replace("shape =", 'side = "left"\nshape ='), "utf-8")
    asked = ("--stations", 500, 1700, "--chord", 5, 60, "--side", "lower")
    right_area = answer("area", files / "closed.toml", *asked)["area_mm2"]
    assert answer("area", left, *asked)["area_mm2"] == pytest.approx(right_area, rel=1e-9)
    circle = ("--circle", 500, 2500, 200, "--side", "upper")
    right_circle = answer("area", files / "closed.toml", *circle)["area_mm2"]
    assert answer("area", left, *circle)["area_mm2"] == pytest.approx(right_circle, rel=1e-9)
    assert right_circle > math.pi * 200.0**2


def test_an_empty_answer_says_so(files: Path) -> None:
    result = run("area", files / "closed.toml", "--stations", 6000, 7000)
    assert result.exit_code == 0
    assert "Empty" in result.stdout
    found = answer("area", files / "closed.toml", "--stations", 6000, 7000)
    assert found["empty"] is True
    assert found["area_mm2"] == 0.0


def test_an_empty_answer_names_what_there_is(files: Path) -> None:
    # The station range as the part file says it; the 400 x 300 mm plate lies along y by its length,
    # its middle at zero. By construction.
    wing, plate = files / "closed.toml", files / "plate.toml"

    def said(*asked: object) -> str:
        return " ".join(run("area", *asked).stdout.split())

    assert "has stations 0 mm to 5 000 mm." in said(wing, "--stations", 6000, 7000).replace(
        "\u202f", " "
    )
    assert "has stations 0 in to 196.9 in." in said(wing, "--stations", 300, 301, "--units", "inch")
    assert "from -200.0 mm to 200.0 mm outboard" in said(plate, "--circle", 0, 900, 5)
    assert "has stations" not in said(wing, "--stations", 1000, 1200)


WRONG = [
    (("--stations", 2000, 1000), "station must be greater than the first"),
    (("--chord", 0, 120), "0 to 100"),
    (("--side", "top"), "upper, lower or both"),
    (("--skin", "skins"), "No skin"),
    (("--face", "middle"), "outer and inner"),
    (("--panel", "none"), "no panel or bay"),
    (("--circle", 0, 0, -5), "radius"),
    (("--units", "feet"), "mm or inch"),
    (("--polygon", "none.txt"), "no such file"),
]


@pytest.mark.parametrize(("asked", "words"), WRONG)
def test_what_cannot_be_asked_is_refused_in_words(
    files: Path, asked: tuple[object, ...], words: str
) -> None:
    result = run("area", files / "closed.toml", *asked)
    assert isinstance(result.exception, MapperError)
    assert words in str(result.exception)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1 2\n3 4\n", "a ring of 2 points"),
        ("1 2\n3 four\n", "line 2"),
        ("0 0\n10 10\n10 0\n0 10\n", "self-intersection"),
        ("", "holds no points"),
        ("POLYGON ((0 0, 1 1", "WKT"),
    ],
)
def test_a_polygon_file_that_holds_none_is_refused(files: Path, text: str, words: str) -> None:
    file = files / "bad.txt"
    file.write_text(text, "utf-8")
    result = run("area", files / "closed.toml", "--polygon", file)
    assert isinstance(result.exception, MapperError)
    assert words in str(result.exception)


@pytest.mark.parametrize("name", example_names())
def test_every_example_builds_and_prints_within_80_columns(name: str, tmp_path: Path) -> None:
    printed = run("example", name)
    assert printed.exit_code == 0
    assert printed.stdout.strip() == example(name).strip()
    file = tmp_path / "part.toml"
    file.write_text(printed.stdout, "utf-8")
    if name == "mesh":
        (tmp_path / "mesh.obj").write_text(run("example", "mesh.obj").stdout, "utf-8")
    result = run("shape", file)
    assert result.exit_code == 0, result.exception
    assert max(len(line) for line in result.stdout.split("\n")) <= 80
    assert "±" in result.stdout
    assert "Counted:" in result.stdout
    assert max(len(line) for line in printed.stdout.split("\n")) <= 100


def test_shape_tells_all_mistakes_at_once_and_nothing_else(files: Path) -> None:
    file = files / "wrong.toml"
    text = (files / "closed.toml").read_text("utf-8")
    file.write_text(text.replace("2000", '"2 m"').replace("0012", "0112"), "utf-8")
    result = run("shape", file)
    assert result.stdout == ""
    assert isinstance(result.exception, MapperError)
    assert "2 mistakes in" in str(result.exception)
    assert "line 11, section 1, chord" in str(result.exception)


def test_a_warning_is_said_and_does_not_stop(files: Path) -> None:
    file = files / "warned.toml"
    text = (files / "plate.toml").read_text("utf-8")
    file.write_text(text + "[sheet]\ngauge = 0.032\n", "utf-8")
    result = run("shape", file)
    assert result.exit_code == 0
    assert "please check" in result.stderr
    assert "sheet, gauge" in result.stderr


@pytest.mark.parametrize("shape", list(SHAPES))
def test_keys_lists_every_key_of_a_shape_within_80_columns(shape: str) -> None:
    result = run("keys", shape)
    assert result.exit_code == 0
    lines = result.stdout.split("\n")
    assert max(len(line) for line in lines) <= 80
    words = {
        line.split()[1] if line.startswith(" * ") else line.split()[0] for line in lines if line
    }
    for table in ("", *tables_of(shape)):
        assert {k.name for k in keys_of(shape, table) if not k.of} <= words


def test_keys_and_example_help_without_a_name_and_with_a_wrong_one() -> None:
    assert all(name in run("keys").stdout for name in SHAPES)
    assert all(name in run("example").stdout for name in example_names())
    for command, wrong, meant in (("keys", "wing", "loft"), ("example", "tubes", "tube")):
        result = run(command, wrong)
        assert isinstance(result.exception, MapperError)
        assert f'Did you mean "{meant}"?' in str(result.exception)


def test_a_picture_needs_a_png_name_and_a_folder(files: Path) -> None:
    for out, words in ((files / "a.jpg", ".png"), (files / "none" / "a.png", "no folder")):
        result = run("shape", files / "plate.toml", "--picture", out)
        assert isinstance(result.exception, MapperError)
        assert words in str(result.exception)


@pytest.mark.picture
def test_a_picture_is_made_or_a_clear_word_said(files: Path) -> None:
    out = files / "plate.png"
    result = run("shape", files / "plate.toml", "--picture", out)
    assert "Counted:" in result.stdout
    if can_render():
        assert result.exit_code == 0, result.exception
        with Image.open(out) as image:
            assert image.size == (1600, 1000)
            assert len(image.convert("L").getcolors() or ()) > 20
    else:
        assert isinstance(result.exception, NoPictures)
