"""Polygons and openings."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import MultiPolygon, Point, box

from mapper.errors import MapperError
from mapper.surface.geometry import Geometry, Opening, Placement, Tolerance
from mapper.surface.measure import area
from mapper.surface.region import clean, difference, intersection, on_sheet, polygon, whole
from tests.surface.examples import awkward, sheet, twisted


def _part(skin, *openings):
    return Geometry(
        part="p",
        shape="plate",
        skins=(skin,),
        tolerance=Tolerance("tape", 1.0),
        placement=Placement(np.zeros(3), np.eye(3)),
        openings=tuple(Opening(f"o{k}", skin.name, o) for k, o in enumerate(openings)),
    )


def test_openings_and_the_sheets_edge_are_taken_off():
    skin = sheet()
    x, y = 0.5 * (skin.flat.min(axis=0) + skin.flat.max(axis=0))
    hole = clean(Point(x, y).buffer(40, quad_segs=64))
    part = _part(skin, hole, MultiPolygon())
    asked = box(x, y - 100, x + 5000, y + 100)
    kept = on_sheet(part, skin.name, asked)
    assert area(skin, kept) == pytest.approx(300 * 200 - 0.5 * hole.area, rel=1e-8)
    assert area(skin, on_sheet(part, skin.name, hole)) == 0.0
    assert on_sheet(part, skin.name, MultiPolygon()).is_empty
    assert on_sheet(_part(skin), skin.name, whole(skin)).equals(whole(skin))


def test_awkward_regions_stay_valid_on_the_sheet():
    skin = twisted()
    x, y = skin.flat.mean(axis=0)
    hole = clean(Point(x, y).buffer(100))
    part = _part(skin, hole)
    for name, region in awkward(skin).items():
        kept = on_sheet(part, skin.name, region)
        assert isinstance(kept, MultiPolygon) and kept.is_valid, name
        assert intersection(kept, hole).is_empty or intersection(kept, hole).area < 1e-3, name
        lost = area(skin, region) - area(skin, kept)
        # Corners move to the grid, and a 5 m edge with them: the allowed 1e-5 of .01 m2.
        assert lost == pytest.approx(area(skin, intersection(region, hole)), abs=0.1), name


def test_polygon_is_cut_at_the_edge_and_may_cross_itself():
    skin = sheet()
    x0, y0 = skin.flat.min(axis=0)
    ring = [(x0 - 50, y0 - 50), (x0 + 100, y0 - 50), (x0 + 100, y0 + 60), (x0 - 50, y0 + 60)]
    assert area(skin, polygon(skin, ring)) == pytest.approx(6000, rel=1e-9)
    assert polygon(skin, ring).area == pytest.approx(6000, rel=1e-5)  # cut, not only measured so
    closed = [*ring, ring[0]]
    assert polygon(skin, closed).equals(polygon(skin, ring))
    bow = [(x0, y0), (x0 + 100, y0 + 100), (x0 + 100, y0), (x0, y0 + 100)]
    assert area(skin, polygon(skin, bow)) == pytest.approx(5000, rel=1e-6)
    assert polygon(skin, np.array(ring) + 1e5).is_empty
    assert difference(polygon(skin, ring), whole(skin)).is_empty


@pytest.mark.parametrize(
    ("ring", "words"),
    [
        ([(0, 0), (1, 1)], "Three corners"),
        ([1.0, 2.0, 3.0], "Three corners"),
        ([(0, 0, 0), (1, 1, 1), (1, 0, 0)], "Three corners"),
        ([(0, 0), (1, np.nan), (1, 0)], "Corner 2"),
    ],
)
def test_polygon_refuses(ring, words):
    with pytest.raises(MapperError, match=words):
        polygon(sheet(), ring)


def test_on_sheet_refuses_an_unknown_skin():
    with pytest.raises(MapperError, match="No skin 'x'"):
        on_sheet(_part(sheet()), "x", box(0, 0, 1, 1))
