"""Cutting a skin into panels and bays."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from shapely import LineString, MultiLineString, Point

from mapper.errors import MapperError
from mapper.surface.limits import box
from mapper.surface.lines import chord_line, station_line
from mapper.surface.measure import area, whole_area
from mapper.surface.panels import cut_by_lines
from tests.surface.examples import pipe, sheet, tapered, two_charts

SEAM = 20 * np.pi


def test_no_lines_leave_one_cell_over_all_charts():
    for skin in (two_charts(), tapered(), pipe(), sheet()):
        (cell,) = cut_by_lines(skin, [])
        assert len(cell.geoms) == len(skin.charts)
        assert area(skin, cell) == pytest.approx(whole_area(skin), rel=2e-7)


@pytest.mark.parametrize("mirrored", [False, True])
def test_grid_of_ribs_and_spars(mirrored):
    """Every bay is a box by station and % chord, right to 1e-6, and they make up the skin."""
    skin = two_charts(mirrored)
    stations, chords = (0, 1000, 2000, 4000, 5000), (0, 20, 65, 100)
    lines = [station_line(skin, s, "both") for s in stations]
    for side in ("upper", "lower"):
        lines += [chord_line(skin, c, side) for c in chords[1:-1]]
    lines.append(chord_line(skin, 0, "upper"))
    cells = cut_by_lines(skin, lines)
    assert len(cells) == 4 * 6
    sizes = sorted(area(skin, c) for c in cells)
    assert sum(sizes) == pytest.approx(whole_area(skin), rel=1e-9)
    boxes = sorted(
        area(skin, box(skin, stations=(a, b), chord=(c, d), side=side))
        for a, b in pairwise(stations)
        for c, d in pairwise(chords)
        for side in ("upper", "lower")
    )
    assert sizes == pytest.approx(boxes, rel=1e-6)


def test_a_line_along_the_chart_edge_parts_the_cells():
    skin = two_charts()
    assert len(cut_by_lines(skin, [station_line(skin, 3000, "both")])) == 2
    (cell,) = cut_by_lines(skin, [LineString([(500, 0), (700, 0)])])  # ends inside: cuts nothing
    assert area(skin, cell) == pytest.approx(whole_area(skin), rel=2e-7)


def test_tube_rings_and_seam():
    skin = pipe()
    ring = LineString([(400, -SEAM), (400, SEAM)])
    cells = cut_by_lines(skin, [ring])
    assert [area(skin, c) for c in cells] == pytest.approx([400 * 40 * np.pi, 600 * 40 * np.pi])
    # One line along the tube opens it but does not part it; two do.
    along = LineString([(0, 10), (1000, 10)])
    assert len(cut_by_lines(skin, [along])) == 1
    assert len(cut_by_lines(skin, [along, LineString([(0, -30), (1000, -30)])])) == 2
    # A line along the seam parts the cells on both sides of it.
    seam = LineString([(0, SEAM), (1000, SEAM)])
    assert len(cut_by_lines(skin, [seam, along])) == 2


@pytest.mark.parametrize("short", [0.0, 0.02, -3.0])
def test_lines_that_stop_short_by_rounding_or_run_over_still_cut(short):
    skin = sheet()
    (x0, y0), (x1, y1) = skin.flat.min(axis=0), skin.flat.max(axis=0)
    x, y = x0 + 250, y0 + 150
    lines = [
        MultiLineString([[(x, y0 + short), (x, y1 - short)]]),
        LineString([(x + short, y), (x1 - short, y)]),  # a T: it ends on the first one
    ]
    cells = cut_by_lines(skin, lines)
    sizes = [area(skin, c) for c in cells]
    assert len(cells) == 3
    assert sorted(sizes) == pytest.approx(sorted([250 * 400, 350 * 150, 350 * 250]), rel=2e-6)


def test_a_line_that_stops_well_short_does_not_cut():
    skin = sheet()
    (x0, y0), (_, y1) = skin.flat.min(axis=0), skin.flat.max(axis=0)
    assert len(cut_by_lines(skin, [LineString([(x0 + 99, y0), (x0 + 99, y1 - 1.0)])])) == 1


def test_slivers_beside_the_edge_go_to_their_neighbour():
    skin = sheet()
    (x0, y0), (x1, y1) = skin.flat.min(axis=0), skin.flat.max(axis=0)
    beside = LineString([(x0 + 3e-4, y0), (x0 + 3e-4, y1)])
    (cell,) = cut_by_lines(skin, [beside, LineString([(x0, y1), (x1, y1)])])
    assert area(skin, cell) == pytest.approx(600 * 400, rel=1e-9)


def test_closed_lines_cut_out_a_cell_in_order_along_the_map():
    skin = sheet()
    x, y = skin.flat.mean(axis=0)
    ring = Point(x + 100, y).buffer(50, quad_segs=512).exterior
    cells = cut_by_lines(skin, [ring])
    assert [area(skin, c) for c in cells] == pytest.approx(
        [600 * 400 - np.pi * 2500, np.pi * 2500], rel=1e-5
    )


def test_refusals():
    with pytest.raises(MapperError, match="Point"):
        cut_by_lines(sheet(), [Point(0, 0)])
    with pytest.raises(MapperError, match="corner"):
        cut_by_lines(sheet(), [LineString([(0, 0), (np.nan, 1)])])
