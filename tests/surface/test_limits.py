"""Boxes by station and % chord, and plan circles, against quadrature over the exact surface."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from numpy.polynomial.legendre import leggauss
from scipy.integrate import quad
from scipy.optimize import brentq

from mapper.errors import MapperError
from mapper.surface.clip import whole
from mapper.surface.limits import box, plan_circle
from mapper.surface.measure import area, whole_area
from tests.surface.examples import pipe, sheet, tapered, twisted, two_charts

X, W = leggauss(30)


def _row(patch, t, s0, s1):
    """Integral of the surface's area over s at one t, split at the mesh lines."""
    s0, s1 = min(s0, s1), max(s0, s1)
    breaks = np.unique([s0, *(k for k in (*patch.s_lines, -0.05, 0.05) if s0 < k < s1), s1])
    total = 0.0
    for a, b in pairwise(breaks):
        s = 0.5 * (a + b) + 0.5 * (b - a) * X
        by_s, by_t = patch.partials(s, np.full_like(s, t))
        total += 0.5 * (b - a) * float(W @ np.linalg.norm(np.cross(by_s, by_t), axis=-1))
    return total


def _s_at(patch, t, percent, sign):
    """Root of the abscissa along the section's own chord line, not by the program's solver."""
    if percent in (0.0, 100.0):
        return sign * percent / 100.0
    ends = patch.at(np.array([-1.0, 0.0, 1.0]), np.full(3, t))
    chord = 0.5 * (ends[0] + ends[2]) - ends[1]

    def miss(s):
        at = patch.at(np.array([sign * s]), np.array([t]))[0] - ends[1]
        return float(at @ chord / (chord @ chord)) - percent / 100.0

    return sign * brentq(miss, 0.02 * np.sqrt(percent / 100.0) + 1e-3, 1.0, xtol=1e-15)


def exact_box(patch, stations, chord, sign):
    start, stop = (float(patch.station(0.0, t)) for t in (0.0, 1.0))
    t0, t1 = ((v - start) / (stop - start) for v in stations)
    return quad(
        lambda t: _row(patch, t, _s_at(patch, t, chord[0], sign), _s_at(patch, t, chord[1], sign)),
        t0, t1, epsrel=1e-11, epsabs=0,
    )[0]  # fmt: skip


BOXES = [
    ((1000, 1500), (0, 20), "upper"),
    ((1200, 1300), (5, 10), "lower"),
    ((2000, 3500), (60, 100), "upper"),
    ((600, 3900), (30, 40), "lower"),
]


@pytest.mark.parametrize("make", [tapered, twisted])
@pytest.mark.parametrize(("stations", "chord", "side"), BOXES)
def test_boxes_are_right_to_a_millionth(make, stations, chord, side):
    """The required 1e-6, against scipy's quadrature through the evaluator."""
    skin = make()
    exact = exact_box(skin.charts[0].patch, stations, chord, 1.0 if side == "upper" else -1.0)
    region = box(skin, stations=stations, chord=chord, side=side)
    assert area(skin, region) == pytest.approx(exact, rel=1e-6)


@pytest.mark.parametrize("mirrored", [False, True])
def test_boxes_over_two_charts_and_both_sides_add_up(mirrored):
    skin = two_charts(mirrored)
    both = area(skin, box(skin, stations=(2500, 3600), chord=(0, 45)))
    parts = [
        area(skin, box(skin, stations=st, chord=ch, side=side))
        for st in ((2500, 3000), (3000, 3600))
        for ch in ((0, 12), (12, 45))
        for side in ("upper", "lower")
    ]
    assert sum(parts) == pytest.approx(both, rel=1e-6)
    exact = sum(
        exact_box(chart.patch.of if mirrored else chart.patch, st, (12, 45), 1.0)
        for chart, st in zip(skin.charts, ((2500, 3000), (3000, 3600)))
    )
    upper = box(skin, stations=(2500, 3600), chord=(12, 45), side="upper")
    assert area(skin, upper) == pytest.approx(exact, rel=1e-6)


def test_limits_beyond_the_skin_and_none_at_all():
    skin = tapered()
    for region in (
        box(skin),
        box(skin, stations=(-500, 9000), chord=(-5, 200)),
        box(skin, chord=(0, 100), side="both"),
    ):
        assert area(skin, region) == pytest.approx(whole_area(skin), rel=1e-7)
    sides = [area(skin, box(skin, side=side)) for side in ("upper", "lower")]
    assert sides[0] == pytest.approx(sides[1], rel=1e-9)  # a symmetrical section
    assert box(skin, stations=(6000, 7000)).is_empty
    assert box(skin, chord=(-20, -10)).is_empty


