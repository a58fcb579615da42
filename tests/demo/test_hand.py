"""What the story means by its places, drawn by a hand; and the pictures that stand for photos."""

from __future__ import annotations

import io
from datetime import timedelta

import numpy as np
import pytest
import shapely
from PIL import Image

from demo.airframe import Made, part_file
from demo.build import Clock
from demo.outlines import places, shape_of, traced
from demo.photos import MM_PER_PIXEL, picture
from demo.story.row import Along, Blob, Disc, Drawn, Lettering, Rub, Spots, Trace, Words, at
from mapper.errors import MapperError
from mapper.job.partfile.build import build
from mapper.job.partfile.read import read_text
from mapper.job.partfile.words import example
from mapper.surface.geometry import Geometry
from mapper.surface.place import place_of


@pytest.fixture(scope="module")
def wing() -> Geometry:
    return build(read_text(example("loft")), triangles=2000)


def test_places_are_on_the_side_they_name(wing: Geometry) -> None:
    skin = wing.skins[0]
    for side, upper in (("upper", True), ("lower", False)):
        found = place_of(skin, places(skin, ((1300.0, 30.0), (1700.0, 45.0)), side))
        assert found.upper.tolist() == [upper, upper]
        assert found.station == pytest.approx([1300.0, 1700.0])
        assert found.chord == pytest.approx([30.0, 45.0])
    assert places(skin, ((700.0, 300.0),), "flat").tolist() == [[700.0, 300.0]]
    with pytest.raises(MapperError, match="not all on"):
        places(skin, ((99_000.0, 30.0),), "upper")


def test_spots_are_about_as_long_and_wide_as_said(wing: Geometry) -> None:
    skin = wing.skins[0]
    middle = places(skin, ((1500.0, 35.0),), "upper")[0]
    for station in range(1480, 1520, 5):
        spot = shape_of(wing, skin, Blob(float(station), 35.0, 120.0, 40.0))
        # An ellipse's area (closed form), give or take a hand's waver.
        assert spot.area == pytest.approx(np.pi / 4 * 120 * 40, rel=0.35)
        x0, y0, x1, y1 = spot.bounds
        assert 1.8 < (x1 - x0) / (y1 - y0) < 5.0
        assert abs(spot.centroid.x - middle[0]) < 60.0
    # Turned, as angles are counted: from x to y.
    for turn, slope in ((45.0, 1), (-45.0, -1)):
        ring = shapely.get_coordinates(
            shape_of(wing, skin, Blob(1500.0, 35.0, 120.0, 30.0, turn=turn))
        )
        assert np.sign(np.corrcoef(ring.T)[0, 1]) == slope
    disc = shape_of(wing, skin, Disc(1500.0, 35.0, 15.0))
    assert disc.area == pytest.approx(np.pi * 15.0**2, rel=1e-3)


def test_no_line_of_a_hand_is_straight_and_none_goes_astray(wing: Geometry) -> None:
    skin = wing.skins[0]
    corners = ((1300.0, 25.0), (1700.0, 25.0), (1700.0, 45.0), (1300.0, 45.0))
    ruled = shapely.Polygon(places(skin, corners, "upper"))
    drawn = shape_of(wing, skin, Drawn(corners))
    edge = shapely.get_parts(drawn)[0].exterior
    assert 0.5 < edge.hausdorff_distance(ruled.exterior) < 3 * 4.0
    for corner in shapely.get_coordinates(ruled):
        assert edge.distance(shapely.Point(corner)) < 1e-3
    assert drawn.area == pytest.approx(ruled.area, rel=0.02)
    calm = shape_of(wing, skin, Drawn(corners, shake=0.5))
    assert calm.hausdorff_distance(ruled) < 2.0 < drawn.hausdorff_distance(ruled) + 1.5
    # The same on every run; another place wavers otherwise.
    assert shape_of(wing, skin, Drawn(corners)).equals_exact(drawn, 0.0)
    line = shape_of(wing, skin, Trace(corners[:2]))
    (start, end) = places(skin, corners[:2], "upper")
    straight = float(np.hypot(*(end - start)))
    assert 1.0 < line.length / straight < 1.01
    spots = shape_of(wing, skin, Spots(corners))
    assert shapely.get_coordinates(spots) == pytest.approx(places(skin, corners, "upper"))


