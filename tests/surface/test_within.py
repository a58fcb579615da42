"""Points inside a part, and the places of the skin that they are seen from."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from mapper.surface.build import make_skin
from mapper.surface.imported.build import skins_of
from mapper.surface.imported.mend import mend
from mapper.surface.imported.read import RawMesh
from mapper.surface.place import flat_of, normal_of, place_of, space_of
from mapper.surface.within import SLACK, is_flat_sheet, spread_over, within
from meshes.body import body
from meshes.facets import FacetPatch
from meshes.rings import EllipseRing
from tests.surface.examples import pipe, sheet, tapered, twisted, two_charts


def half_thickness(share: float) -> float:
    """NACA 0012, per unit of chord: the four-digit equation, closed trailing edge (NACA TR 460)."""
    return 0.6 * (
        0.2969 * share**0.5
        - 0.1260 * share
        - 0.3516 * share**2
        + 0.2843 * share**3
        - 0.1036 * share**4
    )


@settings(max_examples=40, deadline=None)
@given(st.floats(5, 4995), st.floats(0.05, 0.95), st.floats(-2.0, 2.0), st.booleans())
def test_in_a_wing_by_its_own_equation(station, share, height, left):
    """The four-digit equation says how thick the section is; a point is inside up to SLACK more,
    and is seen from the station and % chord it was made for."""
    skin = tapered(2000, left)
    chord = 2000.0 - 0.2 * station
    half = chord * half_thickness(share)
    z = height * (half + SLACK)
    x = 0.25 * 2000.0 + (share - 0.25) * chord
    found = within(skin, [x, -station if left else station, z])
    if abs(abs(height) - 1.0) > 1e-6:
        assert found.inside[0] == (abs(height) < 1.0)
    if found.inside[0]:
        for side, flat in zip((True, False), found.flat[0]):
            place = place_of(skin, flat)
            assert place.station[0] == pytest.approx(station, abs=1e-6)
            assert place.chord[0] == pytest.approx(100 * share, abs=1e-7)
            assert place.upper[0] == side
    else:
        assert np.isnan(found.flat).all()


def test_beyond_the_ends_and_the_edges_of_a_wing():
    points = [
        [500, -0.9 * SLACK, 0],
        [500, -1.1 * SLACK, 0],
        [500, 5000 + 0.9 * SLACK, 0],
        [500, 5000 + 1.1 * SLACK, 0],
        [-0.9 * SLACK, 0, 0],
        [-1.1 * SLACK, 0, 0],
        [2000 + 0.9 * SLACK, 0, 0],
        [2000 + 1.1 * SLACK, 0, 0],
    ]
    assert within(tapered(2000), points).inside.tolist() == [True, False] * 4
    assert within(tapered(2000), np.zeros((0, 3))).inside.shape == (0,)


@pytest.mark.parametrize("left", [False, True])
def test_a_point_between_the_sides_of_a_twisted_wing_is_seen_from_both(left):
    """Identity: the middle between two places at one station and % chord has that station, and that
    % chord, because the chord line is straight."""
    for skin in (twisted(4000, left), two_charts(left)):
        for station, chord in ((900.0, 20.0), (2999.0, 60.0), (3500.0, 35.0)):
            middle = within(skin, _between(skin, station, chord))
            assert middle.inside.all()
            places = place_of(skin, middle.flat[0])
            assert places.station == pytest.approx([station] * 2, abs=1e-6)
            assert places.chord == pytest.approx([chord] * 2, abs=1e-6)
            assert places.upper.tolist() == [True, False]


def _between(skin, station, chord):
    return space_of(skin, flat_of(skin, station, chord, [True, False])).mean(axis=0)


@settings(max_examples=40, deadline=None)
@given(st.floats(0, 60), st.floats(0, 2 * np.pi), st.floats(30, 970))
def test_in_a_tube(radius, angle, along):
    """Closed form: a tube of 20 mm radius along y. It has no angle round, so what it goes round
    counts; 30 mm from its open ends that is more than half way all over the cross-section."""
    at = [radius * np.cos(angle), along, radius * np.sin(angle)]
    if abs(radius - 20.0 - SLACK) > 0.05:
        assert within(pipe(), at).inside[0] == (radius < 20.0 + SLACK)


def test_in_a_round_body():
    """Closed form: an ellipse of half axes 300 and 400 mm all along, seen from its middle."""
    rings = [EllipseRing(x, 600.0, 800.0, 50.0) for x in (0.0, 1000.0, 2500.0)]
    shell = make_skin(body(rings, datum=100.0)[0], triangles=2000)
    angle = np.radians(np.arange(0.0, 360.0, 22.5) + 3.0)
    wall = 1.0 / np.hypot(np.sin(angle) / 300.0, np.cos(angle) / 400.0)
    for share, held in ((0.2, True), (0.99, True), (1.06, False)):
        far = share * wall
        x = np.linspace(10.0, 2490.0, len(angle))
        points = np.stack([x, far * np.sin(angle), 50.0 + far * np.cos(angle)], axis=1)
        found = within(shell, points)
        assert found.inside.tolist() == [held] * len(angle)
        if held:
            places = place_of(shell, found.flat[:, 0])
            assert places.station == pytest.approx(x + 100.0, abs=1e-6)
            assert places.angle == pytest.approx(np.degrees(angle), abs=1e-6)
            assert np.array_equal(found.flat[:, 0], found.flat[:, 1])


def test_a_flat_sheet_has_what_stands_square_to_it():
    plate = sheet()
    assert is_flat_sheet(plate) and not is_flat_sheet(pipe())
    corner, middle, edge = space_of(plate, [[0.0, 0.0], [300.0, 200.0], [600.0, 200.0]])
    normal, out = normal_of(plate, [[300.0, 200.0]])[0], (edge - middle) / 300.0
    points = [corner, middle + 300 * normal, edge + 0.9 * SLACK * out, edge + 1.1 * SLACK * out]
    found = within(plate, [*points, np.full(3, np.nan)])
    assert found.inside.tolist() == [True, True, True, False, False]


def test_points_are_spread_by_area():
    """Identity: on a plate the mean of evenly spread points is its middle, and a quarter of them
    lies in a quarter of it."""
    spots = spread_over([sheet()], 600)
    low, high = sheet().points.min(axis=0), sheet().points.max(axis=0)
    assert spots.shape == (600, 3)
    assert np.abs(spots.mean(axis=0) - 0.5 * (low + high)).max() < 6.0
    quarter = (spots < 0.5 * (low + high) + 1e-9).all(axis=1).mean()
    assert quarter == pytest.approx(0.25, abs=0.03)
    assert np.array_equal(spots, spread_over([sheet()], 600))
    # Of a wing twice as deep at the root: (1 + 2 x 1/2) / (3 (1 + 1/2)) of 5 m outboard.
    out = spread_over([tapered(2000)], 600)[:, 1].mean()
    assert out == pytest.approx(5000 * (1 + 2 * 0.5) / (3 * (1 + 0.5)), abs=40.0)
    assert spread_over([replace(sheet(), patch_area=0 * sheet().patch_area)], 9).shape == (0, 3)


def test_a_shell_without_stations_holds_what_it_goes_round():
    """Closed form: the winding number of a closed box is 1 inside and 0 outside."""
    box = closed_box()
    found = within(box, [[50, 50, 50], [50, 50, 140], [50, 50, 100 + 0.9 * SLACK]])
    assert found.inside.tolist() == [True, False, True]
    assert np.isfinite(found.flat[0]).all() and np.isnan(found.flat[1]).all()
    assert np.array_equal(found.flat[0, 0], found.flat[0, 1])


def closed_box():
    cube = trimesh.creation.box((100.0, 100.0, 100.0)).apply_translation([50.0] * 3)
    cube = cube.subdivide().subdivide()
    raw = RawMesh("box", "mm", np.array(cube.vertices), np.array(cube.faces))
    found = skins_of(mend(raw), face_names=("outer", "inner"), axis="y", datum=0.0, crease=None)
    assert isinstance(found.skins[0].charts[0].patch, FacetPatch)
    return found.skins[0]
