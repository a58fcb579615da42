"""True areas, masses and moments, against handbook values, identities and the slow way."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString, MultiPolygon, Point, Polygon, box

from mapper.errors import MapperError
from mapper.surface.clip import difference, intersection, rims, union, whole
from mapper.surface.measure import area, integral, mass_and_moment, whole_area
from tests.surface.examples import awkward, pipe, sheet, tapered, twisted, two_charts
from tests.surface.judge import slow_integral


def test_tapered_panel():
    """Root 2 m, tip 1 m, semispan 5 m, NACA 0012 closed, straight quarter chord: 15.29878 m2 by
    quadrature of the four-digit equation, 15.298776 by gmsh's OpenCASCADE kernel on the same loft
    (rounded to 1e-6 m2; both recomputed from the definition)."""
    skin = tapered()
    assert whole_area(skin) / 1e6 == pytest.approx(15.298776, abs=2e-6)
    assert area(skin, whole(skin)) == pytest.approx(whole_area(skin), rel=1e-7)


def test_frustum():
    """r .5 to .3 over h 1: pi (r0 + r1) sqrt(h2 + (r0 - r1)2) = 2.563047 (identity)."""
    skin = pipe(1000.0, 600.0, 1000.0)
    assert area(skin, whole(skin)) / 1e6 == pytest.approx(2.563047, abs=5e-7)
    assert whole_area(skin) / 1e6 == pytest.approx(2.563047, abs=5e-7)


@pytest.mark.parametrize("make", [twisted, two_charts, pipe, sheet])
def test_whole_region_is_the_whole_skin(make):
    skin = make()
    assert area(skin, whole(skin)) == pytest.approx(whole_area(skin), rel=2e-7)


@pytest.mark.parametrize("mirrored", [False, True])
def test_awkward_regions_agree_with_the_slow_way(mirrored):
    """Required: 1e-5 of the larger of region and .01 m2; asserted ten times closer."""
    skin = twisted(mirrored=mirrored)
    for name, region in awkward(skin).items():
        exact = slow_integral(skin, region)
        allowed = 1e-6 * max(exact, 1e4)
        assert area(skin, region) == pytest.approx(exact, abs=allowed), name


@pytest.mark.parametrize("triangles", [6000, 20_000])
def test_small_discs_at_the_nose(triangles):
    """Where patch and flat triangle differ most: 1e-5 of .01 m2, on a coarse mesh too."""
    skin = twisted(triangles)
    x0, _, x1, _ = rims(skin)[0].bounds
    for x in np.linspace(x0 + 200, x1 - 200, 5):
        for y in (-12.0, 0.0, 7.0, 30.0):
            region = Point(x, y).buffer(30, quad_segs=32)
            exact = slow_integral(skin, region)
            assert area(skin, region) == pytest.approx(exact, abs=0.1), (x, y)


def test_sums_over_charts():
    skin = two_charts()
    a = MultiPolygon([box(2500, -400, 3600, 300)])
    b = MultiPolygon([Point(3000, 100).buffer(500), Point(4200, -300).buffer(200)])
    one, two = area(skin, a), area(skin, b)
    both, either = area(skin, intersection(a, b)), area(skin, union(a, b))
    assert either == pytest.approx(one + two - both, rel=1e-7)
    assert area(skin, difference(a, b)) == pytest.approx(one - both, rel=1e-7)
    per_chart = [area(skin, intersection(a, rim)) for rim in rims(skin)]
    assert min(per_chart) > 0 and sum(per_chart) == pytest.approx(one, rel=1e-7)


def test_left_hand_part_has_the_same_areas():
    right, left = two_charts(), two_charts(mirrored=True)
    region = box(2600, 50, 3900, 600)
    turned = box(2600, -600, 3900, -50)
    assert area(left, turned) == pytest.approx(area(right, region), rel=1e-12)


def test_integral_of_one_is_the_area():
    def one(p):
        return np.ones(len(p))

    for skin in (two_charts(), tapered(), pipe()):
        for name, region in awkward(skin).items():
            assert integral(skin, region, one) == pytest.approx(
                area(skin, region), rel=1e-7, abs=1e-3
            ), name


@pytest.mark.parametrize("make", [twisted, tapered])
def test_integral_of_a_smooth_density(make):
    skin = make()

    def density(p):
        return 2.0 + np.sin(p[:, 1] / 700) * np.exp(-p[:, 0] / 900) + p[:, 2] / 300

    for name in ("holed", "round the nose", "two pieces", "one triangle"):
        region = awkward(skin)[name]
        exact = slow_integral(skin, region, density)
        assert integral(skin, region, density) == pytest.approx(exact, rel=2e-6, abs=0.02), name


def test_height_over_a_cylinder():
    """Identity: the integral of z = R cos a over the upper half of a cylinder is 2 R2 long."""
    skin = pipe()
    half = box(0, -10 * np.pi, 1000, 10 * np.pi)
    found = integral(skin, half, lambda p: p[:, 2])
    # Crossed triangles hold a curve of the third degree and more: a millionth or two.
    assert found == pytest.approx(2 * 20.0**2 * 1000, rel=3e-6)


def test_mass_and_moment_of_a_coat_on_a_plate():
    """Identity: 70 g/m2 (50 um at 1.4 g/cm3) on 600 by 400 mm is 16.8 g; its weight acts at the
    middle, 200 mm from the edge."""
    skin = sheet()
    fore = skin.points[:, 0].min()
    y0, y1 = skin.points[:, 1].min(), skin.points[:, 1].max()
    hinge = [[fore - 30, y0, 0.0], [fore - 30, y1, 0.0]]
    made = mass_and_moment(skin, whole(skin), 70.0, hinge)
    assert made.mass == pytest.approx(0.0168, rel=1e-6)
    assert made.moment == pytest.approx(0.0168 * 230, rel=1e-6)
    back = mass_and_moment(skin, whole(skin), lambda p: np.full(len(p), 70.0), hinge[::-1])
    assert back.moment == pytest.approx(made.moment, rel=1e-9)
    swept = [[fore, y0, 0.0], [fore + y1 - y0, y1, 0.0]]
    middle = np.array([fore + 200.0, y0 + 300.0])
    arm = ((middle - [fore, y0]) @ [1.0, -1.0]) / np.sqrt(2)
    turned = mass_and_moment(skin, whole(skin), 70.0, swept)
    assert turned.moment == pytest.approx(0.0168 * arm, rel=1e-6)
    nothing = mass_and_moment(skin, MultiPolygon(), 70.0, hinge)
    assert (nothing.mass, nothing.moment) == (0.0, 0.0)


@pytest.mark.parametrize(
    "hinge",
    [[[0, 0, 0]], [[0, 0, 0], [0, 0, 0]], [[0, 0, 0], [5, 0, 0]], [[0, 0, 0], [0, np.nan, 0]]],
)
def test_hinge_lines_that_are_none(hinge):
    with pytest.raises(MapperError, match="hinge line"):
        mass_and_moment(sheet(), whole(sheet()), 1.0, hinge)


@pytest.mark.parametrize(
    ("region", "words"),
    [
        (Polygon([(0, 0), (9, 9), (9, 0), (0, 9)]), "not a clean one"),
        (Polygon([(0, 0), (9, np.inf), (9, 0)]), "corner"),
        (Polygon([(0, 0), (2e7, 9), (9, 0)]), "corner at"),
        (MultiPolygon([box(0, 0, 9, 9), box(10, 0, 20, 3e7)]), "corner at"),
        (LineString([(0, 0), (1, 1)]), "LineString"),
    ],
)
def test_area_refuses(region, words):
    for measure in (area, lambda s, r: integral(s, r, lambda p: p[:, 0])):
        with pytest.raises(MapperError, match=words):
            measure(twisted(), region)


def test_empty_regions_have_no_area():
    for skin in (twisted(), pipe()):
        assert area(skin, MultiPolygon()) == 0.0
        assert integral(skin, MultiPolygon(), lambda p: p[:, 0]) == 0.0
