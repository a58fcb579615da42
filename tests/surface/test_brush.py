"""Discs in true distance: against closed forms, quadrature and pygeodesic."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from shapely import MultiPolygon, Point

from mapper.errors import MapperError
from mapper.surface import region
from mapper.surface.brush import fan_disc
from mapper.surface.build import make_skin
from mapper.surface.clip import clean, difference, rims, union, whole
from mapper.surface.fan import Fan
from mapper.surface.hub import hub_inside
from mapper.surface.measure import area
from mapper.surface.place import flat_of, place_of
from meshes.loft import LoftSection, loft
from meshes.plate import plate
from meshes.sections import Naca4
from tests.surface.examples import pipe, sheet, tapered, twisted, two_charts
from tests.surface.round_skins import at_place, exact_judge, sphere

R = 1000.0


def _cap(radius: float) -> float:
    """Closed form: 2 pi R2 (1 - cos(r / R))."""
    return 2 * np.pi * R * R * (1 - np.cos(radius / R))


@pytest.mark.parametrize("radius", [50.0, 300.0, 700.0])
@pytest.mark.parametrize("place", [(0.0, 0.0), (0.5, 0.3), (3.0, -0.2), (np.pi, 0.4)])
def test_caps_of_a_sphere(place, radius):
    """On 40,000 triangles, over the closing seam and about a point on it."""
    skin = sphere(around=200, along=100)
    disc = fan_disc(skin, at_place(skin, *place), radius)
    assert area(skin, disc) == pytest.approx(_cap(radius), rel=1.3e-4)


def test_caps_converge_with_the_square_of_the_triangles_size():
    miss = []
    for along in (25, 50, 100):
        skin = sphere(around=2 * along, along=along)
        found = area(skin, fan_disc(skin, at_place(skin, 0.5, 0.3), 600.0))
        miss.append(abs(found / _cap(600.0) - 1))
    rates = np.log2(np.array(miss[:-1]) / miss[1:])
    assert np.all(rates > 1.8), miss


@pytest.mark.parametrize("angle", [0.0, 0.9, np.pi - 0.2, np.pi, -np.pi])
def test_discs_on_a_cylinder(angle):
    """Identity: pi r2, over the closing seam too; the triangles do not show."""
    skin = pipe()
    disc = fan_disc(skin, (500.0, 20.0 * angle), 35.0)
    assert area(skin, disc) == pytest.approx(np.pi * 35**2, rel=1e-5)
    assert disc.is_valid


def test_a_disc_that_meets_itself_behind_a_thin_tube_counts_once():
    """Identity: points of a cylinder within r > pi R of one: 2 int sqrt(r2 - v2), |v| < pi R."""
    skin, r, half = pipe(), 80.0, 20 * np.pi
    exact = quad(lambda v: 2 * np.sqrt(r * r - v * v), -half, half)[0]
    for y in (0.0, half, 30.0):
        assert area(skin, fan_disc(skin, (500.0, y), r)) == pytest.approx(exact, rel=5e-6)


@pytest.mark.parametrize(
    ("centre", "share"), [((0, 0), 1 / 4), ((300, 0), 1 / 2), ((600, 250), 1 / 2), ((40, 300), 1)]
)
def test_centres_on_an_edge_and_in_a_corner(centre, share):
    skin = sheet()
    disc = fan_disc(skin, centre, 40.0)
    assert area(skin, disc) == pytest.approx(share * np.pi * 1600, rel=1e-5)


def test_centres_on_corners_and_sides_of_triangles():
    """pi r2 wherever the centre is; a level sheet has nothing else to say."""
    skin = sheet()
    ends = skin.flat[skin.triangles[np.linspace(0, len(skin.triangles) - 1, 12).astype(int)]]
    for corners in ends:
        for at in (corners[0], 0.5 * (corners[0] + corners[1])):
            round_ = shapely.intersection(Point(at).buffer(30, quad_segs=400), rims(skin)[0])
            found = area(skin, fan_disc(skin, at, 30.0))
            assert found == pytest.approx(round_.area, rel=2e-5)


def _behind_a_hole(radius: float, hole: float, off: float) -> float:
    """Area of a disc whose centre is `off` from the middle of a round hole, both wraps apart.

    Closed form: ways past a circle of radius R run straight to it, round it and off along a
    tangent; with L the tangent's length and b = asin(R / off) the visible part has the area
    r2 (pi - b) + L R - R2 acos(R / off), each wrap int (r - L - R u)2 / 2 du = (r - L)3 / (6 R).
    """
    tangent = np.sqrt(off**2 - hole**2)
    seen = radius**2 * (np.pi - np.arcsin(hole / off)) + tangent * hole
    return seen - hole**2 * np.arccos(hole / off) + (radius - tangent) ** 3 / (3 * hole)


def test_the_shadow_of_an_opening():
    skin = sheet()
    hole = MultiPolygon([Point(320, 200).buffer(50, quad_segs=180)])
    exact = _behind_a_hole(110.0, 50.0, 90.0)
    for disc in (fan_disc, region.disc):
        found = disc(skin, (230.0, 200.0), 110.0, hole)
        assert area(skin, found) == pytest.approx(exact, rel=5e-5)
        assert shapely.intersection(found, hole).area < 5e-3
    # Without ways round it .6 % would be missing, and through it 17 % too much would be counted.
    straight = exact - (110.0 - np.sqrt(90.0**2 - 50.0**2)) ** 3 / 150
    assert straight < 0.997 * exact
    assert np.pi * 110.0**2 > 1.1 * exact


def test_a_notch_in_the_outline_is_gone_round():
    """Closed form: a slot 2 mm wide from the edge to past the centre: behind its corner a quarter
    turn and more of what is left of the radius."""
    ring = [[0, 0], [600, 0], [600, 400], [301, 400], [301, 200], [299, 200], [299, 400], [0, 400]]
    skin = make_skin(plate(np.array(ring, float))[0])
    flat = skin.flat
    middle = 0.5 * (flat.min(axis=0) + flat.max(axis=0))
    # The slot's end lies in the plate's middle; its direction is found from the rim.
    tip = np.array([[299.0, 200.0], [301.0, 200.0]])
    assert np.allclose(middle, [300.0, 200.0])
    centre = np.array([259.0, 260.0])
    near = np.hypot(*(tip[0] - centre))
    exact_straight = np.pi * 100.0**2
    found = region.disc(skin, centre, 100.0)
    left = shapely.intersection(found, shapely.box(0, 0, 299, 400))
    right = shapely.intersection(found, shapely.box(301, 0, 600, 400))
    half = shapely.intersection(
        Point(centre).buffer(100, quad_segs=400), shapely.box(0, 0, 299, 400)
    )
    assert left.area == pytest.approx(half.area, rel=1e-4)

    # Right of the slot: seen below the line from the centre past the near tip, or from the far tip.
    def far(x, y):
        direct = np.hypot(x - centre[0], y - centre[1])
        slope = (200.0 - centre[1]) / (299.0 - centre[0])
        seen = (y - centre[1]) <= slope * (x - centre[0])
        seen2 = y <= 200.0 + 0.0 * x
        by_near = near + np.hypot(x - 299.0, y - 200.0)
        by_both = near + 2.0 + np.hypot(x - 301.0, y - 200.0)
        return np.where(seen, direct, np.where(seen2, by_near, by_both))

    x, y = np.meshgrid(np.linspace(301, 371, 1401), np.linspace(130, 270, 2801), indexing="ij")
    cell = (70 / 1400) * (140 / 2800)
    counted = np.sum(far(x, y) <= 100.0) * cell
    assert right.area == pytest.approx(counted, rel=2e-3)
    assert found.area < 0.9 * exact_straight


def test_nothing_crosses_a_thin_trailing_edge():
    """A disc 20 mm from the trailing edge, where the lower side is under 1 mm away in space."""
    skin = tapered()
    at = flat_of(skin, 2500.0, 98.7, True)[0]
    for disc in (fan_disc, region.disc):
        found = disc(skin, at, 60.0)
        places = place_of(skin, shapely.get_coordinates(found))
        assert places.chord.max() > 99.99
        assert places.upper.all()
        assert area(skin, found) < 0.85 * np.pi * 60.0**2


def test_a_disc_larger_than_the_part_is_the_part():
    for skin in (sheet(), pipe(), twisted(triangles=1500)):
        middle = skin.flat[skin.triangles[len(skin.triangles) // 2]].mean(axis=0)
        everything = area(skin, whole(skin))
        assert area(skin, fan_disc(skin, middle, 4e3)) == pytest.approx(everything, rel=1e-4)


@pytest.mark.parametrize("skin", [twisted(triangles=6000), sphere(around=60, along=30)])
def test_corners_of_triangles_lie_inside_when_pygeodesic_says_they_are_near(skin):
    """The fan over the polyhedron itself, sides as long as in space, judged corner by corner."""
    judge, net = exact_judge(skin)
    used = np.unique(net.vertex)
    corner = int(used[len(used) // 2 + 7])
    m, k = divmod(int(net.corner[corner]), 3)
    far = judge(corner)
    radius = float(np.quantile(far[used], 0.3)) * 0.6
    pieces, _ = Fan(skin, net, hub_inside(net, m, np.eye(3)[k]), radius).pieces()
    disc = union(*(clean(p) for p in pieces))
    points = net.flat.reshape(-1, 2)
    number = net.vertex.ravel()
    clear = np.abs(far[number] - radius) > 0.1
    held = shapely.intersects_xy(disc.buffer(1e-3), points)
    assert np.array_equal(held[clear], far[number][clear] < radius)
    assert 50 < np.sum(held) < 0.5 * len(held)


def test_discs_over_a_crease_agree_with_the_flat_fan():
    """Two ways to one disc: over the net's triangles, and straight on the flat map."""
    skin = two_charts()
    for centre in ((2950.0, 60.0), (2900.0, -400.0)):
        one = fan_disc(skin, centre, 120.0)
        other = region.flat_disc(skin, centre, 120.0)
        off = area(skin, difference(one, other)) + area(skin, difference(other, one))
        assert off < 1e-3 * area(skin, other)


