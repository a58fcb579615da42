"""Ribs, webs, plates, tubes, covers, outlines; records of all of them."""

from __future__ import annotations

import numpy as np
import pytest

from meshes.check import shoelace
from meshes.cover import flat_cover, oval_cover, round_cover, skin_cover
from meshes.errors import ShapeError
from meshes.loft import LoftPlan, LoftSection
from meshes.mirror import MirroredPatch
from meshes.outline import oval_ring, rectangle_ring, round_ring
from meshes.plate import plate
from meshes.records import curve_from, patch_from, section_from
from meshes.rib import LighteningHole, rib
from meshes.sampling import parameters, polygon_points
from meshes.sections import Coordinates, Naca4, Naca5
from meshes.simple import crosses_itself, holds_point, holds_ring, rings_meet
from meshes.tube import tube
from meshes.web import spar_web

PLAN = LoftPlan(
    (
        LoftSection(0.0, 2000.0, Naca4("2412")),
        LoftSection(2000.0, 1500.0, Naca4("2412"), dihedral=3.0),
        LoftSection(5000.0, 1000.0, Naca4("0009"), twist=-3.0, dihedral=3.0),
    )
)


def four_digit_area(thickness: float, edge: float) -> float:
    """Area / chord squared of a symmetrical four-digit section: twice the integral of the thickness
    law of NACA TR 460, term by term."""
    terms = 0.2969 * 2 / 3 - 0.1260 / 2 - 0.3516 / 3 + 0.2843 / 4 - edge / 5
    return 2.0 * 5.0 * thickness * terms


@pytest.mark.parametrize(("closed", "edge"), [(True, 0.1036), (False, 0.1015)])
def test_rib_area_is_the_sections(closed: bool, edge: float) -> None:
    sections = [LoftSection(y, 1000.0, Naca4("0012", closed)) for y in (0.0, 1000.0)]
    (sheet,) = rib(LoftPlan(tuple(sections)), 500.0)
    assert shoelace(sheet.outline) == pytest.approx(four_digit_area(0.12, edge) * 1e6, rel=1e-8)


def test_rib_lies_where_its_station_is() -> None:
    (sheet,) = rib(PLAN, 3500.0, 10.0, 65.0, [LighteningHole(30.0, 50.0)])
    patch = sheet.patches[0]
    points = patch.at(*sheet.outline.T)
    assert np.allclose(points[:, 1], 3500.0) and np.all(patch.station(*sheet.outline.T) == 3500.0)
    chord = patch.chord(*sheet.outline.T)
    assert chord.min() == pytest.approx(10.0, abs=1e-3) and chord.max() == pytest.approx(
        65.0, abs=1e-3
    )
    loft_patch, t = PLAN.locate(3500.0)
    nose = loft_patch.at(loft_patch.s_at_chord(t, 10.0, True), t)
    assert np.linalg.norm(points - nose, axis=1).min() < 1e-3
    assert shoelace(sheet.holes[0]) == pytest.approx(np.pi * 25.0**2, rel=1e-12)
    assert np.allclose(patch.outward(0.0, 0.0), [0.0, 1.0, 0.0])


@pytest.mark.parametrize(
    ("field", "holes"),
    [
        ("holes[0].diameter", [LighteningHole(30.0, 500.0)]),
        ("holes[1].chord", [LighteningHole(30.0, 80.0), LighteningHole(32.0, 80.0)]),
        ("holes[1].chord", [LighteningHole(30.0, 80.0), LighteningHole(30.0, 10.0)]),
        ("holes[0].chord", [LighteningHole(90.0, 20.0)]),
        ("holes[0].diameter", [LighteningHole(30.0, -1.0)]),
    ],
)
def test_bad_holes_are_named(field: str, holes: list[LighteningHole]) -> None:
    with pytest.raises(ShapeError) as caught:
        rib(PLAN, 1000.0, 5.0, 70.0, holes)
    assert caught.value.field == field


