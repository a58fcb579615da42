"""Lines of station and % chord on the flat map."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from mapper.errors import MapperError
from mapper.surface.build import make_skin
from mapper.surface.lines import chord_line, station_line
from mapper.surface.place import flat_of, place_of, space_of
from meshes.loft import LoftPlan, LoftSection, loft
from meshes.plate import plate
from meshes.rib import rib
from meshes.sections import Naca4
from meshes.tube import tube

THREE = (
    LoftSection(0.0, 1800.0, Naca4("2412")),
    LoftSection(2000.0, 1500.0, Naca4("2412"), dihedral=2.0),
    LoftSection(5000.0, 900.0, Naca4("4409"), twist=-3.0, dihedral=5.0),
)
WING = make_skin(loft(THREE)[0], triangles=6000)


def points(line) -> np.ndarray:
    return np.asarray(line.coords)


@pytest.mark.parametrize("station", [0.0, 333.0, 3456.7, 5000.0])
@pytest.mark.parametrize("side", ["upper", "lower", "both"])
def test_station_lines_have_that_station(station: float, side: str) -> None:
    (line,) = station_line(WING, station, side).geoms
    # Corners and the middles of the pieces between them.
    at = points(line)
    for flat in (at, 0.5 * (at[1:] + at[:-1])):
        places = place_of(WING, flat)
        assert np.nanmax(np.abs(places.station - station)) < 1e-4
    places = place_of(WING, at)
    if side != "both":
        assert np.all((places.upper == (side == "upper")) | (places.chord == 0.0))
    assert places.chord.max() == 100.0 and places.chord.min() == 0.0


def test_a_station_line_is_as_long_as_the_section() -> None:
    # NACA 2412 (closed here): lengths on both sides by the quadrature of test_sections, 1.02814 and
    # 1.01354 chords.
    upper, lower = (station_line(WING, 0.0, side).length for side in ("upper", "lower"))
    assert upper == pytest.approx(1.02814 * 1800.0, abs=0.02)
    assert lower == pytest.approx(1.01354 * 1800.0, abs=0.02)
    assert station_line(WING, 0.0).length == pytest.approx(upper + lower, abs=1e-6)


def test_where_charts_meet_each_has_its_line() -> None:
    lines = station_line(WING, 2000.0).geoms
    assert len(lines) == 2
    for line, chart in zip(lines, WING.charts, strict=True):
        assert chart.outline.exterior.distance(shapely.Point(line.coords[5])) < 2e-4


@pytest.mark.parametrize("chord", [0.0, 10.0, 65.0, 100.0])
def test_chord_lines_have_that_chord(chord: float) -> None:
    for side in ("upper", "lower"):
        lines = chord_line(WING, chord, side, (500.0, 4500.0)).geoms
        assert len(lines) == 2
        for line in lines:
            places = place_of(WING, points(line))
            assert np.allclose(places.chord, chord, atol=1e-8)
            assert places.station.min() > 499.999 and places.station.max() < 4500.001
            middle = 0.5 * (points(line)[1:] + points(line)[:-1])
            exact = flat_of(WING, place_of(WING, middle).station, chord, side == "upper")
            if 0.0 < chord < 100.0:
                assert np.abs(exact - middle).max() < 1e-4
    assert len(chord_line(WING, chord).geoms) == (2 if chord == 0.0 else 4)


def test_lines_on_a_straight_wing_are_straight() -> None:
    (line, _) = chord_line(WING, 30.0, "upper").geoms
    assert len(line.coords) == 2
    xyz = space_of(WING, points(line))
    assert np.linalg.norm(xyz[1] - xyz[0]) == pytest.approx(line.length, abs=1e-9)


def test_left_and_right_lines_are_mirror_images() -> None:
    left = make_skin(loft(THREE)[0], triangles=6000, mirrored=True)
    for one, other in (
        (station_line(WING, 2500.0), station_line(left, 2500.0)),
        (chord_line(WING, 30.0), chord_line(left, 30.0)),
    ):
        for a, b in zip(one.geoms, other.geoms, strict=True):
            assert np.array_equal(points(a) * [1.0, -1.0], points(b))


def test_flat_pieces_and_tubes() -> None:
    skin = make_skin(plate([[0, 0], [500, 0], [500, 300], [250, 100], [0, 300]], datum=5.0)[0])
    (line,) = station_line(skin, 105.0).geoms
    assert np.allclose(points(line), [[100.0, 0.0], [100.0, 220.0]])
    assert station_line(skin, 900.0).is_empty and chord_line(skin, 50.0).is_empty
    pipe = make_skin(tube(50.0, 40.0, 400.0)[0])
    girth = np.pi * (50.0 - 10.0 * 100.0 / 400.0)
    assert station_line(pipe, 100.0).length == pytest.approx(girth, abs=1e-5)
    piece = make_skin(rib(LoftPlan(THREE), 1000.0)[0])
    (line,) = chord_line(piece, 30.0).geoms
    assert np.allclose(place_of(piece, points(line)).chord, 30.0)
    assert station_line(piece, 1000.0).is_empty


def test_off_the_skin_is_empty_and_nonsense_is_refused() -> None:
    assert station_line(WING, -1.0).is_empty and station_line(WING, 5000.1).is_empty
    assert chord_line(WING, 30.0, stations=(6000.0, 7000.0)).is_empty
    with pytest.raises(MapperError, match="Allowed are upper, lower, both"):
        station_line(WING, 1000.0, "top")
    with pytest.raises(MapperError, match="0 to 100"):
        chord_line(WING, 120.0)
    with pytest.raises(MapperError, match="outboard of the first"):
        chord_line(WING, 20.0, stations=(900.0, 800.0))
