"""Bent-up patterns and fork ends against sums of rectangles, half circles and bend allowances, and
in space against plane geometry. The rule for the allowance, (.01743 R + .0078 T) a degree, is the
usual shop rule; from memory."""

from __future__ import annotations

import math

import numpy as np
import pytest

from mapper.surface.build import make_skin
from mapper.surface.lines import station_line
from mapper.surface.measure import area, whole_area
from mapper.surface.place import flat_at_space, place_of, space_of
from mapper.surface.region import box, disc
from meshes.errors import ShapeError
from meshes.folded import NEUTRAL, Flange, allowance, folded
from meshes.fork import Fork, fork_sheets, push_pull_tube
from meshes.records import patch_from

BASE = [[0.0, 0.0], [100.0, 0.0], [100.0, 60.0], [0.0, 60.0]]
FLANGES = (
    Flange(0, 30.0, 90.0, 3.0),
    Flange(3, 40.0, 90.0, 3.0, round_end=True),
    Flange(1, 20.0, -45.0, 5.0),
)
FORK = Fork(24.0, 16.0, 30.0, 4.0, 8.0, 20.0, 34.0, 3.0)


def bend(angle: float, radius: float, gauge: float) -> float:
    return abs(angle) * (0.01743 * radius + 0.0078 * gauge)


def test_the_allowance_is_the_rule_a_degree() -> None:
    for angle, radius, gauge in ((90.0, 0.125, 0.04), (45.0, 3.0, 1.2), (-120.0, 6.0, 2.0)):
        wanted = bend(angle, radius, gauge)
        # .01743 is pi / 180 to four figures.
        assert allowance(angle, radius, gauge) == pytest.approx(wanted, rel=2e-3)


def test_the_developed_area_is_base_bends_and_flanges() -> None:
    (sheet,) = folded(BASE, FLANGES, 1.2)
    skin = make_skin(sheet)
    exact = 100 * 60
    exact += 100 * (allowance(90, 3, 1.2) + 30)
    exact += 60 * (allowance(90, 3, 1.2) + 40 - 30) + 0.5 * math.pi * 30**2
    exact += 60 * (allowance(45, 5, 1.2) + 20)
    assert whole_area(skin) == pytest.approx(exact, rel=1e-9)
    assert skin.charts[0].flat_map.isometric


def test_a_flange_stands_where_its_bend_puts_it() -> None:
    (sheet,) = folded(BASE, [Flange(0, 30.0, 90.0, 3.0)], 1.2)
    patch = sheet.patches[0]
    radius = 3.0 + NEUTRAL * 1.2
    run = allowance(90.0, 3.0, 1.2)
    tip = patch.at(40.0, -(run + 30.0))
    # The base lies in z = 0 with s outboard (y) and t aft (x); inner is down, against e1 x e2 = -z.
    assert tip == pytest.approx([-radius, 40.0, -(radius + 30.0)], abs=1e-9)
    middle = patch.at(40.0, -0.5 * run)
    centre = np.array([0.0, 40.0, -radius])
    assert np.linalg.norm(middle - centre) == pytest.approx(radius, abs=1e-9)
    assert patch.outward(40.0, 20.0) == pytest.approx([0.0, 0.0, 1.0])
    assert patch.outward(40.0, -(run + 9.0)) == pytest.approx([-1.0, 0.0, 0.0], abs=1e-9)


def test_nothing_stretches_and_derivatives_are_those_of_the_points() -> None:
    (sheet,) = folded(BASE, FLANGES, 1.2)
    skin = make_skin(sheet)
    patch = sheet.patches[0]
    s, t = skin.param.mean(axis=0)[0], skin.param.mean(axis=0)[1]
    middle = skin.param[skin.triangles].mean(axis=1)
    s, t = middle[:, 0], middle[:, 1]
    by_s, by_t = patch.partials(s, t)
    one = np.stack([np.sum(a * b, axis=1) for a, b in ((by_s, by_s), (by_s, by_t), (by_t, by_t))])
    assert one == pytest.approx(np.array([[1.0], [0.0], [1.0]]) + 0 * one, abs=1e-12)
    step = 1e-5
    rough = (patch.at(s + step, t) - patch.at(s - step, t)) / (2 * step)
    # Bend lines have a kink of curvature: differences over them are off by the step.
    assert np.quantile(np.abs(by_s - rough).max(axis=1), 0.99) < 1e-5
    again = patch_from(patch.to_dict())
    assert np.array_equal(again.at(s, t), patch.at(s, t))