def test_web_stands_between_the_skins() -> None:
    (sheet,) = spar_web(PLAN, 25.0, 100.0, 4800.0)
    assert len(sheet.patches) == 2 and [p.kind for p in sheet.patches] == ["cone", "ruled"]
    first = sheet.patches[0]
    assert np.allclose(first.at(1.0, 0.0), PLAN.point(100.0, 25.0, True))
    assert np.allclose(first.at(-1.0, 1.0), PLAN.point(2000.0, 25.0, False))
    assert first.outward(0.0, 0.5)[0] < -0.99
    assert np.isnan(first.chord(0.0, 0.0)) and first.upper(-1.0, 0.0)


@pytest.mark.parametrize(
    ("field", "values"),
    [
        ("chord", (100.0, 0.0, 5000.0)),
        ("to_station", (30.0, 3000.0, 200.0)),
        ("from_station", (30.0, -1.0, 200.0)),
    ],
)
def test_bad_webs_are_named(field: str, values: tuple[float, float, float]) -> None:
    with pytest.raises(ShapeError) as caught:
        spar_web(PLAN, *values)
    assert caught.value.field == field


def test_tube_is_round_and_joined_along_its_seam() -> None:
    (sheet,) = tube(50.0, 40.0, 300.0, datum=10.0)
    patch = sheet.patches[0]
    t = np.linspace(0.0, 1.0, 5)
    assert np.allclose(patch.at(-1.0, t), patch.at(1.0, t), atol=1e-12)
    assert np.allclose(np.hypot(*patch.at(0.3, t)[:, [0, 2]].T), 25.0 - 5.0 * t)
    assert patch.station(0.0, 1.0) == 310.0 and patch.kind == "cone"
    assert np.all(np.sum(patch.outward(0.3, t) * patch.at(0.3, t), axis=-1) > 0)
    assert (sheet.joins[0].edge_a, sheet.joins[0].edge_b) == ("s0", "s1")
    for field, values in (("diameter0", (0.0, 1.0, 1.0)), ("length", (1.0, 1.0, float("inf")))):
        with pytest.raises(ShapeError) as caught:
            tube(*values)
        assert caught.value.field == field


def test_round_and_oval_covers_have_their_exact_area() -> None:
    assert shoelace(round_cover(300.0)[0].outline) == pytest.approx(np.pi * 150.0**2, rel=1e-13)
    assert shoelace(oval_cover(300.0, 200.0)[0].outline) == pytest.approx(
        np.pi * 15000.0, rel=1e-13
    )
    ring = rectangle_ring(300.0, 200.0, 20.0)
    # A rounded rectangle lacks (4 - pi) r squared at its corners.
    assert shoelace(ring) == pytest.approx(60000.0 - (4.0 - np.pi) * 400.0, rel=1e-13)
    assert np.allclose(ring.min(axis=0), [-150.0, -100.0]) and not crosses_itself(ring)
    assert len(rectangle_ring(3.0, 2.0)) == 4


def test_outlines_are_never_far_from_their_circle() -> None:
    for diameter in (1.0, 60.0, 2000.0):
        ring = round_ring(diameter, (5.0, -3.0)) - [5.0, -3.0]
        middle = 0.5 * (ring + np.roll(ring, -1, axis=0))
        for points in (ring, middle):
            assert np.abs(np.hypot(*points.T) - diameter / 2).max() < 1e-4
    assert np.allclose(oval_ring(4.0, 2.0)[0], [2.0, 0.0], atol=1e-2)


def test_a_cover_can_be_a_piece_of_the_skin() -> None:
    (sheet,) = skin_cover(PLAN, 1800.0, 2200.0, 30.0, 45.0, upper=False)
    assert len(sheet.patches) == 2
    inner = sheet.patches[0]
    assert inner.station(inner.low, [0.0, 1.0]).tolist() == [1800.0, 2000.0]
    assert np.allclose(inner.chord([inner.high, inner.low], 0.5), [30.0, 45.0], atol=0.2)
    whole, t = PLAN.locate(1900.0)
    assert np.allclose(inner.at(-0.6, 0.5), whole.at(-0.6, t), atol=1e-9)
    with pytest.raises(ShapeError) as caught:
        skin_cover(PLAN, 1800.0, 2200.0, 45.0, 30.0, upper=True)
    assert caught.value.field == "to_chord"


