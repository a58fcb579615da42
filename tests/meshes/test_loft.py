"""Lofts: where sections stand, what % chord means, and the kernel's own areas."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from meshes.errors import ShapeError
from meshes.loft import LoftPlan, LoftSection, loft
from meshes.sections import Naca4, Naca5

ROOT = LoftSection(0.0, 2000.0, Naca4("2412"))
TIP = LoftSection(5000.0, 1000.0, Naca4("2412"))
CHANGING = (
    LoftSection(500.0, 1600.0, Naca4("2415")),
    LoftSection(4000.0, 900.0, Naca4("0009"), twist=-4.0, sweep=6.0, dihedral=5.0),
)


def test_straight_quarter_chord_is_the_default() -> None:
    root, tip = (curve.at(0.0) for curve in LoftPlan((ROOT, TIP)).curves)
    assert np.allclose(root, [0.0, 0.0, 0.0], atol=1e-12)
    assert np.allclose(tip, [500.0 - 250.0, 5000.0, 0.0], atol=1e-12)


def test_sweep_dihedral_and_their_lengths_agree() -> None:
    angles = LoftPlan((ROOT, replace(TIP, sweep=10.0, dihedral=5.0)))
    aft = 0.25 * 2000 + 5000 * np.tan(np.radians(10.0)) - 0.25 * 1000
    height = 5000 * np.tan(np.radians(5.0))
    lengths = LoftPlan((ROOT, replace(TIP, leading_edge_aft=aft, height=height)))
    assert np.allclose(angles.curves[1].at(0.3), lengths.curves[1].at(0.3), atol=1e-9)
    assert np.allclose(angles.curves[1].at(0.0), [aft, 5000.0, height], atol=1e-9)


def test_twist_raises_the_nose_about_the_quarter_chord() -> None:
    flat, turned = (LoftPlan((ROOT, replace(TIP, twist=w))).curves[1] for w in (0.0, 3.0))
    quarter = np.array([500.0, 5000.0, 0.0])
    assert turned.at(0.0)[2] == pytest.approx(250.0 * np.sin(np.radians(3.0)), abs=1e-9)
    assert np.linalg.norm(turned.at(0.7) - quarter) == pytest.approx(
        np.linalg.norm(flat.at(0.7) - quarter), abs=1e-9
    )


def test_datum_moves_stations_not_the_part() -> None:
    plan = LoftPlan((replace(ROOT, station=1200.0), replace(TIP, station=6200.0)), datum=1200.0)
    assert plan.curves[0].at(0.0)[1] == 0.0
    assert plan.patches[0].station(0.2, [0.0, 1.0]).tolist() == [1200.0, 6200.0]


def test_per_cent_chord_is_the_abscissa_not_xi() -> None:
    patch = LoftPlan((ROOT, TIP)).patches[0]
    # On the upper side of a 2412 the nose bulges ahead of xi = 0. Near it x = xi - slope yt with
    # slope .1 and yt = 5 x .12 x .2969 sqrt xi (TR 460): x is negative up to sqrt xi = .0178, where
    # the skin is .178 x .0178 = 3.2 thousandths of the chord long.
    assert patch.chord(0.017, 0.0) == 0.0 and patch.chord(0.019, 0.0) > 0.0
    s = np.linspace(0.0, 0.0178, 200)
    ahead = np.linalg.norm(np.diff(patch.at(s, 0.0), axis=0), axis=1).sum() / 2000.0
    assert ahead == pytest.approx(3.2e-3, abs=1e-4)
    # At 30 % chord the point lies at x = 600 mm of a 2000 mm root, whatever its xi.
    s = patch.s_at_chord(0.0, 30.0, [True, False])
    assert np.allclose(patch.at(s, 0.0)[:, 0], 600.0, atol=1e-9)
    assert abs(float(s[0]) ** 2 - 0.3) > 1e-4


@settings(max_examples=60, deadline=None)
@given(
    t=st.floats(0.0, 1.0),
    # A subnormal per cent has no root to be told from the leading edge.
    chord=st.floats(0.0, 100.0, allow_subnormal=False),
    upper=st.booleans(),
    closed=st.booleans(),
)
def test_chord_and_s_are_inverse(t: float, chord: float, upper: bool, closed: bool) -> None:
    sections = [replace(s, section=replace(s.section, closed=closed)) for s in CHANGING]
    patch = LoftPlan(tuple(sections)).patches[0]
    s = float(patch.s_at_chord(t, chord, upper))
    assert (s > 0) == upper or chord == 0.0
    # The upper edge of an open base lies up to .02 % of the chord beside the chord line's end.
    assert float(patch.chord(s, t)) == pytest.approx(chord, abs=1e-9 if closed else 0.03)


def test_edges_are_the_lines_xi_0_and_1() -> None:
    patch = LoftPlan(CHANGING).patches[0]
    t = np.linspace(0.0, 1.0, 5)
    assert np.all(patch.s_at_chord(t, 0.0, True) == 0.0)
    assert np.all(patch.s_at_chord(t, 100.0, True) == 1.0)
    assert np.all(patch.s_at_chord(t, 100.0, False) == -1.0)
    assert np.isnan(patch.s_at_chord(t, [-1.0, 101.0, np.nan, -0.001, 200.0], True)).all()


def test_a_line_of_constant_chord_is_not_one_of_constant_xi_on_a_changing_loft() -> None:
    patch = LoftPlan(CHANGING).patches[0]
    xi = patch.s_at_chord([0.0, 0.5, 1.0], 10.0, True) ** 2
    assert np.ptp(xi) > 1e-3


def test_partials_are_exact() -> None:
    patch = LoftPlan(CHANGING).patches[0]
    s, t = np.meshgrid(np.linspace(-0.95, 0.95, 12), np.linspace(0.05, 0.95, 5))
    by_s, by_t = patch.partials(s, t)
    h = 1e-6
    assert np.abs((patch.at(s + h, t) - patch.at(s - h, t)) / (2 * h) - by_s).max() < 1e-5
    assert np.abs((patch.at(s, t + h) - patch.at(s, t - h)) / (2 * h) - by_t).max() < 1e-5


def test_outward_points_away_from_the_wing() -> None:
    patch = LoftPlan(CHANGING).patches[0]
    for sign in (1.0, -1.0):
        normal = patch.outward(sign * np.linspace(0.5, 0.9, 5), 0.5)
        assert np.all(sign * normal[:, 2] > 0.9)
        assert np.allclose(np.linalg.norm(normal, axis=1), 1.0)
    assert patch.outward(0.0, 0.5)[0] < -0.9


def test_kinds() -> None:
    def kind(*sections: LoftSection) -> str:
        return LoftPlan(sections).patches[0].kind

    assert kind(ROOT, TIP) == "cone"
    assert kind(ROOT, replace(ROOT, station=1000.0, sweep=20.0)) == "cone"
    assert kind(ROOT, replace(TIP, twist=1e-3)) == "ruled"
    assert kind(ROOT, replace(TIP, section=Naca5("23012"))) == "ruled"
    assert kind(replace(ROOT, twist=2.0), replace(TIP, twist=2.0)) == "cone"


def test_sheets_of_a_loft() -> None:
    opened = [replace(s, section=Naca4("0012", closed=False)) for s in (ROOT, TIP)]
    sheets = loft(opened, end_ribs=True, open_base=True)
    assert [s.name for s in sheets] == ["skin", "base", "root rib", "tip rib"]
    base = sheets[1].patches[0]
    # The base is .00252 of the chord high (0012, open; quadrature).
    assert np.linalg.norm(base.at(1.0, 0.0) - base.at(-1.0, 0.0)) == pytest.approx(5.04, abs=1e-6)
    # The trailing edge runs forward by 750 mm over 5000 mm.
    assert base.outward(0.0, 0.5)[0] == pytest.approx(np.cos(np.arctan(0.15)), abs=1e-6)
    with pytest.raises(ShapeError, match="closed"):
        loft([ROOT, TIP], open_base=True)


@pytest.mark.parametrize(
    ("field", "sections"),
    [
        ("sections", [ROOT]),
        ("sections", []),
        ("sections[1].station", [ROOT, ROOT]),
        ("sections[1].station", [ROOT, replace(TIP, station=float("nan"))]),
        ("sections[0].chord", [replace(ROOT, chord=0.0), TIP]),
        ("sections[1].chord", [ROOT, replace(TIP, chord=-5.0)]),
        ("sections[1].chord", [ROOT, replace(TIP, chord="wide")]),
        ("sections[1].twist", [ROOT, replace(TIP, twist=45.0)]),
        ("sections[1].sweep", [ROOT, replace(TIP, sweep=80.0)]),
        ("sections[1].sweep", [ROOT, replace(TIP, sweep=1.0, leading_edge_aft=5.0)]),
        ("sections[1].dihedral", [ROOT, replace(TIP, dihedral=1.0, height=5.0)]),
        ("sections[1].section", [ROOT, replace(TIP, section="2412")]),
    ],
)
def test_mistakes_are_named_by_field(field: str, sections: list[LoftSection]) -> None:
    with pytest.raises(ShapeError) as caught:
        loft(sections)
    assert caught.value.field == field and caught.value.given and caught.value.allowed


def test_a_station_off_the_loft_is_refused() -> None:
    with pytest.raises(ShapeError) as caught:
        LoftPlan((ROOT, TIP)).locate(6000.0)
    assert caught.value.field == "station"
