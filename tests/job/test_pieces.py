"""An outline is cut at the seams and nothing of it is lost."""

from __future__ import annotations

from datetime import date
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from mapper.errors import MapperError
from mapper.job.entry import Outline
from mapper.job.pieces import cut_at_seams, new_positions, pieces_of, pieces_there
from mapper.job.records import Item, Part, Position
from mapper.surface.build import make_skin
from mapper.surface.geometry import Geometry, Opening, Panel, Placement, Tolerance
from mapper.surface.skin import Skin
from meshes.plate import plate
from tests.job.makers import entry

DAY = date(2026, 5, 31)
PART = Part("part-1", "job-1", "a-1", "left wing")


@cache
def skin() -> Skin:
    sheet = plate([(0, 0), (1000, 0), (1000, 500), (0, 500)], name="skin")[0]
    return make_skin(sheet, triangles=400)


def geometry(*seams: tuple[float, float], opening: Any = None, gap: float = 0.0) -> Geometry:
    """A plate of 1000 x 500 mm with seams across from (bottom x) to (top x); gap: left out of the
    panels beside the first seam."""
    ends = [(0.0, 0.0), *sorted(seams), (1000.0, 1000.0)]
    hole = shapely.MultiPolygon() if opening is None else opening
    panels = []
    for i, ((b0, t0), (b1, t1)) in enumerate(pairwise(ends)):
        inset = gap if i == 1 else 0.0
        cell = shapely.Polygon([(b0 + inset, 0), (b1, 0), (t1, 500), (t0 + inset, 500)])
        flat = shapely.difference(cell, hole, grid_size=1e-4)
        panels.append(
            Panel(f"panel {i + 1}", "skin", shapely.MultiPolygon(list(shapely.get_parts(flat))))
        )
    openings = () if opening is None else (Opening("filler", "skin", opening),)
    return Geometry(
        "left wing",
        "plate",
        (skin(),),
        Tolerance("tape", 2.0),
        Placement(np.zeros(3), np.eye(3)),
        panels=tuple(panels),
        openings=openings,
    )


def pieces(shape: Any, made: Geometry, **more: Any) -> dict[str, Any]:
    positions, items = new_positions(PART, made)
    found = pieces_of(made, positions, items, Outline("skin", "outer", shape), DAY, **more)
    names = {i.id: i.name.removeprefix("left wing, ") for i in items}
    return {names[p.item_id]: p for p in found}


def test_within_one_panel_the_piece_is_the_outline_itself() -> None:
    shape = shapely.box(10, 10, 200, 200)
    found = pieces(shape, geometry((400, 400)))
    assert list(found) == ["panel 1"]
    assert found["panel 1"].shape.equals_exact(shapely.multipolygons([shape]), 0.0)
    assert found["panel 1"].area == pytest.approx(190 * 190, rel=1e-9)


def test_across_a_seam_there_is_a_piece_on_each_sheet() -> None:
    found = pieces(shapely.box(300, 100, 600, 200), geometry((400, 400)))
    assert {n: round(p.area, 6) for n, p in found.items()} == {"panel 1": 10000, "panel 2": 20000}


def test_openings_and_what_is_off_the_sheet_belong_to_nobody() -> None:
    hole = shapely.multipolygons([shapely.box(350, 100, 450, 200)])
    found = pieces(shapely.box(300, -50, 500, 200), geometry((400, 400), opening=hole))
    assert sum(p.area for p in found.values()) == pytest.approx(200 * 200 - 100 * 100)


def test_lines_and_points_are_cut_too() -> None:
    made = geometry((400, 400), (700, 700))
    line = shapely.LineString([(300, 50), (800, 50), (800, -20)])
    found = pieces(line, made)
    assert {n: p.shape.length for n, p in found.items()} == pytest.approx(
        {"panel 1": 100, "panel 2": 300, "panel 3": 150}
    )
    assert all(p.shape.geom_type == "MultiLineString" and p.area == 0 for p in found.values())
    points = pieces(shapely.MultiPoint([(100, 1), (500, 1), (501, 1), (5000, 1)]), made)
    assert {n: len(p.shape.geoms) for n, p in points.items()} == {"panel 1": 1, "panel 2": 2}


def test_what_lies_on_a_seam_goes_to_one_sheet_only() -> None:
    made = geometry((400, 400))
    assert list(pieces(shapely.Point(400, 10), made)) == ["panel 1"]
    along = pieces(shapely.LineString([(400, 10), (400, 400)]), made)
    assert {n: p.shape.length for n, p in along.items()} == {"panel 1": 390}


def test_sheet_beside_every_panel_belongs_to_the_part() -> None:
    found = pieces(shapely.box(300, 100, 600, 200), geometry((400, 400), gap=50))
    assert {n: round(p.area, 6) for n, p in found.items()} == {
        "panel 1": 10000,
        "panel 2": 15000,
        "left wing": 5000,
    }


def test_a_hair_between_two_panels_is_kept_by_one_of_them() -> None:
    found = pieces(shapely.box(300, 100, 600, 200), geometry((400, 400), gap=5e-4))
    assert list(found) == ["panel 1", "panel 2"]
    assert sum(p.area for p in found.values()) == pytest.approx(30000, abs=1e-3)


