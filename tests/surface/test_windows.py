"""Exact distances over nets: against closed forms and against pygeodesic on the same polyhedron."""

from __future__ import annotations

import numpy as np
import pytest

from mapper.errors import MapperError
from mapper.surface import intrinsic
from mapper.surface.brush import from_point
from mapper.surface.hub import hub_inside
from mapper.surface.intrinsic import net_of
from mapper.surface.skin import Glue
from tests.surface.examples import pipe, tapered, twisted
from tests.surface.round_skins import bumpy, cube, exact_judge, sphere


def _from_corner(net, corner, limit=np.inf):
    m, k = divmod(int(net.corner[corner]), 3)
    return from_point(net, hub_inside(net, m, np.eye(3)[k]), limit)


def test_corners_of_a_cube():
    """Closed form: over two unit squares unfolded, sqrt(1 + 2**2) from corner to far corner; 1 and
    sqrt 2 to the others."""
    distance = _from_corner(net_of(cube(), chords=True), 0)
    wanted = [0, 1, 1, np.sqrt(2), 1, np.sqrt(2), np.sqrt(2), np.sqrt(5)]
    assert distance == pytest.approx(np.array(wanted), abs=1e-6)


@pytest.mark.parametrize("hole", [False, True])
@pytest.mark.parametrize("seed", range(4))
def test_rough_sheets_against_pygeodesic(seed, hole):
    skin = bumpy(seed=seed, hole=hole)
    judge, net = exact_judge(skin)
    used = np.unique(net.vertex)
    for corner in (used[0], used[len(used) // 3], used[-1]):
        ours = _from_corner(net, corner)[used]
        assert ours == pytest.approx(judge(corner)[used], abs=2e-6)


def test_a_level_grid_whose_corners_stand_in_line():
    """Rays run through row after row of corners; none of them may slip between two windows."""
    skin = bumpy(size=12, hole=False, height=0.0)
    net = net_of(skin, chords=True)
    for corner in (0, 40, 77):
        wanted = np.linalg.norm(skin.points - skin.points[corner], axis=1)
        assert _from_corner(net, corner) == pytest.approx(wanted, abs=2e-6)


@pytest.mark.parametrize(
    "skin",
    [sphere(around=24, along=12), pipe(), twisted(triangles=1500)],
    ids=["sphere", "pipe", "twisted"],
)
def test_skins_with_glue_against_pygeodesic(skin):
    judge, net = exact_judge(skin)
    used = np.unique(net.vertex)
    for corner in (used[5], used[len(used) // 2]):
        ours = _from_corner(net, corner)[used]
        assert ours == pytest.approx(judge(corner)[used], abs=5e-6)


def test_a_limit_leaves_the_near_ones_exact():
    net = net_of(bumpy(), chords=True)
    whole, near = _from_corner(net, 3), _from_corner(net, 3, 5.0)
    assert near[whole < 4.9] == pytest.approx(whole[whole < 4.9])
    # Beyond it a number may stand as an upper bound; most of the sheet is left alone.
    assert np.all(near >= whole - 1e-12)
    assert np.isinf(near[whole > 9.0]).all()


def test_sides_are_as_long_as_arcs_on_a_sphere_and_as_the_flat_map_where_it_is_exact():
    """Closed form: R times the angle between two corners; the developed plane of a cone."""
    skin = sphere()
    net = net_of(skin)
    unit = skin.points[skin.triangles] / 1000.0
    for k in range(3):
        a, b = unit[:, (k + 1) % 3], unit[:, (k + 2) % 3]
        arc = 1000.0 * np.arccos(np.clip(np.sum(a * b, axis=1), -1, 1))
        side = np.linalg.norm(net.lay[:, (k + 1) % 3] - net.lay[:, (k + 2) % 3], axis=1)
        assert side == pytest.approx(arc, rel=1e-6)
    cone = net_of(tapered(triangles=1000))
    for k in range(3):
        a, b = (k + 1) % 3, (k + 2) % 3
        flat = np.linalg.norm(cone.flat[:, a] - cone.flat[:, b], axis=1)
        assert np.linalg.norm(cone.lay[:, a] - cone.lay[:, b], axis=1) == pytest.approx(flat)


def test_angles_about_corners():
    """Gauss and Bonnet: what angles miss of full turns adds up to 4 pi on a closed cube; on a tube
    nothing is missing, and its closing seam is no edge."""
    assert -net_of(cube(), chords=True).turning.sum() == pytest.approx(4 * np.pi)
    net = net_of(pipe())
    assert net.turning[np.unique(net.vertex)] == pytest.approx(0.0, abs=1e-9)
    ends = np.unique(net.vertex[np.any(net.opp < 0, axis=1)])
    assert net.at_edge.sum() < len(ends)
    assert np.sum(net.opp < 0) == np.sum(net.at_edge)


def test_the_trailing_edge_is_cut_and_the_nose_is_not():
    skin = tapered(triangles=1000)
    net = net_of(skin)
    on_edge = skin.chord[np.flatnonzero(net.at_edge)]
    assert np.sum(on_edge > 99.9) > 10
    nose = np.flatnonzero((skin.chord < 1e-9) & (skin.station > 100) & (skin.station < 4900))
    assert len(nose) and not net.at_edge[nose].any()


def test_glue_that_does_not_meet_corner_to_corner_is_refused(monkeypatch):
    skin = sphere(around=24, along=12)
    odd = type(skin)(**{**skin.__dict__, "glue": (Glue(0, "s0", 0, "t1"),)})
    with pytest.raises(MapperError, match="corner to corner"):
        net_of(odd)
    # A joint that turns the sheet over, or joins three triangles at a side, is no sheet.
    vertex = np.array([[0, 1, 2], [0, 1, 3]], np.int32)
    with pytest.raises(MapperError, match="turns over"):
        intrinsic._neighbours("odd", vertex)
    vertex = np.array([[0, 1, 2], [1, 0, 3], [0, 1, 4]], np.int32)
    with pytest.raises(MapperError, match="More than two"):
        intrinsic._neighbours("odd", vertex)