def test_region_disc_takes_the_exact_way_where_it_may(monkeypatch):
    taken = []
    monkeypatch.setattr(region, "flat_disc", lambda *a: taken.append("flat"))
    monkeypatch.setattr(region, "fan_disc", lambda *a: taken.append("fan"))
    region.disc(tapered(), (2000.0, 200.0), 60.0)
    region.disc(pipe(), (0.0, 0.0), 30.0)
    region.disc(twisted(), (1700.0, 250.0), 60.0)
    hole = MultiPolygon([Point(2030.0, 200.0).buffer(10)])
    region.disc(tapered(), (2000.0, 200.0), 60.0, hole)
    region.disc(tapered(), (2000.0, 200.0), 10.0, hole)
    assert taken == ["flat", "flat", "fan", "fan", "flat"]


@settings(max_examples=15, deadline=None)
@given(
    s=st.floats(-3.14, 3.14),
    t=st.floats(-1.1, 1.1),
    small=st.floats(5.0, 400.0),
    more=st.floats(1.05, 2.0),
)
def test_a_disc_lies_in_a_larger_one(s, t, small, more):
    skin = sphere(around=60, along=30)
    at = at_place(skin, s, t)
    inner, outer = fan_disc(skin, at, small), fan_disc(skin, at, small * more)
    assert inner.is_valid and outer.is_valid
    # Each may be off by a ten-thousandth of its own area: that is how well a disc is asked for.
    allowed = 1e-4 * (area(skin, inner) + area(skin, outer))
    assert area(skin, difference(inner, outer)) <= allowed


