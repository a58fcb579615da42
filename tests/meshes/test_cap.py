"""Rounded tips: half a body of revolution by quadrature of the four-digit formula (NACA TR 460,
written here), an elliptic one by many flat triangles."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from mapper.surface.build import make_skin
from mapper.surface.measure import area, whole_area
from mapper.surface.place import flat_at_space, place_of, space_of
from mapper.surface.round import angle_box, flat_at_angle
from mapper.surface.stretch import stretch_behind
from meshes.cap import tip_cap
from meshes.curves import SectionCurve
from meshes.errors import ShapeError
from meshes.records import patch_from
from meshes.sections import Naca4

CHORD = 900.0


def half(x: float) -> float:
    return 0.6 * (
        0.2969 * math.sqrt(x) - 0.1260 * x - 0.3516 * x**2 + 0.2843 * x**3 - 0.1036 * x**4
    )


def speed(q: float) -> float:
    """Length of the upper side for a step of q, x = q^2."""
    x = q * q
    slope = 0.6 * (0.14845 / q - (0.1260 + x * (0.7032 - x * (0.8529 - x * 0.4144))))
    return 2.0 * q * math.hypot(1.0, slope)


@pytest.mark.parametrize("mirrored", [False, True])
def test_a_symmetrical_tip_is_half_a_body_of_revolution(mirrored: bool) -> None:
    exact = math.pi * CHORD**2 * quad(lambda q: half(q * q) * speed(q), 0, 1, epsabs=1e-14)[0]
    (sheet,) = tip_cap(Naca4("0012"), CHORD, gores=4)
    skin = make_skin(sheet, mirrored=mirrored)
    assert whole_area(skin) == pytest.approx(exact, rel=1e-7)
    for angles in ((0.0, 90.0), (90.0, 180.0), (30.0, 75.0)):
        share = (angles[1] - angles[0]) / 180.0
        found = area(skin, angle_box(skin, angles=angles))
        assert found == pytest.approx(share * exact, rel=2e-6)
    assert stretch_behind(skin, 0.05 * CHORD) < 1.6


def test_an_elliptic_cambered_tip_is_that_of_many_flat_triangles() -> None:
    (sheet,) = tip_cap(Naca4("2412"), CHORD, bulge=1.6, gores=2)
    total = 0.0
    for patch in sheet.patches:
        # Points packed towards nose and tail, where the surface closes.
        u = 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, 1201))
        s, t = np.meshgrid(np.linspace(patch.low, patch.high, 401), u, indexing="ij")
        p = patch.at(s, t)
        one = np.cross(p[1:, :-1] - p[:-1, :-1], p[:-1, 1:] - p[:-1, :-1])
        two = np.cross(p[1:, :-1] - p[1:, 1:], p[:-1, 1:] - p[1:, 1:])
        total += 0.5 * float(np.linalg.norm([one, two], axis=-1).sum())
    assert whole_area(make_skin(sheet)) == pytest.approx(total, rel=1e-5)


def test_it_meets_the_tip_section() -> None:
    (sheet,) = tip_cap(Naca4("2412"), CHORD, bulge=1.6, gores=2)
    curve = SectionCurve(Naca4("2412"), CHORD, 0.0, 0.25 * CHORD, 0.0, 0.0)
    lower, upper = sheet.patches
    t = np.linspace(0.0, 1.0, 9)
    u = upper.first + t * (upper.last - upper.first)
    assert upper.at(0.0, t) == pytest.approx(curve.at(u), abs=1e-9)
    assert lower.at(-1.0, t) == pytest.approx(curve.at(-u), abs=1e-9)
    middle = upper.at(-0.5, 0.4)
    assert middle[1] > 0.0
    assert (upper.outward(-0.3, t[1:-1])[:, 1] > 0.0).all()


def test_places_derivatives_and_records() -> None:
    (sheet,) = tip_cap(Naca4("2412"), CHORD, bulge=1.6, gores=3, datum=50.0)
    skin = make_skin(sheet, triangles=8_000)
    flat = flat_at_angle(skin, [150.0, 450.0, 800.0], [20.0, 90.0, 170.0])
    places = place_of(skin, flat)
    assert places.angle == pytest.approx([20.0, 90.0, 170.0], abs=1e-9)
    assert places.station == pytest.approx([150.0, 450.0, 800.0], abs=1e-5)
    again, distance = flat_at_space(skin, space_of(skin, flat))
    assert distance == pytest.approx(0.0, abs=1e-7)
    assert again == pytest.approx(flat, abs=1e-4)
    # The inboard half is not there.
    assert np.isnan(flat_at_angle(skin, 450.0, 270.0)).all()
    patch = sheet.patches[1]
    s = np.linspace(patch.low + 0.01, patch.high - 0.01, 31)
    t = np.linspace(0.05, 0.95, 31)
    step = 1e-6
    by_s, by_t = patch.partials(s, t)
    rough_s = (patch.at(s + step, t) - patch.at(s - step, t)) / (2 * step)
    rough_t = (patch.at(s, t + step) - patch.at(s, t - step)) / (2 * step)
    assert np.abs(by_s - rough_s).max() < 1e-4
    assert np.abs(by_t - rough_t).max() < 1e-2
    assert np.array_equal(patch_from(patch.to_dict()).at(s, t), patch.at(s, t))


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"chord": 0.0}, "chord"),
        ({"bulge": 0.0}, "bulge"),
        ({"bulge": float("nan")}, "bulge"),
        ({"gores": 7}, "gores"),
    ],
)
def test_what_makes_no_tip_names_its_parameter(more: dict[str, float], field: str) -> None:
    given = {"chord": CHORD} | more
    with pytest.raises(ShapeError) as caught:
        tip_cap(Naca4("0012"), **given)  # type: ignore[arg-type]
    assert caught.value.field == field
