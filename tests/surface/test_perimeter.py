"""True lengths on a skin, and perimeters with chart edges inside."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad
from shapely import LineString, MultiLineString, MultiPolygon, Point, box

from mapper.errors import MapperError
from mapper.surface.build import make_skin
from mapper.surface.clip import whole
from mapper.surface.limits import box as box_of
from mapper.surface.perimeter import length, perimeter
from meshes.loft import LoftSection, loft
from meshes.sections import Naca4
from tests.surface.examples import pipe, sheet, tapered, twisted, two_charts

SEAM = 20 * np.pi


def _section_length(patch, t):
    """Length of the section at t by quadrature, split at the nose and kinks."""
    breaks = [-1.0, *sorted({-0.05, 0.0, 0.05, *patch.s_lines[1:-1].tolist()}), 1.0]

    def speed(s):
        return float(np.linalg.norm(patch.partials(np.array([s]), np.array([t]))[0]))

    return sum(quad(speed, a, b, epsrel=1e-11)[0] for a, b in pairwise(breaks))


def test_whole_tapered_skin():
    """NACA 0012 closed: skin length 2.03955 of the chord (quadrature of the four-digit equation);
    the trailing edges are straight lines."""
    skin = tapered()
    edge = np.linalg.norm(skin.charts[0].patch.at(1.0, 1.0) - skin.charts[0].patch.at(1.0, 0.0))
    exact = 2.03955 * 3000 + 2 * edge
    assert perimeter(skin, whole(skin)) == pytest.approx(exact, abs=0.000005 * 3000 * 2 + 0.01)


def test_root_section_of_2412():
    """NACA 2412 with its open trailing edge: upper 1.02803, lower 1.01337 of the chord (quadrature
    of the four-digit equation)."""
    sections = [
        LoftSection(0, 1600, Naca4("2412", closed=False)),
        LoftSection(2000, 1200, Naca4("2412", closed=False), twist=-2.0),
    ]
    skin = make_skin(loft(sections)[0], triangles=8000)
    rim = skin.charts[0].flat_map
    s = np.union1d(rim.s, skin.charts[0].patch.s_lines)
    root = LineString(rim.to_flat(np.stack([s, np.zeros_like(s)], axis=1)))
    assert length(skin, root) == pytest.approx(1600 * (1.02803 + 1.01337), abs=1600 * 1e-5)


def test_whole_stretched_skin_over_two_charts():
    skin = two_charts()
    inner, outer = (c.patch for c in skin.charts)
    exact = _section_length(inner, 0.0) + _section_length(outer, 1.0)
    for s in (-1.0, 1.0):
        for patch in (inner, outer):
            exact += float(np.linalg.norm(patch.at(s, 1.0) - patch.at(s, 0.0)))
    assert perimeter(skin, whole(skin)) == pytest.approx(exact, rel=1e-6)


def test_box_over_the_chart_edge():
    """The two stations' sections and two lines of constant % chord, all solved on the surface."""
    skin = two_charts()
    region = box_of(skin, stations=(2600, 3400), chord=(0, 100))
    inner, outer = (c.patch for c in skin.charts)
    exact = _section_length(inner, 2600 / 3000) + _section_length(outer, 400 / 2000)
    for s in (-1.0, 1.0):
        exact += float(np.linalg.norm(inner.at(s, 1.0) - inner.at(s, 2600 / 3000)))
        exact += float(np.linalg.norm(outer.at(s, 0.2) - outer.at(s, 0.0)))
    assert perimeter(skin, region) == pytest.approx(exact, rel=3e-6)
    one_side = box_of(skin, stations=(2600, 3000), chord=(0, 100))
    exact = _section_length(inner, 2600 / 3000) + _section_length(inner, 1.0)
    for s in (-1.0, 1.0):
        exact += float(np.linalg.norm(inner.at(s, 1.0) - inner.at(s, 2600 / 3000)))
    assert perimeter(skin, one_side) == pytest.approx(exact, rel=1e-6)  # ends there: it counts


def test_tube_seam_counts_where_the_region_ends_there_only():
    skin = pipe()
    top = box(100, SEAM - 20, 300, SEAM)
    assert perimeter(skin, top) == pytest.approx(440, rel=1e-6)
    both = MultiPolygon([top, box(100, -SEAM, 300, -SEAM + 20)])
    assert perimeter(skin, both) == pytest.approx(480, rel=1e-6)
    shifted = MultiPolygon([top, box(150, -SEAM, 350, -SEAM + 20)])
    assert perimeter(skin, shifted) == pytest.approx(2 * 200 + 4 * 20 + 2 * 50, rel=1e-6)
    ring = box(100, -2 * SEAM, 300, 2 * SEAM)
    kept = ring.intersection(whole(skin))
    assert perimeter(skin, kept) == pytest.approx(2 * 40 * np.pi, rel=5e-6)
    assert perimeter(skin, whole(skin)) == pytest.approx(2 * 40 * np.pi, rel=5e-6)


def test_holes_count_and_lines_end_at_the_sheet():
    skin = sheet()
    x, y = skin.flat.mean(axis=0)
    disc = Point(x, y).buffer(50, quad_segs=256)
    holed = whole(skin).difference(disc)
    assert perimeter(skin, holed) == pytest.approx(2000 + disc.length, rel=1e-6)
    across = LineString([(x - 5000, y), (x + 5000, y)])
    assert length(skin, across) == pytest.approx(600, rel=1e-5)
    assert length(twisted(), LineString([(-900, 0), (-100, 0)])) == 0.0


def test_curved_line_on_a_stretched_skin_against_chords_in_space():
    """A straight flat line, cut fine, its points put in space by hand: Richardson's limit."""
    skin = twisted()
    chart = skin.charts[0]
    line = np.array([[900.0, -300.0], [2500.0, 420.0]])
    sums = []
    for count in (40_000, 80_000):
        w = np.linspace(0, 1, count + 1)[:, None]
        param = chart.flat_map.to_param(line[0] + w * (line[1] - line[0]))
        points = chart.patch.at(param[:, 0], param[:, 1])
        sums.append(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
    exact = sums[1] + (sums[1] - sums[0]) / 3
    assert length(skin, LineString(line)) == pytest.approx(exact, rel=1e-7)


def test_empty_and_refusals():
    skin = pipe()
    assert perimeter(skin, MultiPolygon()) == 0.0
    assert length(skin, MultiLineString()) == 0.0
    with pytest.raises(MapperError, match="perimeter"):
        perimeter(skin, LineString([(0, 0), (1, 1)]))
    with pytest.raises(MapperError, match="length"):
        length(skin, Point(0, 0))
    with pytest.raises(MapperError, match="corner"):
        length(skin, LineString([(0, 0), (np.inf, 1)]))
