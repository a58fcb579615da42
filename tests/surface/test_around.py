"""Discs and bands carried over glued chart edges."""

from __future__ import annotations

import igl
import numpy as np
import pytest
import shapely
from scipy.integrate import quad
from shapely import LineString, MultiLineString, Point

from mapper.errors import MapperError
from mapper.surface.around import band
from mapper.surface.clip import rims
from mapper.surface.edges import TOUCH, glued_edges
from mapper.surface.measure import area, perimeter
from mapper.surface.meshmap import grid_triangles
from mapper.surface.place import flat_at_space, space_of
from mapper.surface.region import disc
from tests.surface.examples import pipe, sheet, tapered, two_charts


def test_60_mm_disc_on_an_untwisted_wing_is_a_circle():
    """The required case: pi r2 to 1e-5 for a 60 mm flat circle on a wing without twist."""
    skin = tapered()
    for centre in ((2000.0, 200.0), (2000.0, 3.0), (700.0, -500.0)):
        assert area(skin, disc(skin, centre, 60)) == pytest.approx(np.pi * 3600, rel=1e-6)
        assert area(skin, disc(skin, centre, 30)) == pytest.approx(np.pi * 900, rel=1e-6)


@pytest.mark.parametrize("angle", [0.0, 0.9, np.pi - 0.2, np.pi, -np.pi + 0.4])
def test_disc_across_a_tubes_closing_seam_is_exact(angle):
    """Identity: a cylinder lies flat, so a disc less wide than its girth has the area pi r2."""
    skin = pipe()
    centre = (500.0, 20.0 * angle)
    region = disc(skin, centre, 35.0)
    assert area(skin, region) == pytest.approx(np.pi * 35**2, rel=1e-6)
    assert perimeter(skin, region) == pytest.approx(2 * np.pi * 35, rel=2e-5)
    crosses = abs(20 * angle) + 35 > 20 * np.pi
    assert len(region.geoms) == (2 if crosses else 1)


@pytest.mark.parametrize("beside", [0.0, 0.5 * TOUCH, -0.5 * TOUCH, -1.5 * TOUCH, -3 * TOUCH])
@pytest.mark.parametrize("side", [1.0, -1.0])
def test_disc_about_a_point_on_the_closing_seam_is_whole(side, beside):
    """Identity, as above; no half is lost within rounding of the seam, on either side of it."""
    skin = pipe()
    region = disc(skin, (500.0, side * (20 * np.pi + beside)), 35.0)
    assert len(region.geoms) == 2
    assert area(skin, region) == pytest.approx(np.pi * 35**2, rel=1e-6)


@pytest.mark.parametrize("mirrored", [False, True])
def test_disc_about_a_point_on_a_sections_station_is_whole(mirrored):
    """pi r2 but for the crease (judged above against exact distances): half of it on each chart,
    from whichever chart the centre is named."""
    skin = two_charts(mirrored)
    edge = glued_edges(skin)[0]
    k = len(edge.here) // 3
    for centre in (edge.here[k], edge.there[k]):
        region = disc(skin, centre, 120.0)
        halves = [region.intersection(rim).area / (np.pi * 120**2) for rim in rims(skin)]
        assert halves == pytest.approx([0.5, 0.5], abs=0.02)


def test_disc_that_meets_itself_round_a_tube_counts_once():
    """Identity: points of a cylinder within r > pi R of one: 2 int sqrt(r2 - v2), |v| < pi R."""
    skin, r = pipe(), 80.0
    half = 20 * np.pi
    exact = quad(lambda v: 2 * np.sqrt(r * r - v * v), -half, half)[0]
    for y in (0.0, half - 5.0):
        region = disc(skin, (500.0, y), r)
        assert area(skin, region) == pytest.approx(exact, rel=2e-6)


def test_disc_ends_at_the_sheets_edge():
    skin = pipe()
    assert area(skin, disc(skin, (0.0, 0.0), 30.0)) == pytest.approx(0.5 * np.pi * 900, rel=1e-6)
    plain = sheet()
    corner = plain.flat[np.lexsort((plain.flat[:, 1], plain.flat[:, 0]))[0]]
    assert area(plain, disc(plain, corner, 100.0)) == pytest.approx(0.25 * np.pi * 1e4, rel=1e-5)


def _grid_over_the_crease(skin, centre, reach):
    """Points in space (rows, columns, 3) over both charts about a place: rows 5 mm apart by arc
    length of the common section, columns by station, the common section one of them."""
    home, away = skin.charts
    s = np.linspace(-1, 1, 20001)
    arc = home.flat_map.to_flat(np.stack([s, np.ones_like(s)], 1))[:, 1]
    rows = np.interp(centre[1] + np.arange(-reach, reach, 5.0), arc, s)
    t = home.flat_map.to_param(np.array([centre]))[0, 1]
    first = home.patch.at(rows[:, None], np.linspace(t - reach / 3000, 1.0, 40)[None])
    second = away.patch.at(rows[:, None], np.linspace(0.0, reach / 2000, 26)[None, 1:])
    return np.concatenate([first, second], axis=1)