@pytest.mark.parametrize("mirrored", [False, True])
def test_the_left_hand_part_has_the_mirror_image(mirrored):
    right, left = twisted(triangles=4000), twisted(triangles=4000, mirrored=True)
    one = fan_disc(right, (1700.0, 40.0), 200.0)
    other = fan_disc(left, (1700.0, -40.0), 200.0)
    assert area(left, other) == pytest.approx(area(right, one), rel=1e-6)
    # Round the nose: both sides of the section are in it.
    assert set(place_of(right, shapely.get_coordinates(one)).upper) == {True, False}


@pytest.mark.parametrize(
    ("centre", "radius", "words"),
    [
        ((np.nan, 0), 5, "disc"),
        ((0, 0, 0), 5, "disc"),
        ((500, 0), -1, "above 0"),
        ((500, 0), np.nan, "above 0"),
        ((5000, 0), 5, "off skin"),
    ],
)
def test_refusals(centre, radius, words):
    for disc in (fan_disc, region.disc):
        with pytest.raises(MapperError, match=words):
            disc(pipe(), centre, radius)


def test_a_centre_in_an_opening_is_refused():
    hole = MultiPolygon([Point(300, 200).buffer(50)])
    for x in (300.0, 349.0):
        with pytest.raises(MapperError, match="no sheet"):
            region.disc(sheet(), (x, 200.0), 20.0, hole)


def test_a_fold_of_lines_is_made_good():
    """Past the far side of a tube's closed end of a loft the lines cross; the union stays valid."""
    sections = [
        LoftSection(0, 400, Naca4("0018")),
        LoftSection(600, 300, Naca4("0018"), twist=-2.0),
    ]
    skin = make_skin(loft(sections)[0], triangles=4000)
    found = fan_disc(skin, (300.0, 0.0), 350.0)
    assert found.is_valid
    assert 0.5 * area(skin, whole(skin)) < area(skin, found) <= area(skin, whole(skin)) * 1.0001