@pytest.mark.parametrize("mirrored", [False, True])
def test_places_are_found_again_on_flange_and_base(mirrored: bool) -> None:
    (sheet,) = folded(BASE, FLANGES, 1.2, datum=10.0)
    skin = make_skin(sheet, mirrored=mirrored)
    sign = -1.0 if mirrored else 1.0
    flat = np.array([[50.0, 30.0 * sign], [50.0, -25.0 * sign], [-30.0, 20.0 * sign]])
    again, distance = flat_at_space(skin, space_of(skin, flat))
    assert again == pytest.approx(flat, abs=1e-6)
    assert distance == pytest.approx(0.0, abs=1e-9)
    assert place_of(skin, flat).station == pytest.approx([60.0, 60.0, -20.0])
    assert area(skin, disc(skin, flat[0], 10.0)) == pytest.approx(math.pi * 100.0, rel=1e-4)
    assert area(skin, box(skin, stations=(30.0, 60.0))) > 30.0 * 60.0
    assert not station_line(skin, 50.0).is_empty


def test_a_fork_is_its_strap_and_barrel() -> None:
    strap, barrel = fork_sheets(FORK, 0.0, ahead=True, name="fork")
    half = 8.0 - 3.0
    run = allowance(90.0, 3.0, 4.0)
    flat = 30.0 - 4.0 - 3.0
    exact = 24.0 * 2 * (half + run + flat) + math.pi * 12.0**2
    assert whole_area(make_skin(strap)) == pytest.approx(exact, rel=1e-9)
    assert whole_area(make_skin(barrel)) == pytest.approx(math.pi * 20.0 * 34.0, rel=1e-12)
    # The holes' centres lie on one bolt, 30 mm from the strap's outside, which is at the barrel.
    for way, start in ((True, 100.0), (False, 0.0)):
        strap, barrel = fork_sheets(FORK, start, ahead=way, name="fork")
        sign = 1.0 if way else -1.0
        centres = [strap.patches[0].at(*hole.mean(axis=0)) for hole in strap.holes]
        wanted = start + sign * (34.0 + 30.0)
        assert [c[1] for c in centres] == pytest.approx([wanted, wanted], abs=1e-6)
        assert abs(centres[0][0] - centres[1][0]) == pytest.approx(16.0 + 2 * NEUTRAL * 4.0)
        ends = barrel.patches[0].at(0.0, np.array([0.0, 1.0]))[:, 1]
        assert sorted(abs(ends - start).tolist()) == pytest.approx([0.0, 34.0])
        outer = strap.patches[0].outward(0.0, 0.0)
        assert outer == pytest.approx([0.0, -sign, 0.0], abs=1e-12)


def test_a_push_pull_tube_has_forks_where_asked() -> None:
    names = [s.name for s in push_pull_tube(32.0, 900.0, FORK)]
    assert names == [
        "tube", "near fork strap", "near fork barrel", "far fork strap", "far fork barrel",
    ]  # fmt: skip
    assert [s.name for s in push_pull_tube(32.0, 900.0, FORK, "far")][1:] == names[3:]
    assert len({s.name for s in push_pull_tube(32.0, 900.0, FORK)}) == 5


@pytest.mark.parametrize(
    ("make", "field"),
    [
        (lambda: folded(BASE, [Flange(4, 10.0)], 1.0), "flanges[0].edge"),
        (lambda: folded(BASE, [Flange(0, 10.0), Flange(0, 9.0)], 1.0), "flanges[1].edge"),
        (lambda: folded(BASE, [Flange(0, 0.0)], 1.0), "flanges[0].length"),
        (lambda: folded(BASE, [Flange(0, 10.0, 0.5)], 1.0), "flanges[0].angle"),
        (lambda: folded(BASE, [Flange(0, 10.0, 90.0, -1.0)], 1.0), "flanges[0].radius"),
        (lambda: folded(BASE, [Flange(0, 10.0, round_end=True)], 1.0), "flanges"),
        (lambda: folded(BASE, [], 0.0), "gauge"),
        (
            lambda: folded(
                [[0, 0], [50, 0], [50, 50], [40, 50], [40, 10], [0, 10]], [Flange(3, 60.0)], 1.0
            ),
            "flanges",
        ),
        (lambda: Fork(24.0, 16.0, 8.0, 4.0, 8.0, 20.0, 34.0, 3.0), "reach"),
        (lambda: Fork(24.0, 16.0, 30.0, 4.0, 28.0, 20.0, 34.0), "bolt_diameter"),
        (lambda: Fork(24.0, 16.0, 30.0, 4.0, 8.0, 20.0, 34.0, 9.0), "bend_radius"),
        (lambda: push_pull_tube(32.0, 900.0, FORK, "none"), "ends"),
    ],
)
def test_what_makes_no_fitting_names_its_parameter(make: object, field: str) -> None:
    with pytest.raises(ShapeError) as caught:
        make()  # type: ignore[operator]
    assert caught.value.field == field
