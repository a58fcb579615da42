"""Strokes against the dense union of their discs, and against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import LineString, MultiLineString, MultiPolygon, Point

from mapper.errors import MapperError
from mapper.surface.brush import fan_disc
from mapper.surface.clip import difference, union
from mapper.surface.measure import area
from mapper.surface.region import disc
from mapper.surface.stroke import hover, spacing, stroke
from tests.surface.examples import pipe, sheet, tapered, twisted
from tests.surface.round_skins import at_place, sphere

HOLE = MultiPolygon([Point(320, 200).buffer(50, quad_segs=180)])


def _dense(skin, path, radius, openings=None):
    """The union of discs six times as close together as the stroke's."""
    points = shapely.get_coordinates(shapely.segmentize(LineString(path), spacing(radius) / 6))
    return union(*(fan_disc(skin, at, radius, openings) for at in points))


def _apart(one, other) -> float:
    """The farthest that either outline lies from the other, mm on the flat map."""
    lines = one.boundary, other.boundary
    return max(
        float(shapely.distance(b, shapely.points(shapely.get_coordinates(a))).max())
        for a, b in (lines, lines[::-1])
    )


@pytest.mark.parametrize("radius", [4.0, 50.0])
def test_within_a_tenth_of_a_millimetre_on_a_stretched_map(radius):
    skin = twisted(triangles=6000)
    path = [(1500.0, 120.0), (1540.0, 20.0), (1560.0, -60.0)]
    found = stroke(skin, path, radius)
    assert _apart(found, _dense(skin, path, radius)) < 0.1


def test_within_a_tenth_of_a_millimetre_on_a_sphere_over_the_seam():
    skin = sphere(around=60, along=30)
    path = [at_place(skin, 3.02, 0.1), at_place(skin, 3.12, 0.15)]
    found = stroke(skin, path, 60.0)
    assert len(found.geoms) == 2
    assert _apart(found, _dense(skin, path, 60.0)) < 0.1


def test_within_a_tenth_of_a_millimetre_past_an_opening():
    path = [(210.0, 190.0), (262.0, 215.0)]
    found = stroke(sheet(), path, 60.0, HOLE)
    assert _apart(found, _dense(sheet(), path, 60.0, HOLE)) < 0.1
    assert shapely.intersection(found, HOLE).area < 5e-3


@pytest.mark.parametrize("y", [0.0, 20 * np.pi - 8.0, 20 * np.pi])
def test_a_straight_stroke_along_a_tube(y):
    """Identity: 2 r l + pi r2 on a cylinder, over its closing seam too."""
    skin = pipe()
    found = stroke(skin, [(300.0, y), (420.0, y)], 20.0)
    assert area(skin, found) == pytest.approx(2 * 20 * 120 + np.pi * 400, rel=1e-3)


def test_along_an_edge_and_from_one_point():
    """Identity: half of it lies on the sheet; a path of one point is a disc."""
    found = stroke(sheet(), [(100.0, 0.0), (300.0, 0.0)], 20.0)
    assert found.area == pytest.approx(20 * 200 + 0.5 * np.pi * 400, rel=1e-5)
    dab = stroke(sheet(), (100.0, 100.0), 20.0)
    assert dab.area == pytest.approx(np.pi * 400, rel=1e-4)


def test_the_flat_stroke_is_the_union_of_discs_too():
    """Where the map is flat a stroke is swept in one go; its discs say the same."""
    skin = tapered()
    path = [(2000.0, 150.0), (2050.0, 10.0), (2100.0, -30.0)]
    points = shapely.get_coordinates(shapely.segmentize(LineString(path), 1.0))
    assert _apart(stroke(skin, path, 25.0), union(*(disc(skin, p, 25.0) for p in points))) < 0.02


def test_a_path_in_pieces_and_partly_off_the_sheet():
    skin, seam = pipe(), 20 * np.pi
    path = MultiLineString([[(100, seam - 30), (100, seam)], [(100, -seam), (100, -seam + 30)]])
    whole = stroke(skin, path, 10.0)
    assert area(skin, whole) == pytest.approx(2 * 10 * 60 + np.pi * 100, rel=2e-3)
    half = stroke(sheet(), [(-50.0, 200.0), (50.0, 200.0)], 10.0)
    assert half.area == pytest.approx(20 * 50 + 0.5 * np.pi * 100, rel=1e-3)


def test_a_wider_stroke_holds_a_narrower_one():
    skin = twisted(triangles=6000)
    path = [(1500.0, 120.0), (1560.0, -60.0)]
    assert difference(stroke(skin, path, 30.0), stroke(skin, path, 31.0)).area < 1e-3


def test_spacing_keeps_the_dip_small():
    """r - sqrt(r2 - d2 / 4) between two circles of radius r, d apart."""
    for radius in (0.05, 1.0, 50.0, 300.0):
        gap = spacing(radius)
        assert 0 < radius - np.sqrt(radius**2 - gap**2 / 4) <= 0.0501


def test_hover_is_a_small_disc():
    """On a stretched map the ellipse is the disc to first order."""
    skin = sphere(around=60, along=30)
    at = at_place(skin, 0.4, 0.5)
    ring = shapely.Polygon(hover(skin, at, 20.0))
    exact = fan_disc(skin, at, 20.0)
    assert shapely.symmetric_difference(ring, exact).area < 0.04 * exact.area
    assert ring.minimum_rotated_rectangle.area > 1.1 * 1600  # a circle it is not


@pytest.mark.parametrize(
    ("path", "radius", "words"),
    [
        ([(100, 0), (200, 0)], 0.0, "above 0"),
        ([(100, 0), (200, 0)], np.nan, "above 0"),
        ([(9e3, 0), (9.1e3, 0)], 5.0, "nowhere on the sheet"),
        ([(100, 0), (np.nan, 0)], 5.0, "corner"),
        ([1.0, 2.0, 3.0], 5.0, "shape"),
        (Point(100, 0).buffer(5), 5.0, "Polygon"),
    ],
)
def test_refusals(path, radius, words):
    with pytest.raises(MapperError, match=words):
        stroke(pipe(), path, radius)


def test_empty_paths_and_hover_refusals():
    assert stroke(pipe(), LineString(), 5.0).is_empty
    assert stroke(pipe(), np.zeros((0, 2)), 5.0).is_empty
    with pytest.raises(MapperError, match="above 0"):
        hover(pipe(), (100, 0), -1.0)
    with pytest.raises(MapperError, match="off skin"):
        hover(pipe(), (9e3, 0), 1.0)