def test_plates_refuse_what_is_no_outline() -> None:
    square = [[0, 0], [100, 0], [100, 100], [0, 100]]
    assert shoelace(plate(square[::-1])[0].outline) == 10_000.0
    assert shoelace(flat_cover([*square, square[0]])[0].outline) == 10_000.0
    for field, outline, holes in (
        ("outline", [[0, 0], [1, 1]], ()),
        ("outline", [[0, 0], [1, 1], [2, 2]], ()),
        ("outline", [[0, 0], [100, 100], [100, 0], [0, 100]], ()),
        ("outline", [[0, 0], [1, np.nan], [2, 0]], ()),
        ("outline", [1, 2, 3], ()),
        ("holes[0]", square, ([[50, 50], [150, 50], [50, 80]],)),
    ):
        with pytest.raises(ShapeError) as caught:
            plate(outline, holes=holes)
        assert caught.value.field == field


def test_rings_in_rings() -> None:
    square = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]])
    assert holds_point(square, np.array([5.0, 5.0])) and not holds_point(
        square, np.array([15.0, 5.0])
    )
    assert holds_ring(square, square * 0.5 + 1.0) and not holds_ring(square * 0.5, square)
    beside = np.array([10.0, 0.0])
    assert rings_meet(square, square + beside) and not rings_meet(square, square + 1.1 * beside)
    spike = np.array([[0.0, 0.0], [10.0, 0.0], [20.0, 0.0], [10.0, 0.0], [5.0, 8.0]])
    assert crosses_itself(spike) and not crosses_itself(square)


def test_polygon_points_keep_the_area_and_the_distance() -> None:
    def curve(s: np.ndarray) -> np.ndarray:
        return np.stack([100.0 * np.cos(s), 60.0 * np.sin(s)], axis=-1)

    miss = []
    for sagitta in (1e-2, 1e-3, 1e-4):
        at = parameters(curve, np.array([0.0, np.pi]), sagitta)
        miss.append(abs(shoelace(polygon_points(curve, at)) - 3000.0 * np.pi))
        middle = curve(0.5 * (at[1:] + at[:-1]))
        assert (
            np.linalg.norm(middle - 0.5 * (curve(at[1:]) + curve(at[:-1])), axis=1).max()
            < 2 * sagitta
        )
    # Fourth order in the step is second order in the sagitta: 100 times a decade.
    assert miss[1] < miss[0] / 30 and miss[2] < miss[1] / 30 and miss[2] < 1e-5


@pytest.mark.parametrize(
    "patch",
    [
        PLAN.patches[0],
        PLAN.patches[1].trimmed(-0.5, 0.2, 0.25, 1.0),
        MirroredPatch(PLAN.patches[1]),
        spar_web(PLAN, 30.0, 0.0, 1000.0)[0].patches[0],
        tube(20.0, 22.0, 50.0)[0].patches[0],
        rib(PLAN, 1000.0)[0].patches[0],
    ],
)
def test_patches_come_back_to_the_last_bit(patch) -> None:
    back = patch_from(patch.to_dict())
    s = np.linspace(patch.s_lines[0], patch.s_lines[-1], 9)[:, None]
    t = np.linspace(patch.t_lines[0], patch.t_lines[-1], 7)
    for what in ("at", "outward", "station", "chord", "upper"):
        assert np.array_equal(getattr(back, what)(s, t), getattr(patch, what)(s, t), equal_nan=True)
    assert back.kind == patch.kind and np.array_equal(back.s_lines, patch.s_lines)


def test_sections_come_back_to_the_last_bit() -> None:
    xy = Naca4("0012").at(np.linspace(1.0, -1.0, 31))
    for section in (Naca4("2412", False), Naca5("23112"), Coordinates(xy, "measured")):
        back = section_from(section.to_dict())
        s = np.linspace(-1.0, 1.0, 77)
        assert np.array_equal(back.at(s), section.at(s)) and np.array_equal(back.d(s), section.d(s))


def test_unknown_records_are_refused() -> None:
    for read in (patch_from, curve_from, section_from):
        with pytest.raises(ShapeError, match="newer release"):
            read({"format": "ruled/99"})
