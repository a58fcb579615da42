"""Places found both ways: station, % chord and side; flat; parameters; space."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mapper.errors import MapperError
from mapper.surface.build import make_skin
from mapper.surface.place import (
    flat_at_space,
    flat_of,
    flat_of_param,
    normal_of,
    param_of_flat,
    place_of,
    points_of,
    space_of,
)
from meshes.cover import skin_cover
from meshes.loft import LoftPlan, LoftSection, loft
from meshes.plate import plate
from meshes.rib import rib
from meshes.sections import Naca4
from meshes.tube import tube

THREE = (
    LoftSection(600.0, 1800.0, Naca4("2412")),
    LoftSection(2000.0, 1500.0, Naca4("2412"), dihedral=2.0),
    LoftSection(5000.0, 900.0, Naca4("4409"), twist=-3.0, dihedral=5.0),
)
WING = make_skin(loft(THREE, datum=600.0)[0], triangles=6000)
LEFT = make_skin(loft(THREE, datum=600.0)[0], mirrored=True, triangles=6000)
PLATE = make_skin(plate([[0, 0], [500, 0], [500, 300], [250, 100], [0, 300]], datum=5.0)[0])


@settings(max_examples=80, deadline=None)
@given(
    station=st.floats(600.0, 5000.0),
    chord=st.floats(0.0, 100.0),
    upper=st.booleans(),
    left=st.booleans(),
)
def test_place_flat_space_and_back(station, chord, upper, left) -> None:
    skin = LEFT if left else WING
    flat = flat_of(skin, station, chord, upper)
    place = place_of(skin, flat)
    assert place.chart[0] >= 0
    # Stations within a millionth of a mm of a section count as that section's.
    assert place.station[0] == pytest.approx(station, abs=2e-6)
    assert place.chord[0] == pytest.approx(chord, abs=1e-8)
    # Points within 1e-6 % of an edge of the section may count with either side.
    assert bool(place.upper[0]) == upper or chord < 1e-6
    xyz = space_of(skin, flat)
    assert xyz[0, 1] == pytest.approx((600.0 - station) if left else (station - 600.0), abs=2e-6)
    back, distance = flat_at_space(skin, xyz)
    assert distance[0] < 1e-9
    # On glue the same point of space has a flat place on either chart: compare in space.
    assert np.abs(space_of(skin, back) - xyz).max() < 1e-9


@settings(max_examples=40, deadline=None)
@given(
    tip=st.floats(300.0, 2500.0),
    twist=st.sampled_from([0.0, 0.0, -4.0, 3.0]),
    digits=st.sampled_from(["0012", "2412", "6409"]),
    chord=st.floats(0.5, 99.5),
    share=st.floats(0.0, 1.0),
)
def test_random_tapers_go_round(tip, twist, digits, chord, share) -> None:
    sections = [
        LoftSection(0.0, 1200.0, Naca4("2412")),
        LoftSection(3000.0, tip, Naca4(digits), twist=twist, sweep=5.0),
    ]
    skin = make_skin(loft(sections)[0], triangles=600)
    flat = flat_of(skin, 3000.0 * share, [chord, chord], [True, False])
    places = place_of(skin, flat)
    assert np.allclose(places.station, 3000.0 * share, atol=2e-6)
    assert np.allclose(places.chord, chord, atol=1e-8) and places.upper.tolist() == [True, False]
    back, distance = flat_at_space(skin, space_of(skin, flat))
    assert np.abs(back - flat).max() < 1e-7 and distance.max() < 1e-8


def test_parameters_and_flat_go_round() -> None:
    rng = np.random.default_rng(0)
    chart = rng.integers(0, 2, 500)
    s, t = rng.uniform(-1.0, 1.0, 500), rng.uniform(0.0, 1.0, 500)
    flat = flat_of_param(WING, chart, s, t)
    back = param_of_flat(WING, flat)
    assert np.array_equal(back[0], chart)
    assert np.abs(back[1] - s).max() < 1e-10 and np.abs(back[2] - t).max() < 1e-10


def test_off_the_skin_is_nowhere() -> None:
    off = np.array([[-50.0, 0.0], [1e6, 0.0], [np.nan, 0.0], [100.0, 5000.0]])
    places = place_of(WING, off)
    assert places.chart.tolist() == [-1] * 4
    assert np.isnan(places.station).all() and np.isnan(places.chord).all()
    assert np.isnan(space_of(WING, off)).all() and np.isnan(normal_of(WING, off)).all()
    # In the notch of a plate, and between the charts of a wing.
    assert place_of(PLATE, [250.0, 200.0]).chart.tolist() == [-1]
    gap = 0.5 * (WING.charts[0].rim[:, 0].max() + WING.charts[1].rim[:, 0].min())
    assert place_of(WING, [gap, 0.0]).chart.tolist() == [-1]
    assert np.isnan(flat_of(WING, [0.0, 9000.0, 700.0], [10.0, 10.0, 101.0], True)).all()


def test_no_points_give_no_answers() -> None:
    none = np.zeros((0, 2))
    assert space_of(WING, none).shape == (0, 3) and place_of(WING, none).station.shape == (0,)
    flat, distance = flat_at_space(WING, np.zeros((0, 3)))
    assert flat.shape == (0, 2) and distance.shape == (0,)
    assert points_of([]).shape == (0, 2)
    with pytest.raises(MapperError, match="2 coordinates"):
        points_of([[1.0, 2.0, 3.0]])


@pytest.mark.parametrize("skin", [WING, LEFT])
def test_normals_point_outward(skin) -> None:
    upper, lower = (flat_of(skin, [1000.0, 4000.0], 40.0, up) for up in (True, False))
    assert np.all(normal_of(skin, upper)[:, 2] > 0.9)
    assert np.all(normal_of(skin, lower)[:, 2] < -0.9)
    assert np.all(normal_of(skin, flat_of(skin, [1000.0, 4000.0], 0.0, True))[:, 0] < -0.8)


def test_the_nearest_point_from_beside_the_sheet() -> None:
    flat = flat_of(WING, np.linspace(700.0, 4900.0, 40), np.linspace(5.0, 95.0, 40), True)
    xyz = space_of(WING, flat) + 15.0 * normal_of(WING, flat)
    back, distance = flat_at_space(WING, xyz)
    assert np.abs(back - flat).max() < 1e-3 and np.allclose(distance, 15.0, atol=1e-9)
    # Beyond the tip the nearest point is on the tip's own edge.
    beyond = space_of(WING, flat_of(WING, 5000.0, 40.0, True)) + np.array([0.0, 30.0, 0.0])
    back, distance = flat_at_space(WING, beyond)
    assert place_of(WING, back).station[0] == pytest.approx(5000.0, abs=1e-6)
    assert distance[0] == pytest.approx(30.0, abs=1e-9)
    assert np.isnan(flat_at_space(WING, [np.nan, 0.0, 0.0])[1]).all()


def test_nearest_on_a_round_tube_is_radial() -> None:
    skin = make_skin(tube(50.0, 50.0, 400.0)[0])
    angle = np.linspace(-3.0, 3.0, 30)
    xyz = np.stack([40.0 * np.sin(angle), np.full(30, 123.0), 40.0 * np.cos(angle)], axis=-1)
    flat, distance = flat_at_space(skin, xyz)
    assert np.allclose(flat, np.stack([np.full(30, 123.0), 25.0 * angle], axis=-1), atol=1e-6)
    assert np.allclose(distance, 15.0, atol=1e-9)
    assert np.isnan(flat_of(skin, 100.0, 50.0, True)).all()
    assert place_of(skin, flat).upper.all()


def test_flat_pieces_have_their_places_too() -> None:
    places = place_of(PLATE, [[100.0, 50.0]])
    assert places.station[0] == 105.0 and np.isnan(places.chord[0])
    assert space_of(PLATE, [[100.0, 50.0]]).tolist() == [[50.0, 100.0, 0.0]]
    assert normal_of(PLATE, [[100.0, 50.0]]).tolist() == [[0.0, 0.0, 1.0]]
    # Over the notch the nearest point is on the notch's edge.
    flat, distance = flat_at_space(PLATE, [[300.0, 250.0, 0.0]])
    assert flat[0, 0] != 250.0 and 0.0 < distance[0] < 200.0
    skin = make_skin(rib(LoftPlan(THREE), 3000.0)[0])
    assert place_of(skin, [[0.25 * 1300.0, 0.0]]).chord[0] == pytest.approx(25.0, abs=0.1)


def test_a_cover_on_the_skin_keeps_the_wings_places() -> None:
    (sheet,) = skin_cover(LoftPlan(THREE, 600.0), 900.0, 1300.0, 30.0, 45.0, upper=True)
    skin = make_skin(sheet)
    flat = flat_of(skin, [900.0, 1100.0], [30.0, 40.0], True)
    assert np.abs(flat[0]).max() < 1e-6
    wing = space_of(WING, flat_of(WING, [900.0, 1100.0], [30.0, 40.0], True))
    assert np.abs(space_of(skin, flat) - wing).max() < 1e-8
    assert np.isnan(flat_of(skin, [1100.0, 1100.0], [50.0, 40.0], [True, False])).all()
