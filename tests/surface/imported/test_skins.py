"""Charts and skins of imported meshes: areas, laying out, stitching, landmarks."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point

from mapper.errors import MapperError
from mapper.surface import measure, region
from mapper.surface.geometry import Geometry, Placement, Tolerance
from mapper.surface.imported.align import align
from mapper.surface.imported.build import moved, skins_of
from mapper.surface.imported.charts import STRETCH, cut
from mapper.surface.imported.lay import cross2
from mapper.surface.imported.mend import areas_of, mend
from mapper.surface.imported.read import RawMesh, read_mesh
from mapper.surface.lines import station_line
from mapper.surface.near import free_edges
from mapper.surface.place import flat_at_space, normal_of, place_of, space_of
from mapper.surface.version import from_bytes, to_bytes
from tests.surface.imported.test_read import example, raw


def ball(size: float = 500.0, subdivisions: int = 4) -> RawMesh:
    return raw(trimesh.creation.icosphere(subdivisions=subdivisions), size)


MESHES = {
    "ball": ball(),
    "tube": raw(trimesh.creation.cylinder(50.0, 400.0, sections=64)),
    "ring": raw(trimesh.creation.torus(300.0, 80.0, major_sections=80, minor_sections=40)),
    "box": raw(trimesh.creation.box((200.0, 300.0, 400.0))),
    "washer": raw(trimesh.creation.annulus(20.0, 60.0, 5.0)),
}


@pytest.mark.parametrize("name", ["airplane.ply", "nut.ply", *MESHES])
def test_every_triangle_lies_flat_once_face_up_and_little_stretched(name: str) -> None:
    mesh = mend(read_mesh(example(name), "mm") if name.endswith("ply") else MESHES[name])
    charts = cut(mesh)
    owner = np.concatenate([c.triangles for c in charts])
    assert sorted(owner.tolist()) == list(range(len(mesh.triangles)))
    for chart in charts:
        double = cross2(chart.flat, chart.corners)
        assert (double > 0.0).all()  # none mirrored, none turned over
        true = areas_of(mesh.points[chart.vertex], chart.corners)
        assert np.abs(0.5 * double / true - 1.0).max() <= STRETCH
        assert np.array_equal(chart.vertex[chart.corners], mesh.triangles[chart.triangles])


@pytest.mark.parametrize("name", ["airplane.ply", "nut.ply", *MESHES])
def test_the_area_of_the_skins_is_that_of_the_triangles(name: str) -> None:
    mesh = mend(read_mesh(example(name), "mm") if name.endswith("ply") else MESHES[name])
    found = skins_of(mesh)
    assert len(found.skins) == mesh.bodies
    total = sum(measure.whole_area(s) for s in found.skins)
    drawn = sum(measure.area(s, region.whole(s)) for s in found.skins)
    assert total == pytest.approx(mesh.area, rel=1e-12)
    assert drawn == pytest.approx(mesh.area, rel=1e-9)


def test_flat_pieces_and_tubes_are_not_stretched_at_all() -> None:
    for name in ("box", "tube", "washer"):
        assert max(c.worst for c in cut(mend(MESHES[name]))) < 1e-9


def test_a_closed_body_has_no_rim_and_an_open_one_has_its_own() -> None:
    for name in ("ball", "box", "tube", "ring"):
        (skin,) = skins_of(mend(MESHES[name])).skins
        length = sum(measure.length(skin, line) for line in free_edges(skin).values())
        assert length == pytest.approx(0.0, abs=1e-6)
    half = trimesh.creation.icosphere(subdivisions=4).slice_plane([0, 0, 0], [0, 0, 1])
    (skin,) = skins_of(mend(raw(half, 500.0))).skins
    rim = measure.perimeter(skin, region.whole(skin))
    assert rim == pytest.approx(2 * np.pi * 500.0, rel=2e-3)
    (edge,) = free_edges(skin).values()
    assert measure.length(skin, edge) == pytest.approx(rim, rel=1e-5)


def test_a_hole_in_a_flat_piece_is_an_opening() -> None:
    plate = trimesh.creation.annulus(20.0, 60.0, 0.001)
    top = np.asarray(plate.face_normals)[:, 2] > 0.9
    flat_part = RawMesh(
        "plate.stl", "mm", np.asarray(plate.vertices), np.asarray(plate.faces, np.int32)[top]
    )
    found = skins_of(mend(flat_part))
    (hole,) = found.openings
    sides = 32  # as trimesh draws its circles
    inner = 0.5 * sides * 20.0**2 * np.sin(2 * np.pi / sides)
    assert hole.flat.area == pytest.approx(inner, rel=1e-6)


def test_places_go_both_ways_and_normals_point_out() -> None:
    (skin,) = skins_of(mend(ball())).skins
    rng = np.random.default_rng(5)
    rows = rng.integers(0, len(skin.triangles), 60)
    share = rng.dirichlet((1.0, 1.0, 1.0), 60)
    flat = np.einsum("kc,kcx->kx", share, skin.flat[skin.triangles[rows]])
    space = space_of(skin, flat)
    there = np.einsum("kc,kcx->kx", share, skin.points[skin.triangles[rows]])
    assert np.allclose(space, there, atol=1e-9)
    assert (np.einsum("kx,kx->k", normal_of(skin, flat), space) > 0.99 * 499.0).all()
    assert np.allclose(place_of(skin, flat).station, space[:, 1], atol=1e-9)
    back, distance = flat_at_space(skin, space)
    assert np.allclose(back, flat, atol=1e-6)
    assert distance.max() < 1e-6


def test_a_station_line_is_the_circle_it_should_be() -> None:
    # Closed form: a plane y = 100 cuts a sphere of radius 500 in a circle; the polyhedron's cut is
    # nearer to it the finer it is, with the square of the edge.
    off = []
    for subdivisions in (3, 4, 5):
        (skin,) = skins_of(mend(ball(subdivisions=subdivisions))).skins
        found = measure.length(skin, station_line(skin, 100.0))
        off.append(abs(found / (2 * np.pi * np.sqrt(500.0**2 - 100.0**2)) - 1.0))
    assert off[-1] < 2e-4
    assert np.log2(off[0] / off[1]) > 1.7
    assert np.log2(off[1] / off[2]) > 1.7


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 5000), st.floats(5.0, 60.0))
def test_drawn_regions_are_those_of_the_triangles_they_cross(row: int, radius: float) -> None:
    skin = SKIN
    t = row % len(skin.triangles)
    shape = region.clip(skin, Point(skin.flat[skin.triangles[t]].mean(axis=0)).buffer(radius))
    # Another way: every triangle cut by the region on its own, with its own ratio of areas.
    triangles = shapely.polygons(skin.flat[skin.triangles])
    inside = shapely.area(shapely.intersection(triangles, shape)) / shapely.area(triangles)
    assert measure.area(skin, shape) == pytest.approx(float(inside @ skin.patch_area), rel=1e-6)


SKIN = skins_of(mend(ball(100.0, 2))).skins[0]


def test_a_stored_version_comes_back_to_the_bit() -> None:
    found = skins_of(mend(MESHES["tube"]))
    geometry = Geometry(
        "tube", "scan", found.skins, Tolerance("scan", 1.0),
        Placement(np.zeros(3), np.eye(3)), openings=found.openings,
    )  # fmt: skip
    data = to_bytes(geometry)
    back = from_bytes(data)
    assert to_bytes(back) == data
    skin = back.skins[0]
    assert measure.area(skin, region.whole(skin)) == pytest.approx(
        measure.whole_area(found.skins[0]), rel=1e-12
    )
    assert len(skin.stitches) == len(found.skins[0].stitches) > 0


def test_another_axis_and_too_many_charts_are_refused() -> None:
    with pytest.raises(MapperError, match="axis"):
        skins_of(mend(MESHES["box"]), axis="up")


# -- landmarks

POINTS = {"nose": (0.0, 0.0, 0.0), "tail": (900.0, 0.0, 30.0), "tip": (400.0, 1500.0, 80.0)}


def turned(angle: float) -> np.ndarray:
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]) @ np.array(
        [[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]]
    )


@settings(max_examples=30, deadline=None)
@given(st.floats(-3.0, 3.0), st.tuples(*[st.floats(-5000.0, 5000.0)] * 3))
def test_landmarks_bring_a_scan_back(angle: float, shift: tuple[float, float, float]) -> None:
    turn = turned(angle)
    scan = {n: tuple(turn @ np.array(p) + shift) for n, p in POINTS.items()}
    found = align(scan, POINTS)
    for name, place in scan.items():
        assert np.allclose(found.rotation @ place + found.origin, POINTS[name], atol=1e-6)
    assert found.rms < 1e-6
    assert np.linalg.det(found.rotation) == pytest.approx(1.0)


def test_the_residual_of_each_landmark_is_told() -> None:
    scan = {**POINTS, "tip": (400.0, 1506.0, 80.0)}
    found = align(scan, POINTS)
    assert 1.0 < found.rms < 4.0
    assert "tip" in found.words() and "mm rms" in found.words()


def test_landmarks_that_settle_nothing_are_refused() -> None:
    two = {n: POINTS[n] for n in ("nose", "tail")}
    with pytest.raises(MapperError, match="3 or more"):
        align(two, two)
    with pytest.raises(MapperError, match="tip"):
        align(POINTS, two)
    line = {"a": (0.0, 0.0, 0.0), "b": (1.0, 0.0, 0.0), "c": (2.0, 0.0, 0.0)}
    with pytest.raises(MapperError, match="one line"):
        align(line, line)
    with pytest.raises(MapperError, match="not all points"):
        align({**POINTS, "tip": (1.0, float("nan"), 0.0)}, POINTS)


def test_a_mirrored_scan_is_never_made_to_fit() -> None:
    scan = {n: (x, -y, z) for n, (x, y, z) in {**POINTS, "top": (0.0, 0.0, 500.0)}.items()}
    assert align(scan, {**POINTS, "top": (0.0, 0.0, 500.0)}).rms > 100.0


def test_moving_keeps_the_map_and_the_areas() -> None:
    found = skins_of(mend(MESHES["tube"]))
    placed = moved(found, np.array([10.0, 20.0, 30.0]), turned(0.7))
    one, two = found.skins[0], placed.skins[0]
    assert np.array_equal(one.flat, two.flat)
    whole = region.whole(two)
    assert measure.area(two, whole) == pytest.approx(measure.whole_area(one), rel=1e-9)
    assert np.allclose(two.points, one.points @ turned(0.7).T + [10.0, 20.0, 30.0])
