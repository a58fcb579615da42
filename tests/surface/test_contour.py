"""Contours of values on a sheet: areas by closed form, and nothing lost between steps."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import MultiPolygon, Point, Polygon, box, union_all

from mapper.surface.contour import _united, above
from mapper.surface.finer import fine_of
from tests.surface.examples import two_charts
from tests.surface.test_smooth import flat_sheet


def corners(fine):
    at = np.zeros((fine.count, 2))
    at[fine.vertex.ravel()] = fine.flat.reshape(-1, 2)
    return at


def test_a_cone_is_cut_in_circles():
    fine = fine_of(flat_sheet(80_000))
    away = np.hypot(*(corners(fine) - [480.0, 410.0]).T)
    for radius in (100.0, 250.0):
        region = above(fine, -away, -radius)
        assert region.area == pytest.approx(np.pi * radius**2, rel=2e-3)
        assert len(region.geoms) == 1 and not region.geoms[0].interiors
        assert region.boundary.hausdorff_distance(
            Point(480, 410).buffer(radius, quad_segs=90).boundary
        ) < 1.0  # fmt: skip


def test_a_plane_is_cut_exactly_and_steps_add_up():
    fine = fine_of(flat_sheet(20_000))
    x = corners(fine)[:, 0]
    for level in (0.0, 123.4, 500.0, 999.0):
        assert above(fine, x, level).area == pytest.approx((1000 - level) * 800, abs=2.0)
    assert above(fine, x, -1.0).area == pytest.approx(800_000, abs=1e-3)
    assert above(fine, x, 1000.5).is_empty
    lower = above(fine, -x, -300.0)
    assert lower.intersection(above(fine, x, 300.0)).area < 1.0


def test_a_hole_stays_a_hole():
    hole = MultiPolygon([box(333.0, 251.0, 477.0, 408.0)])
    fine = fine_of(flat_sheet(20_000), hole)
    region = above(fine, np.ones(fine.count), 0.5)
    assert region.area == pytest.approx(800_000 - 144 * 157, rel=1e-5)
    assert region.intersection(hole).area < 1.0
    assert above(fine, np.full(fine.count, np.nan), 0.5).is_empty


def test_charts_lie_apart():
    skin = two_charts()
    fine = fine_of(skin)
    region = above(fine, np.ones(fine.count), 0.5)
    assert len(region.geoms) == 2
    wanted = sum(chart.outline.area for chart in skin.charts)
    assert region.area == pytest.approx(wanted, rel=1e-5)


def test_pieces_that_overlap_are_put_together_the_slow_way():
    """Four triangles over which the quick union stops; the slow one agrees with shapely's own."""
    pieces = np.array([
        Polygon([(1, 4), (6, 6), (6, 0)]), Polygon([(2, 0), (3, 6), (3, 3)]),
        Polygon([(5, 3), (6, 1), (0, 3)]), Polygon([(0, 6), (3, 3), (4, 6)]),
    ])  # fmt: skip
    assert _united(pieces).area == pytest.approx(union_all(pieces).area, abs=0.01)
