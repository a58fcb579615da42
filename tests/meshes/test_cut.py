"""Control surfaces against quadrature of the four-digit formula, written here from NACA TR 460, and
the length and area of an arc of a circle."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from mapper.surface.build import make_skin
from mapper.surface.measure import whole_area
from mapper.surface.place import flat_of, place_of
from meshes.cut import CutPlan, control_surface
from meshes.errors import ShapeError
from meshes.loft import LoftSection
from meshes.records import curve_from
from meshes.sections import Naca4

CHORD, SPAN = 1000.0, 1500.0
CUT = 0.7


def half(x: float) -> float:
    """Half thickness of a 0012 with closed trailing edge, unit chord; TR 460."""
    return 0.6 * (
        0.2969 * math.sqrt(x) - 0.1260 * x - 0.3516 * x**2 + 0.2843 * x**3 - 0.1036 * x**4
    )


def slope(x: float) -> float:
    return 0.6 * (0.14845 / math.sqrt(x) - 0.1260 - 0.7032 * x + 0.8529 * x**2 - 0.4144 * x**3)


def run(low: float, high: float) -> float:
    """Length of one side from low to high, unit chord; x = q^2 takes the root at the nose away."""

    def speed(q: float) -> float:
        return 2 * q * math.hypot(1.0, slope(q * q))

    return quad(speed, math.sqrt(low), math.sqrt(high), epsabs=1e-13, epsrel=1e-13)[0]


def plan(outer: float = CHORD, **more: object) -> CutPlan:
    wing = (LoftSection(0.0, CHORD, Naca4("0012")), LoftSection(4000.0, outer, Naca4("0012")))
    given = {"from_station": 1000.0, "to_station": 1000.0 + SPAN, "from_chord": 100 * CUT} | more
    return CutPlan(wing, **given)  # type: ignore[arg-type]


def test_the_skin_of_an_aileron_is_its_two_sides_and_the_arc_of_its_nose() -> None:
    radius = 60.0
    (sheet,) = control_surface(plan(nose_radius=radius))
    height = half(CUT) * CHORD
    around = 2 * CHORD * run(CUT, 1.0) + 2 * radius * math.asin(height / radius)
    assert whole_area(make_skin(sheet)) == pytest.approx(SPAN * around, rel=1e-9)


def test_without_a_radius_the_nose_is_a_half_circle_and_a_flat_one_is_its_height() -> None:
    height, sides = half(CUT) * CHORD, 2 * CHORD * run(CUT, 1.0)
    for nose, front in (("round", math.pi * height), ("flat", 2 * height)):
        (sheet,) = control_surface(plan(nose=nose))
        found = whole_area(make_skin(sheet))
        assert found == pytest.approx(SPAN * (sides + front), rel=1e-9), nose


def test_the_area_of_a_tapered_one_is_that_of_cones() -> None:
    """The sides scale with the chord: mean of both girths times the length, where nothing leans;
    the lean of a four-degree taper is below 1e-3 of it, and integrated in another way here."""
    tapered = plan(outer=600.0)
    (sheet,) = control_surface(tapered)
    patch = sheet.patches[0]
    s = np.linspace(-1.0, 1.0, 40_001)
    p, q = patch.curve0.at(s), patch.curve1.at(s)
    # Two triangles for each narrow strip: flat pieces, no evaluator.
    one = np.linalg.norm(np.cross(p[1:] - p[:-1], q[:-1] - p[:-1]), axis=-1)
    two = np.linalg.norm(np.cross(q[1:] - q[:-1], q[1:] - p[1:]), axis=-1)
    assert whole_area(make_skin(sheet)) == pytest.approx(0.5 * (one.sum() + two.sum()), rel=1e-7)


def test_it_lies_on_its_wing_behind_the_nose() -> None:
    made = plan(outer=600.0)
    t = np.linspace(0.0, 1.0, 5)
    for station in made.stations[0] + SPAN * t:
        for chord in (75.0, 90.0, 99.0):
            wing = made.parent.point(float(station), chord, True)
            lead, tail = made.chord_line(float(station))
            own = float((wing - lead) @ tail / (tail @ tail)) * 100.0
            found = made.point(float(station), own, True)
            # The joined sides are straight in the wing's own lines: same section throughout.
            assert np.allclose(found, wing, atol=2e-3), (station, chord)


def test_a_slat_is_the_front_of_the_section() -> None:
    made = plan(from_chord=0.0, to_chord=16.0, lower_to_chord=4.0)
    sheets = control_surface(made, end_plates=True, open_base=True)
    assert [s.name for s in sheets] == ["skin", "base", "inboard end plate", "outboard end plate"]
    skins = [make_skin(s) for s in sheets]
    around = CHORD * (run(0.0, 0.16) + run(0.0, 0.04))
    assert whole_area(skins[0]) == pytest.approx(SPAN * around, rel=1e-9)
    back = CHORD * math.hypot(0.12, half(0.16) + half(0.04))
    assert whole_area(skins[1]) == pytest.approx(SPAN * back, rel=1e-12)
    flat = flat_of(skins[0], 1500.0, [10.0, 3.0], [True, False])
    places = place_of(skins[0], flat)
    assert places.chord == pytest.approx([10.0, 3.0], abs=1e-9)
    assert places.upper.tolist() == [True, False]


def test_an_end_plate_is_the_section_behind_the_cut_and_a_piece_of_a_circle() -> None:
    radius = 60.0
    plates = control_surface(plan(nose_radius=radius), end_plates=True)[1:]
    height = half(CUT) * CHORD
    angle = math.asin(height / radius)
    bow = radius**2 * (angle - math.sin(angle) * math.cos(angle))
    behind = 2 * CHORD**2 * quad(half, CUT, 1.0, epsabs=1e-14)[0]
    for sheet in plates:
        assert whole_area(make_skin(sheet)) == pytest.approx(behind + bow, rel=1e-7)


def test_derivatives_are_those_of_the_points_and_the_record_gives_the_same_curve() -> None:
    curve = plan(outer=600.0, nose_radius=80.0).patches[0].curve0
    s = np.setdiff1d(np.linspace(-0.99, 0.99, 397), curve.kinks)
    step = 1e-6
    rough = (curve.at(s + step) - curve.at(s - step)) / (2 * step)
    assert np.abs(curve.d(s) - rough).max() < 1e-4 * np.abs(curve.d(s)).max()
    again = curve_from(curve.to_dict())
    assert np.array_equal(again.at(s), curve.at(s)) and np.array_equal(again.d(s), curve.d(s))


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"nose_radius": 20.0}, "nose_radius"),
        ({"nose_radius": 60.0, "tip_nose_radius": 10.0}, "tip_nose_radius"),
        ({"to_station": 900.0}, "to_station"),
        ({"to_station": 5000.0}, "to_station"),
        ({"from_chord": 80.0, "to_chord": 70.0}, "to_chord"),
        ({"tip_from_chord": 0.0}, "tip_from_chord"),
        ({"nose": "blunt"}, "nose"),
        ({"nose_radius": float("nan")}, "nose_radius"),
    ],
)
def test_what_makes_no_control_surface_names_its_parameter(
    more: dict[str, object], field: str
) -> None:
    with pytest.raises(ShapeError) as caught:
        control_surface(plan(**more))
    assert caught.value.field == field
    assert caught.value.given and caught.value.allowed


def test_a_closed_trailing_edge_has_no_base() -> None:
    with pytest.raises(ShapeError) as caught:
        control_surface(plan(), open_base=True)
    assert caught.value.field == "open_base"
