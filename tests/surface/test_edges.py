"""Curves followed on the flat map, and spans along chart edges."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString, MultiLineString, Point

from mapper.surface.edges import common, follow, glued_edges, merge, part_of, spans_on
from tests.surface.examples import pipe, sheet, two_charts


def test_follow_keeps_close_to_a_circle_and_error_falls_as_asked():
    def circle(u):
        return 100 * np.stack([np.cos(u), np.sin(u)], axis=1)

    counts = []
    for close in (1e-2, 1e-4, 1e-6):
        _, points = follow(circle, np.array([0.0, 2 * np.pi]), close)
        middles = 0.5 * (points[1:] + points[:-1])
        assert np.max(100 - np.hypot(*middles.T)) <= close
        counts.append(len(points))
    # A hundred times as many points for 1e-4 of the distance: the second power (to a factor of 2,
    # because pieces are halved).
    assert 50 <= counts[2] / counts[0] <= 200


def test_follow_closes_in_on_a_kink_and_sees_turning_points():
    def kinked(u):
        return np.stack([u, np.abs(u - 0.3371) * 50], axis=1)

    u, points = follow(kinked, np.array([0.0, 1.0]), 1e-5)
    assert np.min(np.hypot(*(points - [0.3371, 0.0]).T)) < 5e-4
    assert len(u) < 100

    def wave(u):
        return np.stack([100 * u, np.sin(2 * np.pi * u)], axis=1)

    assert len(follow(wave, np.array([0.0, 1.0]))[0]) > 100
    assert len(follow(wave, np.array([0.5]))[0]) == 1


def test_glued_edges_are_one_line_in_space():
    skin = two_charts()
    (edge,) = glued_edges(skin)
    for k in (0, len(edge.here) // 3, len(edge.here) - 1):
        ends = []
        for number, at in ((edge.chart_here, edge.here), (edge.chart_there, edge.there)):
            chart = skin.charts[number]
            ends.append(chart.patch.at(*chart.flat_map.to_param(at[k : k + 1])[0]))
        assert ends[0] == pytest.approx(ends[1], abs=1e-2)
    (seam,) = glued_edges(pipe())
    assert np.abs(np.ptp(seam.here - seam.there, axis=0)) == pytest.approx([0, 0], abs=1e-9)
    assert glued_edges(sheet()) == ()


def test_spans_along_a_line():
    line = np.array([[0.0, 0.0], [10.0, 0.0], [20.0, 0.0], [40.0, 0.0]])
    along = MultiLineString([[(2, 1e-4), (5, 0)], [(15, 0), (30, 0)], [(28, 0), (40, 0)]])
    assert spans_on(line, along) == pytest.approx(np.array([[0.2, 0.5], [1.5, 3.0]]), abs=1e-3)
    crossing = LineString([(7, -5), (7, 5)])
    assert len(spans_on(line, crossing)) == 0
    assert len(spans_on(line, LineString())) == 0
    assert len(spans_on(line, Point(1, 0))) == 0


def test_merge_common_and_part():
    spans = merge(np.array([[3.0, 4.0], [0.0, 1.0], [0.5, 2.0], [4.0, 5.0]]))
    assert spans.tolist() == [[0.0, 2.0], [3.0, 5.0]]
    assert common(spans, np.array([[1.5, 3.5]])).tolist() == [[1.5, 2.0], [3.0, 3.5]]
    assert len(merge(np.zeros((0, 2)))) == len(common(spans, np.zeros((0, 2)))) == 0
    line = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0]])
    assert part_of(line, 0.5, 1.25).tolist() == [[5.0, 0.0], [10.0, 0.0], [10.0, 2.5]]
