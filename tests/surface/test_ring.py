"""Discs whose lines meet nothing, followed all together, against the same lines one by one."""

from __future__ import annotations

import numpy as np
import pytest

from mapper.surface import brush, ring, trace
from mapper.surface.brush import fan_disc
from mapper.surface.build import make_skin
from mapper.surface.fan import rays_for, reach_of
from mapper.surface.intrinsic import net_of
from meshes.loft import LoftSection, loft
from meshes.sections import Naca4
from meshes.tube import tube
from tests.surface.round_skins import at_place, sphere


def _wing():
    sections = [
        LoftSection(0, 1600, Naca4("2412")),
        LoftSection(3500, 1000, Naca4("0009"), twist=-3.0, dihedral=5.0),
    ]
    return make_skin(loft(sections)[0], triangles=6000)


CASES = {
    "wing, in a triangle": (_wing, np.array([1700.0, 420.0]), [2.0, 40.0, 300.0]),
    "ball": (lambda: sphere(1000.0, around=80, along=40), (0.5, 0.3), [5.0, 200.0, 500.0]),
    "tube": (
        lambda: make_skin(tube(120.0, 120.0, 900.0)[0], triangles=3000),
        np.array([450.0, 3.0]),
        [2.0, 30.0],
    ),
}


@pytest.fixture(scope="module", params=CASES)
def case(request):
    make, at, radii = CASES[request.param]
    skin = make()
    return skin, at_place(skin, *at) if isinstance(at, tuple) else at, radii


def _one_by_one(skin, at, radius, monkeypatch):
    with monkeypatch.context() as patch:
        patch.setattr(brush, "_plain_disc", lambda *_: None)
        return fan_disc(skin, at, radius)


def test_same_ring_as_lines_one_by_one(case, monkeypatch):
    skin, at, radii = case
    corner = skin.flat[np.argmin(np.hypot(*(skin.flat - at).T))]
    side = 0.5 * (corner + skin.flat[np.argsort(np.hypot(*(skin.flat - corner).T))[1]])
    for radius in radii:
        for centre in (at, corner, side):
            assert brush._plain_disc(skin, net_of(skin), centre, radius) is not None
            ours = fan_disc(skin, centre, radius)
            theirs = _one_by_one(skin, centre, radius, monkeypatch)
            assert len(ours.geoms) == 1
            # Rounded to a grid of .0001 mm, where two ways of reckoning may part.
            np.testing.assert_allclose(
                np.asarray(ours.geoms[0].exterior.coords),
                np.asarray(theirs.geoms[0].exterior.coords),
                rtol=0,
                atol=1.1e-4,
            )


def _ends(net, at, radius):
    found, shares = trace.locate(net.flat, net.start, net.cells, net.low, net.size, at[None])
    known, count = ring.unfolding_of(net), rays_for(radius)
    return ring.ends(
        known.across, known.apex, net.lay, net.flat, int(found[0]), shares[0], 1e-9, count,
        radius * reach_of(count), 1e-4,
    )  # fmt: skip


def test_area_between_the_ends_is_the_circles():
    """On a tube, flat without stretch: pi r2, and every end as far as its corner reaches."""
    skin = make_skin(tube(1200.0, 1200.0, 3000.0)[0], triangles=3000)
    at = np.array([1500.0, 100.0])
    points, apart, double = _ends(net_of(skin), at, 250.0)
    assert 0.5 * double == pytest.approx(np.pi * 250.0**2, rel=1e-9)
    away = np.hypot(*(points - at).T)
    count = len(points) - 1
    np.testing.assert_allclose(away, 250.0 * reach_of(count), atol=1e-4)
    assert apart == pytest.approx(2 * 250.0 * reach_of(count) * np.sin(np.pi / count), rel=1e-6)


def test_nothing_where_a_line_meets_an_edge_or_goes_over_a_seam():
    skin = make_skin(tube(1200.0, 1200.0, 3000.0)[0], triangles=3000)
    near_edge = np.array([100.0, 100.0])
    near_seam = np.array([1500.0, skin.flat[:, 1].max() - 1.0])
    for at in (near_edge, near_seam):
        assert len(_ends(net_of(skin), at, 150.0)[0]) == 0
        # Asked of the lines one by one, it is a disc for all that.
        assert fan_disc(skin, at, 150.0).area > 0.5 * np.pi * 150.0**2
