"""The field whose flow out of an outline is the true amount inside it."""

from __future__ import annotations

import gc
import weakref
from dataclasses import replace
from math import factorial as f

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Point, Polygon, box

from mapper.errors import MapperError
from mapper.surface import flux
from mapper.surface.clip import clean
from mapper.surface.flux import area_field, make_field, outflow
from tests.surface.handmade import NosePatch, nose, tube
from tests.surface.judge import slow_integral

NOSE = nose(60, 40)
COARSE = nose(80, 32)
TUBE = tube()


def test_bubble_divergences_by_differences():
    """Identity: 2 |T| div of l_i l_j (2 x - v_i - v_j) and l_i l_j (v_j - v_i), both over 2 |T|, by
    central differences."""
    v = np.array([[0.3, -0.2], [2.1, 0.4], [0.9, 1.8]])
    inverse = np.linalg.inv(np.vstack([v.T, np.ones(3)]))

    def bubble(x, i, second):
        j = (i + 1) % 3
        share = inverse @ np.array([x[0], x[1], 1.0])
        return share[i] * share[j] * (v[j] - v[i] if second else 2 * x - v[i] - v[j])

    at, h = np.array([1.0, 0.6]), 1e-5
    expected = flux._bubble_divergences((inverse @ np.append(at, 1.0))[None])[0]
    for k in range(6):
        div = sum(
            (bubble(at + h * d, k % 3, k > 2)[i] - bubble(at - h * d, k % 3, k > 2)[i]) / (2 * h)
            for i, d in enumerate(np.eye(2))
        )
        assert div == pytest.approx(expected[k], abs=1e-8)


def test_seven_point_rule_is_exact_to_degree_five():
    """Identity: the mean of a^p b^q c^r over a triangle is 2 p! q! r! / (p + q + r + 2)!."""
    for p in range(6):
        for q in range(6 - p):
            r = 5 - p - q
            mean = flux.WEIGHTS @ np.prod(flux.SHARES ** np.array([p, q, r]), axis=1)
            assert mean == pytest.approx(2 * f(p) * f(q) * f(r) / f(p + q + r + 2), rel=1e-12)


@pytest.mark.parametrize("power", [(0, 0), (1, 0), (0, 1), (2, 0), (1, 1), (0, 2)])
def test_second_degree_densities_are_exact_on_a_flat_map(power):
    """Identity: moments of a rectangle. On the tube's flat map y (axis) is x and the density is a
    polynomial of it and of the angle."""
    p, q = power

    def density(points):
        angle = np.mod(np.arctan2(points[:, 2], points[:, 0]), 2 * np.pi)
        return points[:, 1] ** p * (20.0 * angle) ** q

    x0, x1, y0, y1 = 120.0, 333.0, 11.0, 97.0
    exact = (x1 ** (p + 1) - x0 ** (p + 1)) / (p + 1) * (y1 ** (q + 1) - y0 ** (q + 1)) / (q + 1)
    field = make_field(TUBE, (0,), density)
    assert outflow(field, box(x0, y0, x1, y1)) == pytest.approx(exact, rel=1e-11)


def test_whole_skin_and_far_beyond_it():
    field = area_field(NOSE)
    rim = Polygon(NOSE.charts[0].rim)
    for region in (rim, box(*rim.bounds), box(-1e6, -1e6, 1e6, 1e6), box(-6e3, -5e3, 8e3, 6e3)):
        assert outflow(field, region) == pytest.approx(NOSE.patch_area.sum(), rel=1e-12)


def test_off_the_sheet_there_is_nothing():
    field = area_field(NOSE)
    x0, y0, x1, y1 = field.plane.box
    for region in (
        box(x0 + 1, y0 + 1, x0 + 500, y1 - 1),
        box(x0 - 100, y0 - 900, x1, y0 + 10),  # where the root of the tree lies
        box(1e5, 1e5, 2e5, 2e5),
        MultiPolygon(),
    ):
        assert abs(outflow(field, region)) < 1e-6


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-600, 4700), st.floats(-1900, 1900)), min_size=3, max_size=9),
)
def test_any_polygon_agrees_with_the_slow_way(corners):
    region = clean(Polygon(corners))
    # The promise for drawn regions, held here on a mesh four times coarser than the default. (Hard
    # are strips of a mm along all of the nose: .05 of the .1 mm2 allowed; half as fine would fail.)
    allowed = 1e-5 * max(region.area, 1e4)
    assert outflow(area_field(COARSE), region) == pytest.approx(
        slow_integral(COARSE, region), abs=allowed
    )