def test_box_of_a_flat_piece_and_of_a_tube():
    plain = sheet()
    start, stop = plain.station.min(), plain.station.max()
    assert stop - start == pytest.approx(600)
    assert area(plain, box(plain, stations=(start + 100, start + 250))) == pytest.approx(150 * 400)
    tube = pipe()
    assert area(tube, box(tube, stations=(200, 300))) == pytest.approx(100 * np.pi * 40, rel=1e-9)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"stations": (3, 3)}, "stations"),
        ({"stations": (5, 3)}, "stations"),
        ({"stations": (1, np.nan)}, "stations"),
        ({"chord": (1, 2, 3)}, "% chord"),
        ({"side": "top"}, "'top'"),
    ],
)
def test_box_refuses(given, words):
    with pytest.raises(MapperError, match=words):
        box(tapered(), **given)


def test_box_refuses_what_a_shape_has_not():
    with pytest.raises(MapperError, match="has none"):
        box(pipe(), chord=(0, 10))
    with pytest.raises(MapperError, match="has none"):
        box(sheet(), chord=(0, 10))
    with pytest.raises(MapperError, match="one side"):
        box(pipe(), side="lower")


def exact_plan_circle(patch, x, y, radius, sign):
    """Quadrature in polar plan coordinates is awkward at a rim; over y with the x limits solved."""
    y0, y1 = (float(patch.at(0.0, t)[1]) for t in (0.0, 1.0))

    def s_at(t, value):
        return brentq(lambda s: float(patch.at(sign * s, t)[0]) - value, 0.05, 1.0, xtol=1e-15)

    def row(angle):
        t = (y + radius * np.sin(angle) - y0) / (y1 - y0)
        half = radius * np.cos(angle)
        ends = sign * s_at(t, x - half), sign * s_at(t, x + half)
        return _row(patch, t, *ends) * half / (y1 - y0)

    return quad(row, -np.pi / 2, np.pi / 2, epsrel=1e-10)[0]


@pytest.mark.parametrize("make", [tapered, twisted])
@pytest.mark.parametrize(("radius", "side"), [(30, "upper"), (150, "lower")])
def test_plan_circle_against_quadrature(make, radius, side):
    skin = make()
    patch = skin.charts[0].patch
    x, y = 700.0, float(patch.at(0.0, 0.4)[1])
    exact = exact_plan_circle(patch, x, y, radius, 1.0 if side == "upper" else -1.0)
    found = area(skin, plan_circle(skin, x, y, radius, side))
    assert found == pytest.approx(exact, abs=1e-5 * max(exact, 1e4))
    assert found > np.pi * radius**2  # a slope makes it larger than its plan


def test_plan_circle_over_edges_and_charts():
    skin, other = two_charts(), two_charts(mirrored=True)
    across = area(skin, plan_circle(skin, 800, 3000, 120))
    assert len(plan_circle(skin, 800, 3000, 120).geoms) == 2
    assert area(other, plan_circle(other, 800, -3000, 120)) == pytest.approx(across, rel=1e-7)
    assert plan_circle(skin, 9000, 3000, 120).is_empty
    assert plan_circle(skin, 800, -3000, 120).is_empty
    # One circle that covers the whole side: all of it, the curl under the nose too.
    everything = plan_circle(skin, 1000, 2500, 9000, "upper")
    assert area(skin, everything) == pytest.approx(area(skin, box(skin, side="upper")), rel=1e-6)


def test_plan_circle_on_a_tube_is_the_cylinder_cut():
    """Identity: a vertical cylinder of radius r on a tube of radius R cuts out, above,
    the integral of 2 sqrt(r2 - x2) R / sqrt(R2 - x2)."""
    tube, r, big = pipe(), 12.0, 20.0
    exact = quad(
        lambda a: 2 * (r * np.cos(a)) ** 2 * big / np.sqrt(big**2 - (r * np.sin(a)) ** 2),
        -np.pi / 2, np.pi / 2,
    )[0]  # fmt: skip
    for side in ("upper", "lower"):
        region = plan_circle(tube, 0.0, 500.0, r, side)
        assert area(tube, region) == pytest.approx(exact, rel=2e-6)
        half = plan_circle(tube, 0.0, 0.0, r, side)  # the tube's end cuts the circle in half
        assert area(tube, half) == pytest.approx(0.5 * exact, rel=2e-6)
    assert len(plan_circle(tube, 0.0, 500.0, r, "lower").geoms) == 2  # the seam is at the bottom


def test_plan_circle_on_a_flat_piece_and_refusals():
    plain = sheet()
    x, y, _ = plain.points.mean(axis=0)
    assert area(plain, plan_circle(plain, x, y, 50)) == pytest.approx(np.pi * 2500, rel=2e-6)
    for given, words in (
        ((0, 0, 0), "radius"),
        ((0, np.nan, 5), "radius"),
        ((0, 0, 5, "both"), "one side"),
        ((0, 0, 5, "left"), "'left'"),
    ):
        with pytest.raises(MapperError, match=words):
            plan_circle(tapered(), *given)


def test_whole_and_box_agree_on_every_chart():
    skin = two_charts()
    assert area(skin, whole(skin)) == pytest.approx(area(skin, box(skin)), rel=1e-7)
