"""Lines from place to place and along named lines, on a wing with a break and a twist."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
import shapely

from mapper.errors import MapperError
from mapper.job.partfile.build import build
from mapper.job.partfile.read import read_text
from mapper.job.runs import run_along, run_of
from mapper.surface.clip import whole
from mapper.surface.geometry import Geometry
from mapper.surface.limits import box
from mapper.surface.measure import length
from mapper.surface.place import place_of

WING = """
units = "in"
part = "wing"
shape = "loft"
[measured]
how = "tape"
tolerance = 2
[[section]]
station = 20
chord = 60
profile = "2412"
[[section]]
station = 80
chord = 58
[[section]]
station = 180
chord = 30
twist = -3
leading_edge_aft = 22
[[spar]]
name = "rear spar"
chord = 62
[[rib]]
name = "rib 5"
station = 100
"""


@cache
def wing() -> Geometry:
    return build(read_text(WING), triangles=4000)


def places(line) -> tuple[np.ndarray, np.ndarray, np.ndarray]:  # type: ignore[no-untyped-def]
    # Between corners too: a line may not leave its % chord from one corner to the next.
    points = shapely.get_coordinates(shapely.segmentize(line, 40.0))
    found = place_of(wing().skins[0], points)
    return found.station, found.chord, found.upper


def test_equal_percents_follow_that_percent_over_a_break() -> None:
    skin = wing().skins[0]
    line = run_of(skin, [(22 * 25.4, 62.0), (172 * 25.4, 62.0)], True)
    station, chord, upper = places(line)
    assert upper.all() and np.abs(chord - 62.0).max() < 2e-3
    assert (station.min(), station.max()) == (pytest.approx(558.8), pytest.approx(4368.8))
    assert len(line.geoms) == 2  # one on each side of the break
    # The rear spar as the part file draws it, between the same stations: the surface room's line.
    spar = run_along(wing(), skin, "rear spar", box(skin, stations=(558.8, 4368.8), side="upper"))
    assert length(skin, line) == pytest.approx(length(skin, spar), rel=1e-6)
    assert shapely.hausdorff_distance(line, spar) < 0.05


def test_other_places_change_evenly_with_the_station() -> None:
    line = run_of(wing().skins[0], [(600.0, 20.0), (4000.0, 70.0)], False)
    station, chord, upper = places(line)
    assert not upper.any()
    assert np.abs(chord - (20.0 + (station - 600.0) * 50.0 / 3400.0)).max() < 5e-3


def test_at_one_station_it_runs_round_the_section() -> None:
    skin = wing().skins[0]
    line = run_of(skin, [(2540.0, 0.0), (2540.0, 30.0)], True)
    rib = run_along(wing(), skin, "RIB 5", box(skin, chord=(0.0, 30.0), side="upper"))
    assert len(line.geoms) == 1
    assert length(skin, line) == pytest.approx(length(skin, rib), rel=1e-5)


def test_a_place_on_the_break_does_not_leap_the_gap() -> None:
    skin = wing().skins[0]
    gap = run_of(skin, [(80 * 25.4, 30.0), (100 * 25.4, 30.0)], True)
    assert length(skin, gap) == pytest.approx(20 * 25.4, rel=0.1)
    through = run_of(skin, [(60 * 25.4, 30.0), (80 * 25.4, 30.0), (100 * 25.4, 30.0)], True)
    assert length(skin, through) == pytest.approx(40 * 25.4, rel=0.1)
    assert run_of(skin, [(1000.0, 30.0), (1000.0, 30.0)], True).is_empty


def test_from_end_to_end_of_the_sheet() -> None:
    # The ends as the skin has them, from inches, and a rounding beside them.
    skin = wing().skins[0]
    low, high = float(skin.station.min()), float(skin.station.max())
    for end in (high, np.nextafter(high, np.inf), np.nextafter(high, 0.0)):
        line = run_of(skin, [(low, 62.0), (end, 62.0)], True)
        station, chord, _ = places(line)
        assert station.min() == pytest.approx(low) and station.max() == pytest.approx(high)
        assert np.abs(chord - 62.0).max() < 2e-3


def test_what_is_no_line() -> None:
    skin = wing().skins[0]
    with pytest.raises(MapperError, match="two places or more"):
        run_of(skin, [(600.0, 30.0)], True)
    with pytest.raises(
        MapperError, match=r"no line 'rear sparr'.*It has.*Did you mean 'rear spar'"
    ):
        run_along(wing(), skin, "rear sparr", whole(skin))
    assert run_along(wing(), skin, "rib 5", box(skin, stations=(600.0, 700.0))).is_empty