@settings(max_examples=40, deadline=None)
@given(
    st.floats(0, 4000), st.floats(-1600, 1600), st.floats(20, 900), st.floats(30, 700),
    st.integers(0, 1),
)  # fmt: skip
def test_parts_add_up(x, y, wide, tall, way):
    field = area_field(NOSE)
    whole = box(x, y, x + wide, y + tall)
    cut = x + 0.37 * wide if way else y + 0.37 * tall
    one = box(x, y, cut, y + tall) if way else box(x, y, x + wide, cut)
    two = box(cut, y, x + wide, y + tall) if way else box(x, cut, x + wide, y + tall)
    assert outflow(field, one) + outflow(field, two) == pytest.approx(
        outflow(field, whole), abs=1e-6
    )


def test_holes_take_off_whichever_way_they_run():
    outer, hole = box(500, -200, 900, 300), box(600, -100, 700, 150)
    field = area_field(NOSE)
    expected = outflow(field, outer) - outflow(field, hole)
    ring = list(hole.exterior.coords)
    for holes in ([ring], [ring[::-1]]):
        assert outflow(field, Polygon(outer.exterior, holes)) == pytest.approx(expected, rel=1e-12)


def test_error_falls_with_the_third_power_of_the_mesh_size():
    """A second-degree fit leaves the third degree: the error of one shape falls at h^3 at least;
    whole triangles are exact, so only crossed ones count and it falls faster."""
    errors = []
    for steps in (16, 32, 64):
        skin = nose(steps, steps // 2)
        worst = 0.0
        for middle in ((700, 3), (1500, -20), (2200, 11), (3100, 40), (2600, -90), (900, 60)):
            region = Point(middle).buffer(60, quad_segs=16)
            worst = max(worst, abs(outflow(area_field(skin), region) - slow_integral(skin, region)))
        errors.append(worst)
    rates = np.log2(np.array(errors[:-1]) / errors[1:])
    assert np.all(rates > 2.7), (errors, rates)
    assert errors[-1] < 1e-5 * 1e4


def test_a_density_of_the_wrong_shape_or_without_numbers_is_refused():
    with pytest.raises(MapperError, match="density"):
        make_field(TUBE, (0,), lambda p: p)
    with pytest.raises(MapperError, match="density"):
        make_field(TUBE, (0,), lambda p: np.full(len(p), np.nan))


def test_turned_triangles_are_refused():
    bad = TUBE.triangles.copy()
    bad[3] = bad[3][::-1]
    with pytest.raises(MapperError, match="1 triangles of skin 'tube'"):
        area_field(replace(TUBE, triangles=bad))


@pytest.mark.parametrize("shift", [7.0, 1000.0])
def test_charts_that_overlap_or_touch_are_refused(shift):
    def twice(name, add=0):
        return np.concatenate([getattr(TUBE, name), getattr(TUBE, name) + add])

    names = ("points", "param", "station", "chord", "patch_area", "chart_of")
    count = len(TUBE.triangles)
    both = replace(
        TUBE,
        **{name: twice(name) for name in names},
        flat=twice("flat", np.array([shift, 0.0])),
        triangles=twice("triangles", len(TUBE.flat)),
        charts=(replace(TUBE.charts[0], last=2 * count),),
    )
    with pytest.raises(MapperError, match="overlap or touch"):
        area_field(both)


def test_fields_go_when_their_skin_goes():
    skin = nose(8, 6, NosePatch())
    field = weakref.ref(area_field(skin))
    assert field() is area_field(skin)
    del skin
    gc.collect()
    assert field() is None
