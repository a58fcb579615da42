"""Hatches stay inside what they hatch, and their lines lie as the file of looks says."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Point, Polygon, box

from mapper.drawing.display import View
from mapper.drawing.hatch import hatch_lines
from mapper.drawing.style import Family
from mapper.errors import MapperError

RING = Point(300, 200).buffer(180).difference(Point(320, 210).buffer(70))
TWO = MultiPolygon([box(0, 0, 90, 40), box(200, 100, 400, 300)])
AWKWARD = [RING, TWO, Polygon([(0, 0), (500, 3), (0, 6)]), box(-5, -5, 5, 5)]


@pytest.mark.parametrize("shape", AWKWARD)
@pytest.mark.parametrize("dash", [(), (3.0, 2.0), (1.0, 1.0, 4.0, 2.0)])
def test_inside(shape, dash):
    lines = hatch_lines(shape, Family(35, 3.0, 0.2, dash), 2.0)
    assert len(lines)
    drawn = shapely.multilinestrings(shapely.linestrings(lines))
    assert shape.buffer(1e-6).covers(drawn)


@pytest.mark.parametrize("angle", [0, 45, 90, 135, 20])
def test_length_is_area_over_gap(angle):
    """Lines `gap` apart over an area have the length area / gap (Cavalieri's principle)."""
    shape = Point(11, 7).buffer(500, quad_segs=128)
    lines = hatch_lines(shape, Family(angle, 1.0, 0.2), 4.0)
    length = np.hypot(*(lines[:, 1] - lines[:, 0]).T).sum()
    assert length == pytest.approx(shape.area / 4.0, rel=2e-3)


def test_dashes_take_their_share():
    shape = box(0, 0, 1000, 1000)
    full = hatch_lines(shape, Family(0, 5.0, 0.2), 1.0)
    dashed = hatch_lines(shape, Family(0, 5.0, 0.2, (3.0, 2.0)), 1.0)
    length = [np.hypot(*(a[:, 1] - a[:, 0]).T).sum() for a in (full, dashed)]
    assert length[1] / length[0] == pytest.approx(0.6, rel=1e-6)


@pytest.mark.parametrize("view", [View(1, 1), View(-1, 1), View(1, -1), View(-1, -1)])
def test_angle_is_that_on_paper(view):
    lines = hatch_lines(RING, Family(30, 4.0, 0.2), 1.0, view)
    way = view.turn(lines[:, 1] - lines[:, 0])
    assert np.rad2deg(np.arctan2(way[:, 1], way[:, 0])) % 180 == pytest.approx(30, abs=1e-6)


def test_neighbours_hatch_as_one():
    family = Family(45, 3.0, 0.2)
    whole = hatch_lines(box(0, 0, 200, 100), family, 1.0)
    halves = [hatch_lines(box(x, 0, x + 100, 100), family, 1.0) for x in (0, 100)]
    total = sum(np.hypot(*(h[:, 1] - h[:, 0]).T).sum() for h in halves)
    assert total == pytest.approx(np.hypot(*(whole[:, 1] - whole[:, 0]).T).sum())


def test_empty_and_too_many():
    assert hatch_lines(Polygon(), Family(0, 1, 0.1), 1.0).shape == (0, 2, 2)
    with pytest.raises(MapperError, match="at most"):
        hatch_lines(box(0, 0, 1e6, 1e6), Family(0, 1, 0.1), 1.0)
