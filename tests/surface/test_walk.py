"""The walk along straight lines: nothing lost at corners and edges."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Point, Polygon, box

from mapper.surface import tree, walk
from mapper.surface.filled import inside_box, plane_of
from mapper.surface.flux import area_field, make_field, outflow
from mapper.surface.traced import trace_all
from tests.surface.handmade import nose, tube


def _lines(*lines):
    firsts = np.cumsum([0, *(len(line) for line in lines)]).astype(np.int32)
    return np.concatenate([np.asarray(line, float) for line in lines]), firsts


def test_breadth_first_visits_all_and_points_to_parents():
    plane = plane_of(tube())
    order, towards = plane.order, plane.towards
    assert sorted(order.tolist()) == list(range(len(plane.tri)))
    place = np.empty(len(order), int)
    place[order] = np.arange(len(order))
    for k in order[1:]:
        assert place[plane.across[k, towards[k]] >> 2] < place[k]
    assert order[0] == len(plane.tri) - 1 and towards[order[0]] == -1


def test_edge_fluxes_give_off_what_each_triangle_holds():
    plane = plane_of(tube())
    amount = np.random.default_rng(5).uniform(0, 3, len(plane.tri))
    flux = tree.edge_fluxes(plane.across, plane.order, plane.towards, amount)
    assert flux.sum(axis=1)[:-1] == pytest.approx(amount[:-1], abs=1e-9)
    here, edge = np.nonzero(plane.across >= 0)
    there, back = np.divmod(plane.across[here, edge], 4)
    # Across and back again is where one started.
    assert np.array_equal(plane.across[there, back], 4 * here + edge)
    assert flux[here, edge] == pytest.approx(-flux[there, back])
    assert np.all(flux[plane.across < 0] == 0)


def test_find_ends_in_the_triangle_that_holds_a_point():
    plane = plane_of(tube())
    rng = np.random.default_rng(2)
    at = rng.uniform(plane.box[:2], plane.box[2:], (300, 2))
    starts = rng.integers(0, len(plane.tri) - 1, 300)
    found = [walk.find(plane.corners, plane.across, s, x, y) for s, (x, y) in zip(starts, at)]
    a, b, c = (plane.xy[plane.tri[found, k]] for k in range(3))
    for p, q in ((a, b), (b, c), (c, a)):
        side = (q - p)[:, 0] * (at - p)[:, 1] - (q - p)[:, 1] * (at - p)[:, 0]
        assert np.all(side >= -1e-6)


@pytest.mark.parametrize(
    "line",
    [
        [[10.0, 10.0], [930.0, 97.0]],
        [[0.0, 0.0], [1000.0, 0.0]],  # along the sheet's edge, corner to corner
        [[100.0, 20.0 * np.pi / 4], [900.0, 20.0 * np.pi / 4]],
        [[50.0, 0.0], [50.0, 40.0 * np.pi]],  # along a column of edges, through its corners
        [[1000.0, 40.0 * np.pi], [0.0, 0.0]],  # through corners and along diagonals
        [[500.0, 30.0], [500.0, 30.0], [500.0 + 1e-9, 30.0]],
    ],
)
def test_pieces_follow_one_another_and_make_up_the_line(line):
    skin = tube()
    points, firsts = _lines(line)
    pieces = trace_all(skin, points, firsts, 1e-3)
    corners = skin.flat[skin.triangles[pieces.triangle]]
    ends = np.einsum("pec,pcd->ped", pieces.shares, corners)
    assert ends[0, 0] == pytest.approx(points[0], abs=1e-6)
    assert ends[-1, 1] == pytest.approx(points[-1], abs=1e-6)
    assert ends[1:, 0] == pytest.approx(ends[:-1, 1], abs=1e-6)
    length = np.hypot(*np.diff(points, axis=0).T).sum()
    assert np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1).sum() == pytest.approx(length, rel=1e-9)
    assert np.all(pieces.shares >= -1e-12)


def test_empty_and_single_point_lines_give_nothing():
    plane = plane_of(tube())
    for points in (np.zeros((0, 2)), np.array([[5.0, 5.0]])):
        firsts = np.array([0, len(points)], np.int32)
        triangles, _, _ = walk.pieces(
            plane.corners, plane.across, plane.seeds, plane.frame, points, firsts
        )
        assert len(triangles) == 0


def flow_of_pieces(field, region):
    """The field's definition (flux.py) summed over the pieces of an outline, by a rule that is
    exact for the cubic. (x - v_e) . n along a piece from p to q is 2 |T| (p x q)_e, and V without
    its bubbles is the sum of flux_e (x - v_e) / (2 |T|)."""
    plane, total = field.plane, 0.0
    region = shapely.orient_polygons(inside_box(plane, region))
    for ring in shapely.get_rings(shapely.get_parts(region)):
        points, firsts = _lines(shapely.get_coordinates(ring))
        triangle, _, shares = walk.pieces(
            plane.corners, plane.across, plane.seeds, plane.frame, points, firsts
        )
        p, q = shares[:, 0], shares[:, 1]
        arm = np.cross(p, q)
        total += float(np.sum(arm * field.strength[triangle, :3]))
        one, two = 6.0 * field.strength[triangle, 3:6], 6.0 * field.strength[triangle, 6:]
        for at, weight in ((0.0, 1 / 6), (0.5, 4 / 6), (1.0, 1 / 6)):
            share = (1.0 - at) * p + at * q
            for i, j in ((0, 1), (1, 2), (2, 0)):
                both = one[:, i] * (arm[:, i] + arm[:, j]) + two[:, i] * (arm[:, i] - arm[:, j])
                total += weight * float(np.sum(share[:, i] * share[:, j] * both))
    return total


@pytest.mark.parametrize("middle", [(900.0, 3.0), (2200.0, 0.0), (3990.0, 700.0), (0.0, 0.0)])
@pytest.mark.parametrize("size", [0.5, 40.0, 900.0])
def test_the_quick_sum_is_the_field_over_its_pieces(middle, size):
    """Simpson's rule (1743, exact to the third degree) over the pieces that `pieces` cuts."""
    outer, inner = Point(middle).buffer(size, quad_segs=9), Point(middle).buffer(0.3 * size)
    for skin, density in ((nose(60, 40), None), (tube(), lambda at: 1.0 + at[:, 1] ** 2)):
        field = make_field(skin, (0,), density) if density else area_field(skin)
        for region in (outer, outer.difference(inner), box(*outer.bounds)):
            slow = flow_of_pieces(field, region)
            assert outflow(field, region) == pytest.approx(slow, rel=1e-9, abs=1e-9 * field.total)


def test_rings_may_run_either_way_and_hold_corners_twice():
    field = area_field(nose(60, 40))
    ring = np.array([[500.0, -200], [900, -200], [900, -200], [900, 300], [500, 300], [500, -200]])
    hole = np.array([[600.0, -100], [700, -100], [700, 150], [600, 150], [600, -100]])
    whole = outflow(field, Polygon(ring))
    assert whole == pytest.approx(outflow(field, box(500, -200, 900, 300)), rel=1e-12)
    left = whole - outflow(field, Polygon(hole))
    assert 0.0 < left < whole
    for outer in (ring, ring[::-1]):
        assert outflow(field, Polygon(outer)) == pytest.approx(whole, rel=1e-12)
        for inner in (hole, hole[::-1]):
            both = MultiPolygon([box(2000, 0, 2100, 50), Polygon(outer, [inner])])
            more = outflow(field, box(2000, 0, 2100, 50))
            assert outflow(field, both) == pytest.approx(left + more, rel=1e-12)
