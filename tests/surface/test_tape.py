"""Places by tape: distances square to a rib and a spar, and what is nearest."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from mapper.errors import MapperError
from mapper.surface.build import make_skin
from mapper.surface.geometry import Geometry, MapLine, Opening, Placement, Tolerance
from mapper.surface.lines import chord_line, station_line
from mapper.surface.near import nearest_lines
from mapper.surface.place import flat_of, place_of
from mapper.surface.tape import Tape, by_tape, tape_of, tape_words
from meshes.loft import LoftSection, loft
from meshes.sections import Naca4

TWO = (
    LoftSection(0.0, 1500.0, Naca4("2412")),
    LoftSection(2000.0, 1500.0, Naca4("2412"), dihedral=5.0),
    LoftSection(5000.0, 1000.0, Naca4("4409"), twist=-3.0, dihedral=6.0),
)
STRAIGHT = (LoftSection(0.0, 1000.0, Naca4("0012")), LoftSection(4000.0, 1000.0, Naca4("0012")))


def geometry(sections, mirrored: bool = False) -> Geometry:
    skin = make_skin(loft(sections)[0], triangles=6000, mirrored=mirrored)
    last = int(sections[-1].station / 500.0)
    lines = [
        MapLine(f"rib {k}", "rib", "skin", station_line(skin, 500.0 * k)) for k in range(1, last)
    ]
    for name, chord in (("front spar", 15.0), ("rear spar", 65.0)):
        lines.append(MapLine(name, "spar", "skin", chord_line(skin, chord)))
    hole = shapely.Point(flat_of(skin, 1300.0, 40.0, True)[0]).buffer(50.0)
    opening = Opening("filler", "skin", shapely.MultiPolygon([hole]))
    placement = Placement(np.zeros(3), np.eye(3))
    tolerance = Tolerance("tape", 2.0)
    return Geometry(
        "wing", "loft", (skin,), tolerance, placement, tuple(lines), openings=(opening,)
    )


WING, LEFT, PLAIN = geometry(TWO), geometry(TWO, mirrored=True), geometry(STRAIGHT)


def test_on_a_straight_wing_the_tape_is_plain() -> None:
    # Constant chord, no sweep: the flat map is a rectangle, so the answer is arithmetic.
    for upper, sign in ((True, 1.0), (False, -1.0)):
        spar = flat_of(PLAIN.skins[0], 2000.0, 15.0, upper)[0]
        point = by_tape(
            PLAIN, "skin", rib="rib 3", outboard=120.0, spar="front spar", aft=60.0, upper=upper
        )
        assert np.allclose(point, [1500.0 + 120.0, spar[1] + sign * 60.0], atol=1e-9)


@settings(max_examples=50, deadline=None)
@given(
    rib=st.integers(1, 9),
    outboard=st.floats(-90.0, 90.0),
    spar=st.sampled_from(["front spar", "rear spar"]),
    aft=st.floats(-90.0, 90.0),
    upper=st.booleans(),
    left=st.booleans(),
)
def test_by_tape_and_back(rib, outboard, spar, aft, upper, left) -> None:
    part = LEFT if left else WING
    if rib == 4:
        # On the chart edge: the sign says which chart.
        outboard = abs(outboard) if outboard != 0.0 else 1.0
    point = by_tape(
        part, "skin", rib=f"rib {rib}", outboard=outboard, spar=spar, aft=aft, upper=upper
    )
    assert bool(place_of(part.skins[0], point).upper[0]) == upper
    found = tape_of(part, "skin", point)
    assert (found.rib, found.spar, found.upper) == (f"rib {rib}", spar, upper)
    assert found.outboard == pytest.approx(outboard, abs=1e-6)
    assert found.aft == pytest.approx(aft, abs=1e-6)


def test_left_and_right_have_the_same_tape() -> None:
    for upper in (True, False):
        asked = {"rib": "rib 7", "outboard": 120.0, "spar": "front spar", "aft": -40.0}
        right = by_tape(WING, "skin", upper=upper, **asked)
        left = by_tape(LEFT, "skin", upper=upper, **asked)
        assert np.allclose(right * [1.0, -1.0], left, atol=1e-9)
        assert place_of(WING.skins[0], right).station[0] > 3500.0


def test_the_tape_may_cross_a_chart_edge() -> None:
    point = by_tape(WING, "skin", rib="rib 3", outboard=620.0, spar="rear spar", aft=-60.0)
    assert place_of(WING.skins[0], point).chart[0] == 1
    ribs = {n.name: n.distance for n in nearest_lines(WING, "skin", point) if n.kind == "rib"}
    # The shortest way to rib 3 crosses the edge; it is what the tape was laid out with, but for the
    # slight turn of the sheet there.
    assert ribs["rib 3"] == pytest.approx(620.0, abs=0.5)


def test_words() -> None:
    point = by_tape(WING, "skin", rib="rib 7", outboard=120.0, spar="front spar", aft=60.0)
    assert tape_words(WING, "skin", point) == (
        "rib 7, 120 mm outboard, 60 mm aft of front spar, upper side"
    )
    point = by_tape(
        WING, "skin", rib="rib 2", outboard=-30.0, spar="rear spar", aft=-5.0, upper=False
    )
    assert tape_words(WING, "skin", point) == (
        "rib 2, 30 mm inboard, 5 mm forward of rear spar, lower side"
    )
    bare = Geometry("wing", "loft", WING.skins, WING.tolerance, WING.placement)
    words = tape_words(bare, "skin", flat_of(WING.skins[0], 1234.0, 30.0, True))
    assert words == "station 1234 mm, 30.0 % chord, upper side"
    assert tape_of(bare, "skin", point) is None
    assert tape_words(WING, "skin", [-500.0, 0.0]) == "off the sheet"


def test_nearest_lines_are_sorted_and_named() -> None:
    skin = PLAIN.skins[0]
    point = flat_of(skin, 1300.0, 40.0, True)[0] + [80.0, 0.0]
    near = nearest_lines(PLAIN, "skin", point)
    assert [n.distance for n in near] == sorted(n.distance for n in near)
    found = {(n.kind, n.name): n.distance for n in near}
    # Station 1380 on a wing of constant chord: all by arithmetic. The filler (50 mm about station
    # 1300) lies in the way to the root: two tangents and the arc between them.
    arc = 50.0 * (np.pi / 2 - np.arccos(50.0 / 80.0))
    assert found["edge", "root"] == pytest.approx(np.sqrt(80**2 - 50**2) + arc + 1300.0, abs=0.1)
    assert found["opening", "filler"] == pytest.approx(30.0, abs=0.1)
    assert found["rib", "rib 3"] == pytest.approx(120.0, abs=1e-6)
    assert found["edge", "tip"] == pytest.approx(2620.0, abs=1e-6)
    spar = flat_of(skin, 1380.0, 65.0, True)[0]
    assert found["spar", "rear spar"] == pytest.approx(abs(spar[1] - point[1]), abs=1e-6)


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"rib": "rib 77", "spar": "front spar"}, "'rib 1', 'rib 2'"),
        ({"rib": "rib 7", "spar": "main"}, "'front spar', 'rear spar'"),
        ({"rib": "rib 7", "spar": "front spar", "aft": 9000.0}, "lies off skin"),
        ({"rib": "rib 7", "spar": "front spar", "outboard": -9000.0}, "lies off skin"),
        ({"rib": "rib 7", "spar": "front spar", "outboard": float("nan")}, "Finite"),
    ],
)
def test_what_is_not_there_is_said(asked, words: str) -> None:
    with pytest.raises(MapperError, match=words):
        by_tape(WING, "skin", **{"outboard": 0.0, "aft": 0.0, **asked})
    with pytest.raises(MapperError, match="No skin"):
        by_tape(WING, "keel", rib="rib 1", outboard=0.0, spar="front spar", aft=0.0)
    with pytest.raises(MapperError, match="off the skin"):
        nearest_lines(WING, "skin", [-500.0, 0.0])


def test_a_tape_is_a_plain_record() -> None:
    assert Tape("rib 1", 1.0, "spar", 2.0, True) == Tape("rib 1", 1.0, "spar", 2.0, True)
