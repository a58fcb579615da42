"""From a shape on the flat map to an entry on its sheets."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from functools import cache
from typing import Any

import numpy as np
import pytest
import shapely

from mapper.errors import MapperError
from mapper.job.entry import Place
from mapper.job.outlines import cut, new_entry, outline_of, worked_out
from mapper.job.pieces import new_positions
from mapper.job.records import Part
from mapper.surface.build import make_skin
from mapper.surface.geometry import Geometry, MapLine, Opening, Panel, Placement, Tolerance
from mapper.surface.measure import whole_area
from mapper.surface.region import box, whole
from meshes.loft import LoftSection, loft
from meshes.sections import Naca4
from tests.job.makers import NOON
from tests.job.test_book import book


@cache
def wing() -> Geometry:
    """A tapered wing without twist, 2 m to 1 m of chord over 5 m, a rib at 2 m, a filler hole."""
    section = Naca4("0012")
    sheet = loft([LoftSection(0, 2000, section), LoftSection(5000, 1000, section)])[0]
    skin = make_skin(sheet, triangles=4000)
    upper, lower = box(skin, side="upper"), box(skin, side="lower")
    rib = MapLine("rib 4", "rib", "skin", shapely.MultiLineString([[(2000, -900), (2000, 900)]]))
    hole = shapely.MultiPolygon([shapely.Point(1000, 500).buffer(100)])
    return Geometry(
        "right wing",
        "loft",
        (skin,),
        Tolerance("tape", 2.0),
        Placement(np.zeros(3), np.eye(3)),
        lines=(rib,),
        panels=(
            Panel("upper", "skin", shapely.difference(upper, hole, grid_size=1e-4)),
            Panel("lower", "skin", lower),
        ),
        openings=(Opening("filler", "skin", hole),),
    )


def ready() -> Any:
    part = Part("part-1", "job-1", "a-1", "right wing", geometry="g-1")
    positions, items = new_positions(part, wing())
    made = book(entries=(), parts=(part,), positions=positions, items=items,
                geometries={"g-1": wing()})  # fmt: skip
    return made, {i.id: i.name for i in items}


def test_an_outline_knows_its_area_and_where_its_corners_are() -> None:
    made = outline_of(wing(), "skin", "outer", shapely.box(2000, 200, 2300, 400))
    # A wing without twist lies flat without stretch: the plane area is the true one.
    assert made.drawn_area == pytest.approx(300 * 200, rel=1e-9)
    station, chord, side = made.anchors.T
    assert len(station) == shapely.count_coordinates(made.shape)
    assert np.all(side == 1.0) and np.all((chord > 0) & (chord < 40))
    lower = outline_of(wing(), "skin", "inner", shapely.box(2000, -400, 2300, -200))
    assert np.all(lower.anchors[:, 2] == -1.0)


def test_openings_and_edges_cut_it() -> None:
    round_it = outline_of(wing(), "skin", "outer", shapely.Point(1000, 500).buffer(150, 64))
    hole = shapely.Point(1000, 500).buffer(100).area
    assert round_it.drawn_area == pytest.approx(
        shapely.Point(0, 0).buffer(150, 64).area - hole, rel=1e-6
    )
    everything = outline_of(wing(), "skin", "outer", shapely.box(-1e5, -1e5, 1e5, 1e5))
    assert everything.drawn_area == pytest.approx(whole_area(wing().skin("skin")) - hole, rel=1e-6)


def test_lines_and_points() -> None:
    line = outline_of(wing(), "skin", "outer", shapely.LineString([(1000, 300), (1000, 700)]))
    assert line.region == "line" and line.shape.length == pytest.approx(200, abs=0.5)
    point = outline_of(wing(), "skin", "outer", shapely.Point(2000, 300))
    assert point.region == "point" and point.drawn_area == 0


@pytest.mark.parametrize(
    ("shape", "says"),
    [
        (shapely.Point(1e4, 0), "Nothing of the outline lies on"),
        (shapely.Point(1000, 500), "Nothing of the outline lies on"),
        (shapely.Point(1000, 500), "of right wing: it is in the opening 'filler'."),
        (shapely.Point(1000, 500).buffer(20), "it is in the opening 'filler'."),
        (shapely.Point(1e4, 0), "of right wing. An outline"),
        (shapely.Polygon(), "is empty"),
        (shapely.GeometryCollection([shapely.Point(0, 0), shapely.box(0, 0, 1, 1)]), "sorts"),
        (shapely.Point(math.nan, 0), "corner"),
    ],
)
def test_what_is_not_on_the_sheet_is_refused(shape: Any, says: str) -> None:
    with pytest.raises(MapperError, match=says):
        outline_of(wing(), "skin", "outer", shape)
    with pytest.raises(MapperError, match="No face"):
        outline_of(wing(), "skin", "left", shape)


def test_an_entry_round_the_nose_has_a_piece_on_each_sheet() -> None:
    made, names = ready()
    outline = outline_of(wing(), "skin", "outer", shapely.box(1500, -100, 1700, 150))
    entry = new_entry(made, "part-1", "application", outline=outline, device_time=NOON)
    assert (entry.job_id, entry.geometry, entry.version) == ("job-1", "g-1", 0)
    got = {names[p.item_id]: p.area for p in entry.pieces}
    assert got.keys() == {"right wing, upper", "right wing, lower"}
    assert sum(got.values()) == pytest.approx(outline.drawn_area, rel=1e-9)
    assert got["right wing, lower"] == pytest.approx(
        shapely.area(shapely.intersection(outline.shape, wing().panels[1].flat)), rel=1e-6
    )


def test_a_finding_knows_the_nearest_rib_and_edge() -> None:
    made, _ = ready()
    outline = outline_of(wing(), "skin", "outer", shapely.Point(2060, 300))
    entry = new_entry(made, "part-1", "finding", outline=outline, values={"what": "dent"})
    assert entry.values["rib_distance"] == pytest.approx(60.0, abs=1e-3)
    assert "rivet_row_distance" not in entry.values  # there is no such line on this wing
    near = outline_of(wing(), "skin", "outer", shapely.Point(1000, 620))
    distance = worked_out(wing(), replace(entry, outline=near))["edge_distance"]
    assert distance == pytest.approx(20.0, abs=0.1)  # the filler's edge; its ring has 32 sides


def test_the_leading_edge_is_no_edge_of_the_sheet() -> None:
    made, _ = ready()
    outline = outline_of(wing(), "skin", "outer", shapely.Point(2000, 0))
    entry = new_entry(made, "part-1", "finding", outline=outline)
    assert entry.values["edge_distance"] > 900


def test_a_place_in_words_needs_no_outline() -> None:
    made, _ = ready()
    entry = new_entry(made, "part-1", "removed part", place=Place("rib 4, aft face"), by="p-1")
    assert entry.pieces == () and entry.region == "place" and entry.by == "p-1"
    assert cut(made, entry).pieces == ()


def test_a_part_without_a_shape_takes_no_outline() -> None:
    outline = outline_of(wing(), "skin", "outer", whole(wing().skin("skin")))
    with pytest.raises(MapperError, match="has no shape"):
        new_entry(book(), "part-1", "finding", outline=outline)
    with pytest.raises(MapperError, match="no kind"):
        new_entry(book(), "part-1", "smear", place=Place("here"))


def test_the_sheets_of_an_earlier_day() -> None:
    made, _ = ready()
    items = [replace(i, since=date(1970, 1, 1)) for i in made.items]
    made = replace(made, items=tuple(items))
    outline = outline_of(wing(), "skin", "outer", shapely.box(2000, 200, 2300, 400))
    assert new_entry(made, "part-1", "finding", outline=outline, when=date(1970, 1, 1)).pieces
    with pytest.raises(MapperError, match="Nothing was in the position"):
        new_entry(made, "part-1", "finding", outline=outline, when=date(1969, 12, 31))