def test_a_rub_is_about_as_wide_as_the_pad(wing: Geometry) -> None:
    skin = wing.skins[0]
    for width in (40.0, 80.0):
        through = ((1300.0, 35.0), (1900.0, 35.0))
        rub = shape_of(wing, skin, Rub(through, width))
        start, end = places(skin, through, "upper")
        assert rub.area == pytest.approx(width * np.hypot(*(end - start)), rel=0.2)


def test_a_band_runs_along_what_it_names(wing: Geometry) -> None:
    skin = wing.skins[0]
    stations = (1300.0, 1900.0)
    line = shape_of(wing, skin, Along("front spar", stations, "upper"))
    band = shape_of(wing, skin, Along("front spar", stations, "upper", width=30.0))
    assert band.area == pytest.approx(30.0 * line.length, rel=0.06)
    found = place_of(skin, shapely.get_coordinates(line))
    assert found.upper.all()
    assert [found.station.min(), found.station.max()] == pytest.approx(stations, abs=0.1)
    lower = shape_of(wing, skin, Along("front spar", stations, "lower"))
    assert line.distance(lower) > 10.0
    with pytest.raises(TypeError, match="no outline"):
        shape_of(wing, skin, Words("somewhere"))


def test_letters_are_as_high_as_said_and_stand_beside_each_other(wing: Geometry) -> None:
    skin = wing.skins[0]
    letters = traced(skin, Lettering("TV-", 300.0, (1300.0, 60.0), "upper"))
    x, y = places(skin, ((1300.0, 60.0),), "upper")[0]
    # Three letters on a grid of 4 by 6, 1.5 apart.
    assert letters.bounds[:2] == pytest.approx((x, y))
    assert letters.bounds[3] - y == pytest.approx(300.0)
    assert letters.bounds[2] - x == pytest.approx((2 * 5.5 + 3.2) * 50.0)


def test_a_left_part_is_the_right_one_s_with_its_hand_changed() -> None:
    right, left = (part_file(Made("X", "x", "right_aileron", hand)) for hand in (False, True))
    assert 'side = "right"' in right and 'side = "left"' in left
    assert "right" not in left.replace("Described as the mirror image of the right one.", "")
    assert "mirror image" in left.splitlines()[1]
    assert right.count("\n") + 1 == left.count("\n")


def test_the_clock_stands_where_the_story_puts_it() -> None:
    clock = Clock(at("2025-09-08 08:00"))
    assert clock() == clock.now
    assert clock().utcoffset() == timedelta(hours=1)
    assert clock().isoformat() == "2025-09-08T08:00:00+01:00"


def grey(data: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(data)).convert("L")).astype(float)


def test_pictures_show_what_they_are_said_to_show() -> None:
    with_pits = picture(5, 12, 0.0)
    bare, pitted, stained = map(grey, (picture(5, 0, 0.0), with_pits, picture(5, 0, 1.0)))
    sheet = np.s_[:360, :]  # above the card
    assert pitted[sheet].min() < bare[sheet].min() - 40
    assert stained[sheet].mean() < bare[sheet].mean() - 5
    cracked = grey(picture(5, 0, 0.0, True))
    assert (bare - cracked)[sheet].max() > 60
    assert picture(5, 12, 0.0) == with_pits
    # The card says 20 mm: from the first bar's edge to the last one's.
    bars = np.flatnonzero(bare[480 - 90 + 7] < 60)
    assert np.ptp(bars) * MM_PER_PIXEL == pytest.approx(20.0, abs=0.3)
