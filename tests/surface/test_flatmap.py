"""The flat map keeps lengths where it says so, goes both ways, and never folds."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mapper.errors import MapperError
from mapper.surface.build import make_skin
from mapper.surface.flatmap import ConeMap, PlaneMap, cone_map, flat_map_from
from mapper.surface.meshmap import MeshMap
from mapper.surface.table import table_from
from mapper.surface.unroll import check_flat, lay_flat, lengths
from meshes.loft import LoftPlan, LoftSection, loft
from meshes.ruled import RuledPatch
from meshes.sections import Naca4
from meshes.tube import tube


def panel(
    root: float, tip: float, span: float, digits: str, twist: float, sweep: float
) -> RuledPatch:
    sections = (
        LoftSection(0.0, root, Naca4(digits), twist=twist),
        LoftSection(span, tip, Naca4(digits), twist=twist, sweep=sweep, dihedral=3.0),
    )
    return LoftPlan(sections).patches[0]


def metric_error(patch: RuledPatch, flat_map: ConeMap) -> float:
    """Greatest relative difference of the map's metric from the surface's, at scattered places."""
    rng = np.random.default_rng(3)
    s = rng.uniform(-0.98, 0.98, 200)
    s = s[np.abs(s) > 0.01]
    t = rng.uniform(0.02, 0.98, len(s))
    by_s, by_t = patch.partials(s, t)
    h = 1e-5
    p, ds, dt = np.stack([s, t], axis=-1), np.array([h, 0.0]), np.array([0.0, h])
    flat_s = (flat_map.to_flat(p + ds) - flat_map.to_flat(p - ds)) / (2 * h)
    flat_t = (flat_map.to_flat(p + dt) - flat_map.to_flat(p - dt)) / (2 * h)
    worst = 0.0
    for a, b, c, d in (
        (by_s, by_s, flat_s, flat_s),
        (by_s, by_t, flat_s, flat_t),
        (by_t, by_t, flat_t, flat_t),
    ):
        size = np.linalg.norm(a, axis=1) * np.linalg.norm(b, axis=1)
        worst = max(worst, float(np.abs((np.sum(a * b, 1) - np.sum(c * d, 1)) / size).max()))
    return worst


tapers = st.floats(0.3, 3.0)


@settings(max_examples=25, deadline=None)
@given(
    taper=tapers,
    span=st.floats(200.0, 8000.0),
    digits=st.sampled_from(["0012", "2412", "4409", "6321"]),
    twist=st.floats(-5.0, 5.0),
    sweep=st.floats(-30.0, 30.0),
)
def test_a_cone_is_unrolled_without_stretch(taper, span, digits, twist, sweep) -> None:
    patch = panel(1000.0, 1000.0 * taper, span, digits, twist, sweep)
    assert patch.kind == "cone"
    flat_map = cone_map(patch)
    # Differences with a step of 1e-5 are good to about 1e-8.
    assert metric_error(patch, flat_map) < 1e-6
    rng = np.random.default_rng(5)
    param = np.stack([rng.uniform(-1.0, 1.0, 300), rng.uniform(0.0, 1.0, 300)], axis=-1)
    flat = flat_map.to_flat(param)
    assert np.allclose(flat_map.to_param(flat), param, atol=1e-9)
    assert np.abs(flat_map.to_flat(flat_map.to_param(flat)) - flat).max() < 1e-9


@pytest.mark.parametrize("taper", [1e-3, 1e-6, 1e-9, 1e-12])
def test_an_apex_far_away_costs_no_digits(taper: float) -> None:
    cylinder = cone_map(panel(1000.0, 1000.0, 2000.0, "2412", 0.0, 0.0))
    nearly = cone_map(panel(1000.0, 1000.0 * (1.0 + taper), 2000.0, "2412", 0.0, 0.0))
    param = np.stack(np.meshgrid(np.linspace(-1, 1, 21), np.linspace(0, 1, 5)), axis=-1).reshape(
        -1, 2
    )
    flat = nearly.to_flat(param)
    assert np.abs(flat - cylinder.to_flat(param)).max() < 3000.0 * taper + 1e-9
    assert np.abs(nearly.to_param(flat) - param).max() < 1e-11


@pytest.mark.parametrize(("d0", "d1"), [(1000.0, 600.0), (600.0, 1000.0), (1000.0, 100.0)])
def test_a_frustum_unrolls_to_a_sector(d0: float, d1: float) -> None:
    # Identity: a cone of half angle a unrolls to a sector of 2 pi sin a.
    chart = make_skin(tube(d0, d1, 500.0)[0]).charts[0]
    slant = np.hypot(500.0, (d0 - d1) / 2)
    angle = 2.0 * np.pi * abs(d0 - d1) / 2 / slant
    ends = chart.flat_map.to_flat(np.array([[-1.0, 0.0], [-1.0, 1.0], [1.0, 0.0], [1.0, 1.0]]))
    lower, upper = ends[1] - ends[0], ends[3] - ends[2]
    assert np.linalg.norm(lower) == pytest.approx(slant, rel=1e-12)
    turned = np.arctan2(lower[0] * upper[1] - lower[1] * upper[0], lower @ upper) % (2 * np.pi)
    wanted = angle if d0 < d1 else 2 * np.pi - angle
    assert turned == pytest.approx(wanted % (2 * np.pi), abs=1e-12)


def test_a_cylinder_unrolls_to_its_girth() -> None:
    chart = make_skin(tube(50.0, 50.0, 300.0)[0]).charts[0]
    flat = chart.flat_map.to_flat(np.array([[-1.0, 0.0], [1.0, 1.0]]))
    assert np.allclose(flat[1] - flat[0], [300.0, 50.0 * np.pi], atol=1e-11)


def test_points_beside_the_chart_have_no_place() -> None:
    flat_map = cone_map(panel(2000.0, 1000.0, 5000.0, "2412", 0.0, 0.0))
    rim = flat_map.to_flat(np.array([[1.0, 0.5], [-1.0, 0.5], [0.0, 0.0], [0.0, 1.0]]))
    out = np.array([[0.0, 1.0], [0.0, -1.0], [-1.0, 0.0], [1.0, 0.0]])
    assert np.isnan(flat_map.to_param(rim + 0.01 * out)).all()
    assert np.isfinite(flat_map.to_param(rim + 1e-4 * out)).all()
    assert np.isnan(flat_map.to_param(np.array([[np.nan, 0.0], [np.inf, 5.0]]))).all()
    assert flat_map.to_param(np.zeros((0, 2))).shape == (0, 2)


def twisted() -> tuple[MeshMap, RuledPatch]:
    sections = [
        LoftSection(0.0, 1500.0, Naca4("2418")),
        LoftSection(5000.0, 900.0, Naca4("0010"), twist=-5.0),
    ]
    chart = make_skin(loft(sections)[0]).charts[0]
    return chart.flat_map, chart.patch


def test_a_twisted_wing_is_hardly_stretched() -> None:
    # Another method (libigl's conformal map, the same wing) is within .3 % in area at worst.
    # Lengths along the mesh's edges here: .1 %.
    flat_map, patch = twisted()
    assert isinstance(flat_map, MeshMap) and not flat_map.isometric
    s, t = flat_map.s, flat_map.t
    for (i, j), corners in (((1, 0), flat_map.corners), ((0, 1), flat_map.corners)):
        flat = np.linalg.norm(np.diff(corners, axis=0 if i else 1), axis=-1).ravel()
        grid = np.stack(np.meshgrid(s, t, indexing="ij"), axis=-1)
        start = grid[: len(s) - i, : len(t) - j].reshape(-1, 2)
        end = grid[i:, j:].reshape(-1, 2)
        assert np.abs(flat / lengths(patch, start, end) - 1.0).max() < 1e-3


def test_a_mesh_map_goes_both_ways() -> None:
    flat_map, _ = twisted()
    rng = np.random.default_rng(1)
    param = np.stack([rng.uniform(-1.0, 1.0, 2000), rng.uniform(0.0, 1.0, 2000)], axis=-1)
    param[:3] = [[-1.0, 0.0], [1.0, 1.0], [0.0, 0.5]]
    flat = flat_map.to_flat(param)
    assert np.abs(flat_map.to_param(flat) - param).max() < 1e-11
    # At the grid's own corners it gives the corners.
    grid = np.stack(np.meshgrid(flat_map.s, flat_map.t, indexing="ij"), axis=-1).reshape(-1, 2)
    assert np.abs(flat_map.to_flat(grid) - flat_map.corners.reshape(-1, 2)).max() < 1e-9
    low = flat_map.corners.reshape(-1, 2).min(axis=0)
    assert np.isnan(flat_map.to_param(np.array([low - 1.0, [np.nan, 0.0]]))).all()


def test_an_untwisted_patch_laid_flat_by_strips_is_the_cone_map() -> None:
    patch = panel(2000.0, 1000.0, 5000.0, "2412", 0.0, 0.0)
    lines = patch.s_lines
    s = np.concatenate([np.linspace(a, b, 20, endpoint=False) for a, b in pairwise(lines)])
    s = np.append(s, 1.0)
    t = np.linspace(0.0, 1.0, 20)
    grid = lay_flat(patch, s, t, int(np.argmin(np.abs(s))))
    exact = cone_map(patch).to_flat(np.stack(np.meshgrid(s, t, indexing="ij"), -1).reshape(-1, 2))
    assert np.abs(grid.reshape(-1, 2) - exact).max() < 0.2


def test_folds_and_overlaps_are_refused() -> None:
    square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    faces = np.array([[0, 1, 2], [0, 2, 3]], dtype=np.int32)
    check_flat(square, faces, square)
    turned = np.array([[0, 1, 2], [0, 3, 2]], dtype=np.int32)
    with pytest.raises(MapperError, match="1 of 2 triangles turn over"):
        check_flat(square, turned, square)
    with pytest.raises(MapperError, match="overlaps itself"):
        check_flat(square, faces, square[[0, 2, 1, 3]])


def test_records_come_back_and_unknown_ones_are_refused() -> None:
    param = np.array([[0.3, 0.2], [-0.4, 0.9]])
    plain = PlaneMap(np.zeros(2), np.ones(2))
    for flat_map in (cone_map(panel(900.0, 700.0, 800.0, "2412", 0.0, 5.0)), twisted()[0], plain):
        back = flat_map_from(flat_map.to_dict())
        assert np.array_equal(back.to_flat(param), flat_map.to_flat(param))
        flat = flat_map.to_flat(param)
        assert np.array_equal(back.to_param(flat), flat_map.to_param(flat), equal_nan=True)
    for read in (flat_map_from, table_from):
        with pytest.raises(MapperError, match="newer release"):
            read({"format": "cone map/9"})
