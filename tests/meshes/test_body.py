"""Bodies of cross-sections against closed forms: frustum, oblique cone, box, and the ellipse's
girth by the complete elliptic integral of scipy."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import ellipe

from mapper.surface.build import make_skin
from mapper.surface.lines import station_line
from mapper.surface.measure import area, length, whole_area
from mapper.surface.place import flat_at_space, place_of, space_of
from mapper.surface.region import box, whole
from mapper.surface.round import angle_box, angle_line, flat_at_angle, height_line
from mapper.surface.stretch import worst_stretch
from meshes.body import BodyPatch, body, bulkhead
from meshes.errors import ShapeError
from meshes.records import patch_from
from meshes.rings import BoxRing, EllipseRing, OrdinateRing, girth

RINGS = (
    EllipseRing(0.0, 900.0, 1000.0),
    BoxRing(700.0, 1100.0, 1300.0, 200.0, 50.0),
    EllipseRing(2500.0, 300.0, 500.0, 200.0),
)


def round_half(radius: float, count: int) -> np.ndarray:
    turn = np.linspace(0.0, np.pi, count)
    points = radius * np.stack([np.sin(turn), np.cos(turn)], axis=-1)
    points[[0, -1], 0] = 0.0
    return points


def test_two_circles_are_the_frustum() -> None:
    """r .5 -> .3 over h 1: pi (r0 + r1) sqrt(h^2 + (r0 - r1)^2) = 2.563047 m2, identity."""
    skins = [
        make_skin(sheet)
        for sheet in body(
            [EllipseRing(0.0, 1000.0, 1000.0), EllipseRing(1000.0, 600.0, 600.0)],
            front=True,
            aft=True,
        )
    ]
    assert [skin.name for skin in skins] == ["skin", "front end", "aft end"]
    assert whole_area(skins[0]) == pytest.approx(2_563_047.0, abs=0.5)
    exact = math.pi * 800.0 * math.hypot(1000.0, 200.0)
    assert whole_area(skins[0]) == pytest.approx(exact, rel=1e-12)
    assert whole_area(skins[1]) == pytest.approx(math.pi * 500.0**2, rel=1e-9)
    assert worst_stretch(skins[0]).area_percent == 0.0
    part = area(skins[0], angle_box(skins[0], angles=(300.0, 60.0)))
    assert part == pytest.approx(exact / 3.0, rel=1e-6)
    both = angle_box(skins[0], angles=(90.0, 270.0), stations=(0.0, 500.0))
    assert area(skins[0], both) == pytest.approx(0.5 * math.pi * 900.0 * 509.902, rel=2e-6)


def test_a_straight_elliptic_body_is_its_girth_times_its_length() -> None:
    """Girth 4 a E(1 - b^2 / a^2), complete elliptic integral of the second kind."""
    (sheet,) = body([EllipseRing(0.0, 600.0, 1000.0), EllipseRing(800.0, 600.0, 1000.0)])
    exact = 4.0 * 500.0 * float(ellipe(1.0 - 0.36)) * 800.0
    assert whole_area(make_skin(sheet)) == pytest.approx(exact, rel=1e-10)


def test_a_rounded_box_has_the_girth_of_its_flats_and_one_circle() -> None:
    ring = BoxRing(0.0, 900.0, 700.0, 120.0)
    exact = 2 * (900.0 - 240.0) + 2 * (700.0 - 240.0) + 2 * math.pi * 120.0
    assert girth(ring) == pytest.approx(exact, rel=1e-12)
    (sheet,) = body([ring, BoxRing(500.0, 900.0, 700.0, 120.0)])
    skin = make_skin(sheet)
    assert whole_area(skin) == pytest.approx(500.0 * exact, rel=1e-12)
    plate = bulkhead(sheet.patches[0], 0.5, "frame")
    inside = 900.0 * 700.0 - (4.0 - math.pi) * 120.0**2
    assert whole_area(make_skin(plate)) == pytest.approx(inside, rel=1e-7)


def test_ordinates_of_a_circle_come_near_it_at_fourth_order() -> None:
    miss = []
    for count in (7, 13, 25):
        ring = OrdinateRing(0.0, round_half(500.0, count))
        assert ring.centre == (0.0, 0.0)
        miss.append(abs(girth(ring) / (2 * math.pi * 500.0) - 1.0))
    orders = np.log2(np.array(miss[:-1]) / np.array(miss[1:]))
    assert (orders > 3.7).all(), miss
    assert miss[-1] < 1e-6


def test_the_area_of_any_body_is_that_of_many_flat_triangles() -> None:
    (sheet,) = body(RINGS)
    total = 0.0
    for patch in sheet.patches:
        s, t = np.meshgrid(np.linspace(-1, 1, 2401), np.linspace(0, 1, 201), indexing="ij")
        p = patch.at(s, t)
        one = np.cross(p[1:, :-1] - p[:-1, :-1], p[:-1, 1:] - p[:-1, :-1])
        two = np.cross(p[1:, :-1] - p[1:, 1:], p[:-1, 1:] - p[1:, 1:])
        total += 0.5 * float(
            np.linalg.norm(one, axis=-1).sum() + np.linalg.norm(two, axis=-1).sum()
        )
    skin = make_skin(sheet)
    assert whole_area(skin) == pytest.approx(total, rel=2e-6)
    assert area(skin, whole(skin)) == pytest.approx(whole_area(skin), rel=1e-6)
    assert skin.flat.shape[0] and len(skin.triangles) <= 20_000


@pytest.mark.parametrize("mirrored", [False, True])
def test_a_place_has_a_station_and_an_angle_and_is_found_again(mirrored: bool) -> None:
    skin = make_skin(body(RINGS, datum=100.0)[0], mirrored=mirrored, triangles=6_000)
    stations = np.array([150.0, 500.0, 1500.0, 2400.0])
    angles = np.array([45.0, 90.0, 200.0, 330.0])
    flat = flat_at_angle(skin, stations, angles)
    places = place_of(skin, flat)
    assert places.station == pytest.approx(stations, abs=1e-6)
    assert places.angle == pytest.approx(angles, abs=1e-9)
    assert np.isnan(places.chord).all()
    space = space_of(skin, flat)
    assert space[:, 0] == pytest.approx(stations - 100.0, abs=1e-6)
    # 90 degrees is outboard on both hands, 330 inboard.
    assert np.sign(space[1, 1]) == (-1.0 if mirrored else 1.0)
    assert np.sign(space[3, 1]) == (1.0 if mirrored else -1.0)
    again, distance = flat_at_space(skin, space)
    assert again == pytest.approx(flat, abs=1e-5)
    assert distance == pytest.approx(0.0, abs=1e-8)
    off = flat_at_angle(skin, [50.0, 150.0], [10.0, np.nan])
    assert np.isnan(off).all()
    assert np.isnan(place_of(skin, [[-1e5, 0.0]]).angle).all()


def test_angles_all_round_leave_nothing_out() -> None:
    skin = make_skin(body(RINGS[:2])[0], triangles=4_000)
    parts = [area(skin, angle_box(skin, angles=(a, a + 90))) for a in (30, 120, 210, 300)]
    assert sum(parts) == pytest.approx(whole_area(skin), rel=1e-6)
    half = area(skin, box(skin, stations=(0.0, 350.0)))
    assert half < 0.5 * whole_area(skin)


def test_lines_lie_where_they_say() -> None:
    skin = make_skin(body(RINGS)[0], triangles=6_000)
    for piece in angle_line(skin, 60.0).geoms:
        at = place_of(skin, np.array(piece.coords))
        assert at.angle == pytest.approx(60.0, abs=1e-6)
    waterline = height_line(skin, 100.0, "outboard")
    assert len(waterline.geoms) == 2
    for piece in waterline.geoms:
        space = space_of(skin, np.array(piece.coords))
        assert space[:, 2] == pytest.approx(100.0, abs=1e-4)
        assert (space[:, 1] >= -1e-6).all()
    # Above the first ring's top the line begins part of the way along.
    high = height_line(skin, 600.0, "inboard")
    start = space_of(skin, np.array(high.geoms[0].coords)[:1])[0]
    assert start[0] == pytest.approx(350.0, abs=0.01)
    assert height_line(skin, 5000.0).is_empty
    ring = station_line(skin, 0.0)
    assert length(skin, ring) == pytest.approx(girth(RINGS[0]), rel=1e-6)


def test_an_open_strip_has_stations_and_no_angle() -> None:
    points = np.array([[95.0, 2.0], [60.0, 6.0], [30.0, 18.0], [12.0, 40.0], [2.0, 78.0]])
    (sheet,) = body([OrdinateRing(0.0, points, True), OrdinateRing(400.0, points, True)])
    skin = make_skin(sheet)
    assert whole_area(skin) == pytest.approx(400.0 * girth(sheet.patches[0].curve0), rel=1e-10)
    assert skin.glue == ()
    assert np.isnan(place_of(skin, skin.flat[:5]).angle).all()
    assert angle_line(skin, 30.0).is_empty
    outward = sheet.patches[0].outward(0.0, 0.5)
    assert outward[1] > 0 and outward[2] > 0
    with pytest.raises(ShapeError):
        body([OrdinateRing(0.0, points, True), OrdinateRing(4.0, points, True)], front=True)


def test_records_give_the_same_body_to_the_last_bit() -> None:
    rings = (*RINGS, OrdinateRing(3000.0, round_half(100.0, 9) + np.array([0.0, 220.0])))
    (sheet,) = body(rings)
    for patch in sheet.patches:
        again = patch_from(patch.to_dict())
        s, t = np.random.default_rng(4).uniform(-1, 1, 50), np.linspace(0, 1, 50)
        assert isinstance(again, BodyPatch)
        assert np.array_equal(again.at(s, t), patch.at(s, t))
        assert np.array_equal(again.angle(s, t), patch.angle(s, t))


@pytest.mark.parametrize("ring", [*RINGS[:2], OrdinateRing(0.0, round_half(300.0, 9))])
def test_derivatives_are_those_of_the_points(ring: BoxRing) -> None:
    s = np.setdiff1d(np.linspace(-0.99, 0.99, 397), ring.kinks)
    step = 1e-6
    rough = (ring.at(s + step) - ring.at(s - step)) / (2 * step)
    assert np.abs(ring.d(s) - rough).max() < 1e-5 * np.abs(rough).max()


@pytest.mark.parametrize(
    ("make", "field"),
    [
        (lambda: EllipseRing(0.0, 0.0, 10.0), "width"),
        (lambda: EllipseRing(0.0, 10.0, float("inf")), "depth"),
        (lambda: BoxRing(0.0, 100.0, 80.0, 40.0), "corner"),
        (lambda: OrdinateRing(0.0, round_half(10.0, 3)), "points"),
        (lambda: OrdinateRing(0.0, round_half(10.0, 7)[::-1]), "points"),
        (lambda: OrdinateRing(0.0, round_half(10.0, 7)[:-1]), "points"),
        (lambda: body(RINGS[:1]), "sections"),
        (lambda: body([RINGS[1], RINGS[0]]), "sections[1].station"),
        (
            lambda: body([RINGS[0], OrdinateRing(9.0, round_half(1.0, 7), True)]),
            "sections[1].points",
        ),
        (
            lambda: body(
                [
                    RINGS[0],
                    OrdinateRing(9.0, [[0, 9], [9, 8], [1, 4], [9, 4.2], [9, 0], [0, -9]]),
                ]
            ),
            "sections[1].points",
        ),
    ],
)
def test_what_makes_no_body_names_its_parameter(make: object, field: str) -> None:
    with pytest.raises(ShapeError) as caught:
        make()  # type: ignore[operator]
    assert caught.value.field == field
