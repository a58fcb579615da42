"""Mesh files: what is read, what is mended, what is refused and in which words."""

from __future__ import annotations

import struct
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
import trimesh

from mapper.errors import MapperError
from mapper.surface.imported.mend import mend
from mapper.surface.imported.read import RawMesh, check_length, read_mesh


def example(name: str) -> Path:
    """A mesh file that the package pyvista ships (found without importing it)."""
    import importlib.util

    spec = importlib.util.find_spec("matplotlib")
    assert spec is not None and spec.origin is not None
    return Path(spec.origin).parents[1] / "pyvista" / "examples" / name


def raw(mesh: trimesh.Trimesh, size: float = 1.0) -> RawMesh:
    return RawMesh(
        "made.stl", "mm", np.asarray(mesh.vertices) * size, np.asarray(mesh.faces, np.int32)
    )


def test_a_real_dirty_mesh() -> None:
    # pyvista's airplane.ply: 2,452 triangles, 7 open bodies, area 1,053,911.453 file units squared,
    # no volume (recomputed with trimesh).
    found = mend(read_mesh(example("airplane.ply"), "mm"))
    assert len(found.triangles) == 2452
    assert found.bodies == 7
    assert found.area == pytest.approx(1_053_911.453, abs=1e-3)
    assert found.volume is None
    assert any("open edges" in line for line in found.defects)
    assert any("7 separate bodies" in line for line in found.defects)
    assert any("more than two triangles" in line for line in found.defects)


def test_a_real_clean_mesh() -> None:
    # pyvista's nut.ply: watertight, area 8,977.649066, volume 32,171.322 (recomputed with trimesh).
    found = mend(read_mesh(example("nut.ply"), "mm"))
    assert found.defects == ()
    assert found.open_edges == 0
    assert found.area == pytest.approx(8_977.649066, abs=5e-7)
    assert found.volume == pytest.approx(32_171.322, abs=5e-4)


@pytest.mark.parametrize("ending", ["stl", "ply", "obj", "glb"])
def test_every_format_gives_the_same_part(tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"box.{ending}"
    trimesh.creation.box((2.0, 3.0, 4.0)).export(path)
    found = mend(read_mesh(path, "in"))
    assert found.area == pytest.approx(52 * 25.4**2, rel=1e-6)
    assert found.volume == pytest.approx(24 * 25.4**3, rel=1e-6)


def test_units_are_asked_for_and_doubted(tmp_path: Path) -> None:
    path = tmp_path / "box.stl"
    trimesh.creation.box((2.0, 3.0, 4.0)).export(path)
    with pytest.raises(MapperError, match="unit"):
        read_mesh(path, "furlong")
    box = read_mesh(path, "mm")
    ends = (-1.0, -1.5, -2.0), (1.0, -1.5, -2.0)
    assert "2 mm in the file" in check_length(box, *ends, 2.02)
    with pytest.raises(MapperError, match="Read in in it would fit"):
        check_length(box, *ends, 50.8)
    with pytest.raises(MapperError, match="No unit fits"):
        check_length(box, *ends, 7.0)
    with pytest.raises(MapperError, match="points 0 mm apart"):
        check_length(box, ends[0], ends[0], 7.0)


HOSTILE = {
    "empty.stl": b"",
    "short.stl": b"\0" * 84 + b"\0" * 20,
    "lies.stl": b"\0" * 80 + struct.pack("<I", 4_000_000_000),
    "words.stl": b"solid nothing\nendsolid nothing\n",
    "empty.ply": b"",
    "huge.ply": b"ply\nformat ascii 1.0\nelement vertex 99999999999\nend_header\n",
    "cut.ply": b"ply\nformat binary_little_endian 1.0\nelement vertex 100\nproperty float x\n"
    b"property float y\nproperty float z\nelement face 5\n"
    b"property list uchar int vertex_indices\nend_header\n\0\0\0",
    "none.obj": b"# nothing\n",
    "nan.obj": b"v nan 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n",
    "far.obj": b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n",
    "bad.glb": b"glTF" + b"\xff" * 200,
    "text.glb": b"no mesh at all",
    "mesh.zip": b"PK\x03\x04",
    "mesh": b"",
}


@pytest.mark.parametrize("name", HOSTILE)
def test_files_that_are_no_mesh_are_refused_in_words(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_bytes(HOSTILE[name])
    with pytest.raises(MapperError) as caught:
        read_mesh(path, "mm")
    assert name in str(caught.value)
    assert "Traceback" not in str(caught.value)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(MapperError, match="cannot be read"):
        read_mesh(tmp_path / "nowhere.stl", "mm")


def test_counts_are_held(tmp_path: Path) -> None:
    path = tmp_path / "ball.ply"
    trimesh.creation.icosphere(subdivisions=3).export(path)
    with pytest.raises(MapperError, match=r"tells of 1,280 of face"):
        read_mesh(path, "mm", most=300)


def test_flipped_doubled_and_thin_triangles() -> None:
    box = trimesh.creation.box((2.0, 3.0, 4.0))
    faces = np.asarray(box.faces, np.int32).copy()
    faces[3] = faces[3, ::-1]
    faces = np.concatenate([faces, faces[:2], [[0, 1, 1]]]).astype(np.int32)
    found = mend(RawMesh("box.stl", "mm", np.asarray(box.vertices), faces))
    assert found.area == pytest.approx(52.0, rel=1e-12)
    assert found.volume == pytest.approx(24.0, rel=1e-12)
    assert found.flipped == 1
    assert any("1 triangle faced the other way" in line for line in found.defects)
    assert any("2 triangles were there twice" in line for line in found.defects)
    assert any("1 triangle was a line" in line for line in found.defects)


def test_corners_that_nearly_meet_are_welded() -> None:
    box = trimesh.creation.box((2.0, 3.0, 4.0))
    loose = np.asarray(box.triangles).reshape(-1, 3)
    shaken = loose + np.random.default_rng(3).uniform(-1e-7, 1e-7, loose.shape)
    faces = np.arange(len(loose), dtype=np.int32).reshape(-1, 3)
    found = mend(RawMesh("box.stl", "mm", shaken, faces))
    assert len(found.points) == 8
    assert found.open_edges == 0
    assert found.volume == pytest.approx(24.0, rel=1e-6)


def test_a_body_turned_inside_out_faces_outward_again() -> None:
    ball = trimesh.creation.icosphere(subdivisions=2)
    ball.invert()
    found = mend(raw(ball, 100.0))
    normals = np.cross(
        found.points[found.triangles[:, 1]] - found.points[found.triangles[:, 0]],
        found.points[found.triangles[:, 2]] - found.points[found.triangles[:, 0]],
    )
    centres = found.points[found.triangles].mean(axis=1)
    assert (np.einsum("ij,ij->i", normals, centres) > 0.0).all()
    assert found.volume is not None and found.volume > 0.0


def test_a_mesh_without_an_area_is_refused() -> None:
    with pytest.raises(MapperError, match="one place"):
        mend(RawMesh("dot.stl", "mm", np.zeros((3, 3)), np.array([[0, 1, 2]], np.int32)))
    line = np.array([[0.0, 0, 0], [1, 0, 0], [2, 0, 0]])
    with pytest.raises(MapperError, match="No triangle"):
        mend(RawMesh("line.stl", "mm", line, np.array([[0, 1, 2]], np.int32)))


def test_the_parser_is_bounded(tmp_path: Path) -> None:
    # The worker must not import what the core has none of, and must be found from any folder.
    assert files("mapper.surface.imported").joinpath("worker.py").is_file()
