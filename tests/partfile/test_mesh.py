"""Part files that name a mesh: what is read from them, and which mistakes are told how."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from mapper.job.partfile.build import build
from mapper.job.partfile.mistakes import PartFileError
from mapper.job.partfile.read import read
from mapper.job.partfile.table import area_table, edge_lengths
from mapper.surface.place import space_of

EXAMPLES = Path(str(files("mapper.job.partfile"))) / "examples"
TEXT = (EXAMPLES / "mesh.toml").read_text("utf-8")


def refused(tmp_path: Path, text: str, *, data: bytes | None = None) -> PartFileError:
    mesh = (EXAMPLES / "mesh.obj").read_bytes() if data is None else data
    (tmp_path / "mesh.obj").write_bytes(mesh)
    (tmp_path / "part.toml").write_text(text)
    with pytest.raises(PartFileError) as caught:
        build(read(tmp_path / "part.toml"))
    return caught.value


def test_the_example_is_half_an_ellipsoid() -> None:
    geometry = build(read(EXAMPLES / "mesh.toml"))
    (skin,) = geometry.skins
    row = area_table(geometry).iloc[0]
    # Closed form to 1.1 % from memory (Thomsen's formula, p = 1.6075), half of it; the coarse
    # polyhedron of the example lies inside, some 2 % smaller.
    a, b, c = (v**1.6075 for v in (150.0, 40.0, 60.0))
    whole = 4 * np.pi * ((a * b + a * c + b * c) / 3) ** (1 / 1.6075)
    assert row["area_mm2"] == pytest.approx(whole / 2, rel=0.035)
    assert row["low"] == pytest.approx(row["area_mm2"] * 0.99)
    # The rim is an ellipse 300 x 80 mm (Ramanujan's formula, from memory), as a polygon.
    h = (150 - 40) ** 2 / (150 + 40) ** 2
    rim = np.pi * 190 * (1 + 3 * h / (10 + np.sqrt(4 - 3 * h)))
    assert edge_lengths(skin)["free edge"] == pytest.approx(rim, rel=0.01)
    text = " ".join(geometry.counted)
    assert "Aligned on 3 landmarks" in text
    assert "known length of 301 mm is 300 mm" in text
    assert "it has no volume" in text
    assert geometry.tolerance.how == "scan"
    (panel,) = geometry.panels
    assert panel.thin
    assert panel.alloy == "glass laminate"


def test_landmarks_bring_the_mesh_to_the_parts_frame() -> None:
    (skin,) = build(read(EXAMPLES / "mesh.toml")).skins
    low, high = skin.points.min(axis=0), skin.points.max(axis=0)
    assert np.allclose([low[0], high[0]], [0.0, 300.0], atol=0.5)
    assert skin.station.min() == pytest.approx(low[0])


def test_the_other_hand_is_its_mirror_image() -> None:
    right = build(read(EXAMPLES / "mesh.toml"))
    left = build(read(TEXT.replace('units = "mm"\n', 'units = "mm"\nside = "left"\n').replace(
        '"mesh.obj"', f'"{EXAMPLES / "mesh.obj"}"')))  # fmt: skip
    one, two = right.skins[0], left.skins[0]
    assert left.mirrored
    at = one.flat[one.triangles[5]].mean(axis=0)[None]
    assert np.allclose(
        space_of(two, at * [1.0, -1.0]), space_of(one, at) * [1.0, -1.0, 1.0], atol=1e-9
    )


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('mesh_unit = "mm"\n', "", ("mesh_unit", "missing")),
        ('mesh_unit = "mm"', 'mesh_unit = "furlong"', ("mesh_unit", "furlong")),
        ('"mesh.obj"', '"nowhere.obj"', ("mesh_file", "cannot be read")),
        ('"mesh.obj"', '"part.toml"', ("mesh_file", "toml")),
        ("known_length = 301", "known_length = 3010", ("known_length", "cm it would fit")),
        ("known_from = [-150, 0, 0]", "", ("known_from", "go together")),
        ("known_to = [150, 0, 0]", "known_to = [150, 0]", ("known_to", "three numbers")),
        ('station_axis = "x"', 'station_axis = "span"', ("station_axis", "span")),
        ('station_axis = "x"', "crease = 120", ("crease", "90")),
        ('name = "top"', 'name = "rear screw"', ("name", "given twice")),
        ("in_mesh = [0, 0, 60]", "in_mesh = [10, 0, 0]", ("landmark", "one line")),
        ("faces = [", 'seams = "x"\nfaces = [', ("seams", "")),
    ],
)
def test_mistakes_are_told_by_line_and_key(
    tmp_path: Path, old: str, new: str, told: tuple[str, str]
) -> None:
    assert old in TEXT
    error = refused(tmp_path, TEXT.replace(old, new))
    (mistake, *_) = error.mistakes
    key, words = told
    assert key in mistake.key or key in str(mistake)
    assert words in str(error)
    assert mistake.line > 0


def test_two_landmarks_are_too_few(tmp_path: Path) -> None:
    cut = TEXT.index('[[landmark]]\nname = "top"')
    rest = TEXT[TEXT.index("[placement]") :]
    assert "3 and more" in str(refused(tmp_path, TEXT[:cut] + rest))


def test_a_mesh_that_is_none_is_told_with_its_key(tmp_path: Path) -> None:
    error = refused(tmp_path, TEXT, data=b"# nothing\n")
    assert "no triangles" in str(error)
    assert error.mistakes[0].key == "mesh_file"