def test_disc_over_a_crease_against_exact_distances():
    """libigl's exact geodesic distances, straight through every triangle, on a 5 mm triangulation
    in space of both charts; each triangle counts by the share of it that is near enough."""
    skin, radius = two_charts(), 120.0
    place = np.array([[2950.0, 60.0]])
    grid = _grid_over_the_crease(skin, place[0], radius + 20.0)
    rows, columns, _ = grid.shape
    points, faces = grid.reshape(-1, 3), grid_triangles(rows, columns).astype(np.int64)
    wanted = space_of(skin, place)
    source = int(np.argmin(np.linalg.norm(points - wanted, axis=1)))
    centre, miss = flat_at_space(skin, points[source : source + 1])
    assert miss[0] < 1e-6
    none = np.zeros(0, np.int64)
    every = np.arange(len(points))
    far = np.ravel(igl.exact_geodesic(points, faces, np.array([source]), none, every, none))
    # Share of each triangle within the radius, the distance being nearly linear in it.
    fine = np.array([[i, j, 12 - i - j] for i in range(13) for j in range(13 - i)]) / 12
    inside = np.mean(far[faces] @ fine.T < radius, axis=1)
    a, b, c = (points[faces[:, k]] for k in range(3))
    true = float(np.sum(inside * 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)))
    region = disc(skin, centre[0], radius)
    assert len(region.geoms) == 2
    assert area(skin, region) == pytest.approx(true, rel=5e-4)
    assert abs(np.pi * radius**2 / true - 1) > 1e-3  # the crease makes itself felt


@pytest.mark.parametrize("mirrored", [False, True])
def test_discs_over_a_chart_edge_meet_it_alike_from_both_sides(mirrored):
    skin = two_charts(mirrored)
    sign = -1.0 if mirrored else 1.0
    edge = {}
    for y in (-700.0, 0.0, 250.0, 800.0):
        region = disc(skin, (2950.0, sign * y), 120.0)
        assert len(region.geoms) == 2
        one, two = (region.intersection(rim) for rim in rims(skin))
        edge[y] = abs(one.area + two.area - np.pi * 120**2) / (np.pi * 120**2)
        # Both halves touch the edge over the same length.
        lengths = [p.boundary.intersection(r.boundary.buffer(1e-3)).length
                   for p, r in zip((one, two), rims(skin))]  # fmt: skip
        assert lengths[0] == pytest.approx(lengths[1], rel=2e-3)
    assert max(edge.values()) < 0.01


@pytest.mark.parametrize(
    ("centre", "radius", "words"),
    [
        ((np.nan, 0), 5, "disc"),
        ((0, 0, 0), 5, "disc"),
        ((500, 0), 0, "disc"),
        ((500, 0), np.inf, "disc"),
        ((5000, 0), 5, "off skin"),
    ],
)
def test_disc_refuses(centre, radius, words):
    with pytest.raises(MapperError, match=words):
        disc(pipe(), centre, radius)


def test_disc_that_goes_round_a_thin_tube_too_often_is_refused():
    with pytest.raises(MapperError, match="too many times"):
        disc(pipe(4.0, 4.0, 5000.0), (2500.0, 0.0), 2000.0)


def test_band_has_length_times_width_and_crosses_the_seam():
    skin = pipe()
    straight = band(skin, [(100.0, 0.0), (400.0, 0.0)], 20.0)
    assert area(skin, straight) == pytest.approx(300 * 20, rel=1e-6)
    seam = 20 * np.pi
    along = band(skin, [(100.0, seam), (400.0, seam)], 20.0)
    assert len(along.geoms) == 2
    assert area(skin, along) == pytest.approx(300 * 20, rel=1e-5)
    assert perimeter(skin, along) == pytest.approx(2 * 320, rel=1e-5)
    over = MultiLineString([[(200, seam - 30), (200, seam)], [(200, -seam), (200, -seam + 30)]])
    assert area(skin, band(skin, over, 10.0)) == pytest.approx(600, rel=1e-4)


def test_band_over_a_curved_chart_edge():
    skin = two_charts()
    line = LineString([(2950.0, 100.0), (3005.0, 300.0)])
    region = band(skin, line, 100.0)
    assert len(region.geoms) == 2
    assert area(skin, region) == pytest.approx(100 * line.length, rel=0.02)


def test_band_of_nothing_and_refusals():
    skin = pipe()
    assert band(skin, LineString(), 10).is_empty
    assert band(skin, LineString([(9000, 0), (9100, 0)]), 10).is_empty
    with pytest.raises(MapperError, match="width"):
        band(skin, LineString([(0, 0), (1, 0)]), -1)
    with pytest.raises(MapperError, match="Point"):
        band(skin, Point(0, 0), 1)
    with pytest.raises(MapperError, match="corner"):
        band(skin, shapely.LineString([(0, 0), (np.nan, 1)]), 1)
