"""Regions are made valid where they enter, and joined and cut on one fine grid."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import GeometryCollection, LineString, MultiPolygon, Point, Polygon, box

from mapper.errors import MapperError
from mapper.surface.clip import GRID, clean, clip, difference, intersection, rims, union, whole
from tests.surface.examples import awkward, pipe, two_charts

CORNERS = st.lists(st.tuples(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4)), min_size=3, max_size=12)


@settings(max_examples=80, deadline=None)
@given(CORNERS)
def test_clean_gives_valid_polygons_on_the_grid_and_does_so_once(corners):
    first = clean(Polygon(corners))
    assert isinstance(first, MultiPolygon) and first.is_valid
    points = shapely.get_coordinates(first)
    assert points == pytest.approx(np.round(points / GRID) * GRID, abs=1e-9)
    assert clean(first).equals(first)


@settings(max_examples=40, deadline=None)
@given(CORNERS, CORNERS)
def test_set_identities(a, b):
    a, b = clean(Polygon(a)), clean(Polygon(b))
    both, either = intersection(a, b), union(a, b)
    allowed = GRID * (a.length + b.length) + 1e-6
    assert either.area == pytest.approx(a.area + b.area - both.area, abs=allowed)
    assert difference(a, b).area == pytest.approx(a.area - both.area, abs=allowed)
    assert union(difference(a, b), both).area == pytest.approx(a.area, abs=allowed)


def test_bow_tie_counts_both_halves():
    assert clean(Polygon([(0, 0), (10, 10), (10, 0), (0, 10)])).area == pytest.approx(50.0)


def test_lines_and_points_have_no_area_and_empty_stays_empty():
    mixed = GeometryCollection([Point(1, 1), LineString([(0, 0), (1, 1)]), box(0, 0, 2, 3)])
    assert clean(mixed).area == 6.0
    for nothing in (MultiPolygon(), Polygon(), Point(1, 2), GeometryCollection()):
        assert clean(nothing).is_empty and clean(nothing).geom_type == "MultiPolygon"
    assert union().is_empty
    assert union(MultiPolygon(), box(0, 0, 1, 1)).area == 1.0
    assert intersection(MultiPolygon(), box(0, 0, 1, 1)).is_empty
    assert difference(MultiPolygon(), box(0, 0, 1, 1)).is_empty


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf, 1e12])
def test_coordinates_that_are_no_numbers_are_refused(bad):
    shape = Polygon([(0, 0), (3, 0), (3, bad), (0, 3)])
    with pytest.raises(MapperError, match="corner at"):
        clean(shape)


def test_a_thing_that_is_no_shape_is_refused():
    with pytest.raises(MapperError, match="list"):
        clean([(0, 0), (1, 1), (1, 0)])  # type: ignore[arg-type]


def test_whole_reaches_the_exact_edge_and_clip_keeps_inside():
    for skin in (pipe(10.0, 10.0), two_charts()):
        everything = whole(skin)
        for rim in rims(skin):
            assert rim.difference(everything).area == 0.0
        for name, region in awkward(skin).items():
            kept = clip(skin, region)
            assert kept.is_valid, name
            assert kept.difference(everything).area <= GRID * kept.length, name
