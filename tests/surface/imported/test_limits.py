"""What a mesh file may ask for, what it is doubted for, and defects counted one by one."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
import trimesh

from mapper.errors import MapperError
from mapper.surface.imported import read
from mapper.surface.imported.mend import mend
from mapper.surface.imported.read import RawMesh, check_length, read_mesh


def saved(folder: Path, name: str = "box.stl") -> Path:
    """A box of 2 x 3 x 4 in a file."""
    path = folder / name
    trimesh.creation.box((2.0, 3.0, 4.0)).export(path)
    return path


def test_every_unit_is_its_own_length(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # International foot and inch of 1959, exact by definition.
    path = saved(tmp_path)
    parsed = read._parsed(path.name, "stl", path.read_bytes(), 100)
    monkeypatch.setattr(read, "_parsed", lambda *given: parsed)  # a process each would take long
    for unit, size in {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8}.items():
        assert np.ptp(read_mesh(path, unit).points, axis=0) == pytest.approx(
            np.array([2.0, 3.0, 4.0]) * size
        )


def test_a_length_may_be_five_per_cent_off_and_no_more(tmp_path: Path) -> None:
    box = read_mesh(saved(tmp_path), "mm")
    ends = (-1.0, -1.5, -2.0), (1.0, -1.5, -2.0)
    assert "+4.17%" in check_length(box, *ends, 1.92)
    for wrong in (1.88, 2.15):
        with pytest.raises(MapperError, match="may differ by 5%"):
            check_length(box, *ends, wrong)


def test_a_file_that_is_too_large_is_not_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = saved(tmp_path)
    monkeypatch.setattr(read, "MOST_BYTES", path.stat().st_size - 1)
    with pytest.raises(MapperError, match="may have"):
        read_mesh(path, "mm")
    monkeypatch.setattr(read, "MOST_BYTES", path.stat().st_size)
    assert len(read_mesh(path, "mm").triangles) == 12


def test_an_stl_file_is_as_long_as_it_says(tmp_path: Path) -> None:
    path = saved(tmp_path)
    whole = path.read_bytes()
    assert struct.unpack_from("<I", whole, 80) == (12,)
    for data in (whole[:-1], whole + b"\0"):
        path.write_bytes(data)
        with pytest.raises(MapperError, match="cut short, or no STL"):
            read_mesh(path, "mm")


def test_triangles_are_counted_where_a_file_does_not_say_how_many(tmp_path: Path) -> None:
    path = saved(tmp_path, "box.obj")
    with pytest.raises(MapperError, match="it holds 12 triangles, and may hold 11"):
        read_mesh(path, "mm", most=11)
    assert len(read_mesh(path, "mm", most=12).triangles) == 12


def test_the_parser_gets_no_more_memory_than_it_may(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(read, "MEMORY", 1_000_000)
    with pytest.raises(MapperError, match="memory"):
        read_mesh(saved(tmp_path), "mm")


def test_several_bodies_in_one_file_keep_their_places(tmp_path: Path) -> None:
    scene = trimesh.Scene([
        trimesh.creation.box((2.0, 3.0, 4.0)),
        trimesh.creation.box((1.0, 1.0, 1.0), transform=np.diag([1.0, 1.0, 1.0, 1.0])
                             + np.array([[0, 0, 0, 9.0], [0] * 4, [0] * 4, [0] * 4])),
    ])  # fmt: skip
    scene.export(tmp_path / "two.glb")
    found = mend(read_mesh(tmp_path / "two.glb", "mm"))
    assert found.bodies == 2
    assert found.volume == pytest.approx(24.0 + 1.0)
    assert found.points[:, 0].max() == pytest.approx(9.5)


def box_faces() -> tuple[np.ndarray, np.ndarray]:
    box = trimesh.creation.box((2.0, 3.0, 4.0))
    return np.asarray(box.vertices), np.asarray(box.faces, np.int32).copy()


@pytest.mark.parametrize("odd", [0, 3, 11])
def test_the_smaller_party_is_the_flipped_one(odd: int) -> None:
    points, faces = box_faces()
    faces[odd] = faces[odd, ::-1]
    found = mend(RawMesh("box.stl", "mm", points, faces))
    assert (found.flipped, found.volume) == (1, pytest.approx(24.0))


def test_corners_on_either_side_of_a_line_of_the_grid_are_welded() -> None:
    # One corner at the origin, where the grid that welds has a line.
    box = trimesh.creation.box((2.0, 3.0, 4.0))
    loose = np.asarray(box.triangles).reshape(-1, 3) + np.array([1.0, 1.5, 2.0])
    shaken = loose + np.where(np.arange(loose.size).reshape(loose.shape) % 2, 1e-9, -1e-9)
    faces = np.arange(len(loose), dtype=np.int32).reshape(-1, 3)
    found = mend(RawMesh("box.stl", "mm", shaken, faces))
    assert (len(found.points), found.open_edges) == (8, 0)


def test_edges_of_more_than_two_triangles_are_counted() -> None:
    # Three, and four, flaps on one edge.
    for flaps in (3, 4):
        turn = np.linspace(0.0, np.pi, flaps)
        points = np.array([(0.0, 0, 0), (0, 0, 1.0), *((np.cos(t), np.sin(t), 0.5) for t in turn)])
        faces = np.array([(0, 1, 2 + k) for k in range(flaps)], np.int32)
        found = mend(RawMesh("flaps.stl", "mm", points, faces))
        assert any(line.startswith("1 edge has more than two") for line in found.defects)
