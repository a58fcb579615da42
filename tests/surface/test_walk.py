"""The walk along straight lines: nothing lost at corners and edges."""

from __future__ import annotations

import numpy as np
import pytest

from mapper.surface import walk
from mapper.surface.flux import NO_BUBBLES, plane_of
from mapper.surface.perimeter import trace_all
from tests.surface.handmade import tube


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
        assert place[plane.neighbours[k, towards[k]]] < place[k]
    assert order[0] == len(plane.tri) - 1 and towards[order[0]] == -1


def test_edge_fluxes_give_off_what_each_triangle_holds():
    plane = plane_of(tube())
    amount = np.random.default_rng(5).uniform(0, 3, len(plane.tri))
    flux = walk.edge_fluxes(plane.neighbours, plane.order, plane.towards, amount)
    assert flux.sum(axis=1)[:-1] == pytest.approx(amount[:-1], abs=1e-9)
    for k in range(3):
        there = plane.neighbours[:, k]
        inner = np.flatnonzero(there >= 0)
        back = np.argmax(plane.neighbours[there[inner]] == inner[:, None], axis=1)
        assert flux[inner, k] == pytest.approx(-flux[there[inner], back])
    assert np.all(flux[plane.neighbours < 0] == 0)


def test_locate_finds_the_triangle_that_holds_a_point():
    plane = plane_of(tube())
    rng = np.random.default_rng(2)
    at = rng.uniform(plane.box[:2], plane.box[2:], (300, 2))
    found = walk.locate(
        plane.xy, plane.tri, plane.neighbours, plane.seeds, plane.low, plane.cell, at
    )
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
    zero = np.zeros((len(plane.tri), 3))
    for points in (np.zeros((0, 2)), np.array([[5.0, 5.0]])):
        firsts = np.array([0, len(points)], np.int32)
        total, triangles, _, _ = walk.walk(
            plane.xy, plane.tri, plane.neighbours, plane.seeds, plane.low, plane.cell,
            zero, NO_BUBBLES, points, firsts, True,
        )  # fmt: skip
        assert total == 0.0 and len(triangles) == 0
