"""How the charts of a mesh are cut and laid: by closed forms of sheets that can be laid by hand."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
import trimesh
from numpy.typing import NDArray

from mapper.errors import MapperError
from mapper.surface import measure, region
from mapper.surface.imported import build
from mapper.surface.imported.align import align
from mapper.surface.imported.build import skins_of
from mapper.surface.imported.charts import cut
from mapper.surface.imported.lay import lay
from mapper.surface.imported.mend import areas_of, mend
from mapper.surface.imported.read import RawMesh
from tests.surface.imported.test_read import raw

Array = NDArray[np.float64]


def sheet(points: Array) -> RawMesh:
    """A grid of points (rows, columns, 3) as a mesh, each cell in two triangles."""
    rows, columns = points.shape[:2]
    number = np.arange(rows * columns, dtype=np.int32).reshape(rows, columns)
    a, b, c, d = (n.ravel() for n in (number[:-1, :-1], number[:-1, 1:], number[1:, 1:],
                                      number[1:, :-1]))  # fmt: skip
    triangles = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    return RawMesh("made.stl", "mm", points.reshape(-1, 3), triangles.astype(np.int32))


def swept(profile: Array, width: float, steps: int = 4) -> RawMesh:
    """A profile (K, 2) in x and z, swept straight along y."""
    y = np.linspace(0.0, width, steps)
    points = [[(x, along, z) for along in y] for x, z in profile]
    return sheet(np.array(points))


def plate(at: float, inner: float) -> trimesh.Trimesh:
    """A flat ring of radius 60 round (at, 0, 0)."""
    ring = trimesh.creation.annulus(inner, 60.0, 0.001)
    top = np.asarray(ring.face_normals)[:, 2] > 0.9
    points = np.asarray(ring.vertices) + np.array([at, 0.0, 0.0])
    return trimesh.Trimesh(points, np.asarray(ring.faces)[top], process=False)


def test_an_edge_parts_charts_above_the_crease_only() -> None:
    # Two flat strips that meet at 30 degrees: more than the usual 18.
    bend = np.deg2rad(30.0)
    mesh = mend(
        swept(np.array([(-50.0, 0.0), (0.0, 0.0), (50 * np.cos(bend), 50 * np.sin(bend))]), 80)
    )
    assert [len(cut(mesh)), len(cut(mesh, crease=29.0)), len(cut(mesh, crease=31.0))] == [2, 2, 1]
    assert [len(skins_of(mesh, crease=c).skins[0].charts) for c in (None, 31.0)] == [2, 1]
    # They are stitched along the whole edge in one line.
    (stitch,) = skins_of(mesh).skins[0].stitches
    assert len(stitch.line_a) == 4


def test_charts_are_told_largest_first_and_the_worst_of_all() -> None:
    ball = mend(raw(trimesh.creation.icosphere(subdivisions=3), 500.0))
    charts = cut(ball)
    sizes = [float(areas_of(ball.points, ball.triangles[c.triangles]).sum()) for c in charts]
    assert len(sizes) > 1 and sizes == sorted(sizes, reverse=True)
    assert skins_of(ball).worst == max(c.worst for c in charts) > min(c.worst for c in charts)


def test_a_slight_bow_is_laid_to_its_whole_length() -> None:
    # Sag 1 mm on 200: the polyline is longer than its chord by some 1 / 15000 (its own length).
    x = np.linspace(-100.0, 100.0, 21)
    profile = np.column_stack([x, 1.0 - (x / 100.0) ** 2])
    long = float(np.hypot(*np.diff(profile, axis=0).T).sum())
    mesh = mend(swept(profile, 150.0))
    (chart,) = cut(mesh)
    box = shapely.oriented_envelope(shapely.MultiPoint(chart.flat))
    ring = shapely.get_coordinates(box)
    sides = sorted(np.hypot(*np.diff(ring[:3], axis=0).T))
    assert sides[1] == pytest.approx(long, rel=1e-7)
    assert long / 200.0 > 1.00006


def test_a_dish_is_laid_as_rigid_as_can_be() -> None:
    # A cap of half-angle 30 degrees. Laid conformally (stereographic, closed form) areas near the
    # rim are (2 / (1 + cos 30)) squared = 1.149 of those in the middle; even about their mean, the
    # worst is some 7 % off. With rigid steps it is well below.
    turn, rings = (
        np.linspace(0.0, 2 * np.pi, 48, endpoint=False),
        np.deg2rad(np.linspace(0, 30, 13)),
    )
    points = [(0.0, 0.0, 500.0)]
    points += [
        (500 * np.sin(r) * np.cos(t), 500 * np.sin(r) * np.sin(t), 500 * np.cos(r))
        for r in rings[1:] for t in turn
    ]  # fmt: skip
    n = len(turn)
    faces = [(0, 1 + k, 1 + (k + 1) % n) for k in range(n)]
    for ring in range(len(rings) - 2):
        for k in range(n):
            a, b = 1 + ring * n + k, 1 + ring * n + (k + 1) % n
            faces += [(a, a + n, b + n), (a, b + n, b)]
    laid = lay(np.array(points), np.array(faces, dtype=np.int32))
    assert laid is not None
    assert laid.worst < 0.05


def test_a_ramp_that_lies_over_itself_is_cut() -> None:
    # One and a half turns of a screw's surface: nothing folds, and it would cover its map twice.
    turn = np.linspace(0.0, 3 * np.pi, 90)
    points = np.array([
        [(r * np.cos(t), r * np.sin(t), 40.0 * t / (2 * np.pi)) for r in (50.0, 75.0, 100.0)]
        for t in turn
    ])  # fmt: skip
    mesh = mend(sheet(points))
    (skin,) = skins_of(mesh).skins
    assert len(skin.charts) > 1
    assert measure.area(skin, region.whole(skin)) == pytest.approx(mesh.area, rel=1e-9)


def test_a_band_with_half_a_twist_is_told_and_measured() -> None:
    # A Moebius band: wherever it is cut, one edge joins triangles that face opposite ways.
    turn = np.linspace(0.0, 2 * np.pi, 61)
    points = np.array([
        [((300 + w * np.cos(t / 2)) * np.cos(t), (300 + w * np.cos(t / 2)) * np.sin(t),
          w * np.sin(t / 2)) for w in (-20.0, 20.0)]
        for t in turn
    ])  # fmt: skip
    mesh = mend(sheet(points))
    assert any(line.startswith("1 edge joins triangles") for line in mesh.defects), mesh.defects
    (skin,) = skins_of(mesh).skins
    assert measure.area(skin, region.whole(skin)) == pytest.approx(mesh.area, rel=1e-9)
    # No stitch over that edge: its two sides are not one place of one face.
    for stitch in skin.stitches:
        space = [skin.points[np.asarray(line)] for line in (stitch.line_a, stitch.line_b)]
        assert np.allclose(*space)


def test_charts_lie_apart_and_never_on_each_other() -> None:
    # A box: each face is its own chart; 3 % of the widest are left free between them.
    (skin,) = skins_of(mend(raw(trimesh.creation.box((200.0, 300.0, 400.0))))).skins
    outlines = [chart.outline for chart in skin.charts]
    assert len(outlines) == 6
    apart = [a.distance(b) for n, a in enumerate(outlines) for b in outlines[:n]]
    assert min(apart) >= 0.03 * 400.0 - 1e-6


def test_stations_run_to_the_right_of_the_map() -> None:
    # The wall of a tube along z: its map is a rectangle, x of which is the station.
    tube = mend(raw(trimesh.creation.cylinder(50.0, 400.0, sections=64)))
    (skin,) = skins_of(tube, axis="z", datum=250.0).skins
    assert np.allclose(skin.station, skin.points[:, 2] + 250.0)
    wall = max(skin.charts, key=lambda c: skin.patch_area[c.first : c.last].sum())
    corners = np.unique(skin.triangles[wall.first : wall.last])
    assert np.allclose(np.ptp(skin.flat[corners, 0] - skin.station[corners]), 0.0, atol=1e-6)


def test_bodies_and_openings_have_names_of_their_own() -> None:
    both = trimesh.util.concatenate([plate(0.0, 20.0), plate(500.0, 30.0)])
    found = skins_of(mend(raw(both)), names=("large",))
    assert [skin.name for skin in found.skins] == ["large", "body 2"]
    areas = [measure.whole_area(skin) for skin in found.skins]
    assert areas[0] > areas[1]
    assert [(o.name, o.skin) for o in found.openings] == [
        ("opening 1", "large"), ("opening 2", "body 2"),
    ]  # fmt: skip
    assert [skin.name for skin in skins_of(mend(raw(plate(0.0, 20.0)))).skins] == ["skin"]


def test_a_hole_with_a_wall_at_its_edge_is_no_opening() -> None:
    # A washer is closed: its hole is bounded by its own inner wall.
    found = skins_of(mend(raw(trimesh.creation.annulus(20.0, 60.0, 5.0))))
    assert found.openings == ()


def test_a_mesh_in_too_many_charts_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(build, "MOST_CHARTS", 5)
    with pytest.raises(MapperError, match="falls into 6 charts"):
        skins_of(mend(raw(trimesh.creation.box((200.0, 300.0, 400.0)))))


def test_landmarks_nearly_on_one_line_settle_nothing() -> None:
    line = {"a": (0.0, 0.0, 0.0), "b": (1000.0, 0.0, 0.0), "c": (500.0, 0.4, 0.0)}
    with pytest.raises(MapperError, match="one line"):
        align(line, line)
    assert align({**line, "c": (500.0, 4.0, 0.0)}, {**line, "c": (500.0, 4.0, 0.0)}).rms < 1e-9


def test_the_residual_is_the_root_of_the_mean_square() -> None:
    # By symmetry nothing turns or moves: two landmarks are 1 mm off, two are not.
    scan = {"e": (100, 0, 0), "w": (-100, 0, 0), "n": (0, 100, 0), "s": (0, -100, 0)}
    part = {**scan, "e": (101, 0, 0), "w": (-101, 0, 0)}
    found = align(scan, part)
    assert found.rms == pytest.approx(np.sqrt(0.5))
    assert found.residual == pytest.approx({"e": 1.0, "w": 1.0, "n": 0.0, "s": 0.0}, abs=1e-9)