def test_a_box_drawn_up_to_a_seam_is_on_one_sheet() -> None:
    """A line of one % chord drawn twice differs by less than the grid: that is no second sheet."""
    found = pieces(shapely.box(300, 100, 400.0005, 200), geometry((400, 400)))
    assert list(found) == ["panel 1"]
    assert found["panel 1"].area == pytest.approx(10000.05, abs=1e-2)
    hair = pieces(shapely.box(400.1, 100, 400.1008, 200), geometry((400, 400)))
    assert list(hair) == ["panel 2"] and hair["panel 2"].area == pytest.approx(0.08, abs=0.02)


def test_a_part_without_panels_has_one_piece() -> None:
    made = Geometry(
        "left wing", "plate", (skin(),), Tolerance("tape", 2.0), Placement(np.zeros(3), np.eye(3))
    )
    found = pieces(shapely.box(900, 100, 1100, 200), made)
    assert list(found) == ["left wing"] and found["left wing"].area == pytest.approx(10000)


corner = st.tuples(st.floats(-100, 1100), st.floats(-100, 600))
seam = st.tuples(st.floats(50, 950), st.floats(50, 950))


@settings(max_examples=150, deadline=None)
@given(st.lists(corner, min_size=3, max_size=12), seam, st.floats(0.01, 40))
def test_the_pieces_add_up_to_the_outline_on_the_sheet(
    corners: list[tuple[float, float]], cut: tuple[float, float], right: float
) -> None:
    hole = shapely.multipolygons([shapely.Point(500, 250).buffer(60)])
    made = geometry(cut, (cut[0] + right, cut[1] + right), opening=hole)
    outline = shapely.MultiPoint(corners).convex_hull.union(shapely.Point(corners[0]).buffer(20))
    if outline.geom_type not in ("Polygon", "MultiPolygon"):
        return
    on_sheet = outline.intersection(shapely.box(0, 0, 1000, 500)).difference(hole)
    if on_sheet.area < 1:
        return
    found = [shape for _, shape in cut_at_seams(made, Outline("skin", "outer", outline))]
    together = shapely.union_all(found)
    reach = 1e-3 * (on_sheet.length + 1)
    assert together.symmetric_difference(on_sheet).area < reach
    assert sum(s.area for s in found) == pytest.approx(together.area, abs=reach)
    assert all(shapely.is_valid(s) and s.geom_type == "MultiPolygon" for s in found)


def replaced() -> tuple[Geometry, tuple[Position, ...], tuple[Item, ...]]:
    made = geometry((400, 400))
    positions, items = new_positions(PART, made)
    day = date(1974, 6, 1)
    old = [Item(i.id, i.position_id, i.name, until=day) for i in items[2:3]]
    new = Item("new-sheet", items[2].position_id, "panel 2, new", made="new sheet", since=day)
    return made, positions, (*items[:2], *old, new)


def test_the_sheet_of_the_day_gets_the_piece() -> None:
    made, positions, items = replaced()
    outline = Outline("skin", "outer", shapely.box(500, 100, 600, 200))
    then = pieces_of(made, positions, items, outline, date(1974, 5, 31))
    now = pieces_of(made, positions, items, outline, date(1974, 6, 1))
    assert then[0].item_id == items[2].id and now[0].item_id == "new-sheet"


def test_a_replaced_sheet_retires_its_pieces() -> None:
    made, positions, items = replaced()
    outline = Outline("skin", "outer", shapely.box(300, 100, 600, 200))
    made_then = entry(
        outline=outline, pieces=pieces_of(made, positions, items, outline, date(1960, 1, 1))
    )
    assert len(made_then.pieces) == 2
    assert [p.item_id for p in pieces_there(made_then, items, DAY)] == [items[1].id]
    assert len(pieces_there(made_then, items, date(1960, 1, 1))) == 2


@pytest.mark.parametrize(
    ("shape", "face", "says"),
    [
        (shapely.box(2000, 0, 2100, 50), "outer", "lies off the 'skin'"),
        (shapely.Point(2000, 0), "outer", "lies off"),
        (shapely.box(1000, 0, 1100, 50), "outer", "lies off"),
        (shapely.box(0, 0, 10, 10), "forward", "No face 'forward'.*'outer', 'inner'"),
    ],
)
def test_an_outline_beside_the_sheet_is_refused(shape: Any, face: str, says: str) -> None:
    made = geometry((400, 400))
    positions, items = new_positions(PART, made)
    with pytest.raises(MapperError, match=says):
        pieces_of(made, positions, items, Outline("skin", face, shape), DAY)
    with pytest.raises(MapperError, match="No skin 'tail'"):
        pieces_of(made, positions, items, Outline("tail", "outer", shape), DAY)


def test_a_day_without_a_sheet_and_a_panel_without_a_position_are_refused() -> None:
    made, positions, items = replaced()
    outline = Outline("skin", "outer", shapely.box(500, 100, 600, 200))
    with pytest.raises(MapperError, match=r"Nothing was in the position 'left wing, panel 2'"):
        pieces_of(made, positions, items[:2], outline, DAY)
    with pytest.raises(MapperError, match="no position for 'panel 2'"):
        pieces_of(made, (), items, outline, DAY)
