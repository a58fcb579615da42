"""Clean triangles about given lines: judged by what they are to be, corner by corner."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, Polygon, box

from mapper.surface.refine import LEAST_ANGLE, Lines, angles, refined

WIDE, TALL = 12, 8


def room(hole: Polygon):
    """A field of 12 by 8 squares of 10 mm with a fixed edge, and a hole's outline in it."""
    grid = np.stack(np.meshgrid(np.arange(WIDE + 1), np.arange(TALL + 1), indexing="ij"), -1)
    points = 10.0 * grid.reshape(-1, 2)
    field = box(0, 0, 10 * WIDE, 10 * TALL)
    edge = shapely.intersects(field.exterior, shapely.points(points))
    far = shapely.distance(hole.exterior, shapely.points(points)) > 6.0
    corners = points[edge]
    order = np.argsort(shapely.line_locate_point(field.exterior, shapely.points(corners)))
    rim, inner = corners[order], points[~edge & far]
    ring = shapely.get_coordinates(hole.exterior)[:-1]
    first = len(rim) + len(inner)
    ends = [
        np.stack([row, np.roll(row, -1)], axis=1)
        for row in (np.arange(len(rim)), first + np.arange(len(ring)))
    ]
    fixed = np.arange(len(rim) + len(ring)) < len(rim)
    return np.concatenate([rim, inner, ring]), Lines(np.concatenate(ends), fixed), field


holes = st.builds(
    lambda x, y, a, b, turn, sides: shapely.affinity.rotate(
        shapely.affinity.scale(Point(x, y).buffer(1.0, quad_segs=sides), a, b), turn
    ),
    st.floats(40, 80), st.floats(32, 48), st.floats(3, 18), st.floats(3, 18), st.floats(0, 90),
    st.integers(2, 12),
)  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(holes)
def test_triangles_fill_the_field_and_are_clean_outside_the_hole(hole):
    """Ruppert: angles of 20.7 degrees or more can always be had; what is aimed at is more. Every
    triangle is counted: together they are the field, and no side crosses the outline."""
    points, lines, field = room(hole)
    found = refined(points, lines, field, hole)
    assert found.whole
    assert np.array_equal(found.points[: len(points)], points)
    corner = found.points[found.triangles]
    a, b, c = corner[:, 0], corner[:, 1], corner[:, 2]
    double = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    assert (double > 0.0).all()
    assert 0.5 * double.sum() == pytest.approx(field.area, rel=1e-12)
    middle = corner.mean(axis=1)
    outside = ~shapely.contains_xy(hole, middle[:, 0], middle[:, 1])
    assert 0.5 * double[~outside].sum() == pytest.approx(hole.area, rel=1e-9)
    # Outlines of the kind that come up have no corner sharper than this.
    least = angles(found.points, found.triangles[outside]).min()
    assert least >= LEAST_ANGLE - 1e-6
    # The field's own edge is whole: nothing was put between its corners.
    sides = {frozenset((int(t[k]), int(t[(k + 1) % 3]))) for t in found.triangles for k in range(3)}
    assert all(frozenset(map(int, e)) in sides for e in lines.ends[lines.fixed])


def test_a_sharp_corner_stays_as_it_is():
    """Between lines that meet at 10 degrees no angle can be more; all others are clean."""
    tip = np.radians(10.0)
    hole = Polygon([(30, 40), (90, 40), (30 + 60 * np.cos(tip), 40 + 60 * np.sin(tip))])
    points, lines, field = room(hole)
    found = refined(points, lines, field, box(0, 0, 0, 0))
    angle = angles(found.points, found.triangles).min(axis=1)
    assert found.whole and len(found.triangles) < 4000
    near = shapely.distance(Point(30, 40), shapely.polygons(found.points[found.triangles]))
    assert angle[near > 1e-9].min() > 20.0
    assert angle.min() == pytest.approx(10.0, abs=3.0)


def test_what_cannot_be_is_said():
    """An outline that runs over a fixed edge leaves it no side of a triangle."""
    points, lines, field = room(box(30, 30, 60, 50))
    ends = np.concatenate([lines.ends, [[0, len(points) - 1]]])
    crossing = Lines(ends, np.concatenate([lines.fixed, [True]]))
    assert not refined(points, crossing, field, box(30, 30, 60, 50)).whole
