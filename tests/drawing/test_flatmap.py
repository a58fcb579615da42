"""The display list: what is drawn lies where it should; nothing is covered or cut off."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
import shapely
from shapely import MultiLineString, MultiPoint, MultiPolygon, Point, box

from mapper.drawing.display import Dot, Fill, Hatch, Label, Stroke
from mapper.drawing.flatmap import draw_map
from mapper.drawing.labels import text_box
from mapper.drawing.show import Show
from mapper.drawing.style import style
from mapper.drawing.view import sheet_of, sides_of, view_of
from mapper.errors import MapperError
from mapper.surface.geometry import Panel
from mapper.surface.place import flat_of, normal_of, place_of, space_of
from tests.drawing.hand import SKIN, entry, multi, wing


def items(drawing, kind, token=None, layer=None):
    return [
        i
        for i in drawing.items
        if isinstance(i, kind)
        and (token is None or i.style == token)
        and (layer is None or i.layer == layer)
    ]


def boxes(drawing, layers):
    """(label, its box in view coordinates)."""
    found = []
    for i in drawing.items:
        if isinstance(i, Label) and i.layer in layers:
            x, y = drawing.view.turn([i.at])[0]
            found.append((i, text_box(i.text, (x, y), i.size, i.angle, i.anchor, i.bold)))
    return found


def metal_of(geometry):
    holes = shapely.union_all([o.flat for o in geometry.openings])
    return shapely.difference(sheet_of(geometry.skins[0]), holes)


def disc(geometry, station, chord, radius=90.0, upper=True):
    at = flat_of(geometry.skins[0], station, chord, upper)[0]
    return multi(Point(at).buffer(radius))


def test_hatches_stay_inside_their_regions(right):
    region = disc(right, 1500, 40)
    drawing = draw_map(right, SKIN, "outer", [entry(1, "finding", region)])
    hatches = items(drawing, Hatch, "finding", "regions")
    assert len(hatches) == 2
    for hatch in hatches:
        lines = shapely.multilinestrings(shapely.linestrings(hatch.lines))
        assert region.buffer(1e-3).covers(lines)


def test_not_looked_at_is_the_metal_less_the_inspected(right):
    looked = multi(shapely.intersection(sheet_of(right.skins[0]), box(500, -2000, 2500, 2000)))
    drawing = draw_map(right, SKIN, "outer", [entry(1, "inspected area", looked)])
    (fill,) = items(drawing, Fill, "not looked at", "unseen")
    wanted = shapely.difference(metal_of(right), looked)
    assert fill.shape.area == pytest.approx(wanted.area, rel=1e-6)
    assert shapely.symmetric_difference(fill.shape, wanted).area < 1e-6 * wanted.area
    for hatch in items(drawing, Hatch, "not looked at", "unseen"):
        lines = shapely.multilinestrings(shapely.linestrings(hatch.lines))
        # They end on outlines thinned by a hundredth of a mm on paper.
        assert wanted.buffer(0.011 * drawing.scale).covers(lines)


def test_a_look_that_only_touches_the_metal_elsewhere_is_drawn(right):
    # What was carried to a corrected shape may end on an opening's edge: it has a line in common.
    (hole, *_) = [o.flat for o in right.openings]
    looked = multi(shapely.union_all([hole, disc(right, 1500, 40)]))
    drawing = draw_map(right, SKIN, "outer", [entry(1, "inspected area", looked)])
    (fill,) = items(drawing, Fill, "not looked at", "unseen")
    wanted = shapely.difference(metal_of(right), looked)
    assert fill.shape.area == pytest.approx(wanted.area, rel=1e-6)


def test_nothing_recorded_is_all_hatched(right):
    drawing = draw_map(right, SKIN, "outer", [])
    (fill,) = items(drawing, Fill, "not looked at", "unseen")
    assert fill.shape.area == pytest.approx(metal_of(right).area, rel=1e-6)
    assert "No entries" in drawing.description and "100 %" in drawing.description
    assert drawing.numbers == {}


def test_everything_inspected_has_no_hatch(right):
    whole = multi(sheet_of(right.skins[0]))
    drawing = draw_map(right, SKIN, "outer", [entry(1, "inspected area", whole)])
    assert not items(drawing, Hatch, "not looked at")
    assert "not looked at" not in {row.text for row in drawing.legend}


def test_hiding_inspected_areas_does_not_make_them_unlooked_at(right):
    whole = multi(sheet_of(right.skins[0]))
    drawing = draw_map(
        right, SKIN, "outer", [entry(1, "inspected area", whole)],
        show=Show(kinds=frozenset({"finding"})),
    )  # fmt: skip
    assert not items(drawing, Hatch, "not looked at")
    earlier = draw_map(
        right, SKIN, "outer", [entry(1, "inspected area", whole, day=9)],
        show=Show(until=date(2024, 5, 8)),
    )  # fmt: skip
    assert items(earlier, Hatch, "not looked at")


def test_labels_lie_inside_the_drawing(drawing):
    x0, y0, x1, y1 = drawing.bounds
    corners = drawing.view.turn([[x0, y0], [x1, y1]])
    frame = box(*corners.min(axis=0), *corners.max(axis=0))
    for label, patch in boxes(drawing, {"labels", "bar", "legend", "title", "names", "numbers"}):
        assert frame.covers(patch), label.text


def test_labels_do_not_cover_each_other(drawing):
    found = boxes(drawing, {"labels", "names", "numbers", "legend", "title", "bar"})
    tree = shapely.STRtree([patch.buffer(-1e-6) for _, patch in found])
    for i, (label, patch) in enumerate(found):
        others = [found[j][0].text for j in tree.query(patch, predicate="intersects") if j != i]
        assert not others, (label.text, others)


def test_panel_names_lie_inside_their_panels(right, drawing):
    named = {label.text: patch for label, patch in boxes(drawing, {"names"})}
    for panel in right.panels:
        seen = shapely.transform(panel.flat, drawing.view.turn)
        assert seen.buffer(1e-6).covers(named[panel.name]), panel.name


def test_grid_labels_stand_off_the_sheet_and_are_right(right, drawing):
    sheet = shapely.transform(sheet_of(right.skins[0]), drawing.view.turn)
    stations = []
    for label, patch in boxes(drawing, {"labels"}):
        if label.text.endswith(("mm", "%")):
            assert not sheet.buffer(-0.5).intersects(patch), label.text
        if label.text.endswith("mm"):
            stations.append(float(label.text.split()[0]))
            # Labels at trailing edges: the station is the span of this unswept wing, less what
            # the outline's own curve on the map takes (a few mm).
            assert label.at[0] == pytest.approx(stations[-1], abs=60)
    assert len(set(stations)) >= 5


def test_inch_shops_get_inches(right):
    drawing = draw_map(right, SKIN, "outer", [], units="inch")
    words = [i.text for i in items(drawing, Label, layer="labels")]
    assert any(w.endswith(" in") for w in words) and not any(w.endswith("mm") for w in words)
    bar = [i for i in items(drawing, Label, layer="bar") if i.text.endswith(" in")]
    length = float(bar[0].text.split()[0]) * 25.4
    fills = shapely.total_bounds([i.shape for i in items(drawing, Fill, "bar") if i.shape.area])
    cells = [i for i in items(drawing, Stroke, "bar") if i.closed]
    x = np.concatenate([c.points[:, 0] for c in cells])
    assert np.ptp(x) == pytest.approx(length, rel=1e-9)
    assert np.isfinite(fills).all()


@pytest.mark.parametrize("face", ["outer", "inner"])
@pytest.mark.parametrize("side", ["right", "left"])
def test_arrows_point_where_they_say(side, face, request):
    """Following an arrow on the map moves that way in space, on both hands and both faces."""
    geometry = request.getfixturevalue(side)
    skin = geometry.skins[0]
    drawing = draw_map(geometry, SKIN, face, [])
    for name, upper in (("upper", True), ("lower", False)):
        compass = arrows(drawing)[name]
        assert set(compass) == {"forward", "outboard"}
        start = flat_of(skin, 2000.0, 45.0, upper)[0]
        for word, way in compass.items():
            moved = start + drawing.view.turn([way])[0] * 150.0
            place = place_of(skin, moved)
            if word == "outboard":
                assert place.station[0] > 2100, (side, face, name)
            else:
                assert place.chord[0] < 40, (side, face, name)


def arrows(drawing):
    """{side: {word: unit vector on paper}} read off the drawn arrows themselves."""
    view = drawing.view
    strokes = [view.turn(s.points) for s in items(drawing, Stroke, "bar") if not s.closed]
    words = [
        (i.text, view.turn([i.at])[0])
        for i in items(drawing, Label, layer="bar")
        if i.text in ("forward", "outboard", "up")
    ]
    captions = [
        (i.text.split()[0], view.turn([i.at])[0])
        for i in items(drawing, Label, layer="bar")
        if i.text in ("upper side", "lower side")
    ]
    captions.sort(key=lambda c: c[1][0])
    found = {name: {} for name, _ in captions}
    for start, neck in strokes:
        way = (neck - start) / np.hypot(*(neck - start))
        name = [n for n, at in captions if at[0] <= start[0] + 1e-6][-1]
        word = min(words, key=lambda w: np.hypot(*(w[1] - (neck + way * 20))))[0]
        found[name][word] = way
    return found


def test_forward_is_up_and_outboard_is_to_its_own_side(right, left):
    assert arrows(draw_map(right, SKIN, "outer", []))["upper"]["forward"] == pytest.approx([0, 1])
    assert arrows(draw_map(right, SKIN, "outer", []))["upper"]["outboard"] == pytest.approx([1, 0])
    assert arrows(draw_map(left, SKIN, "outer", []))["upper"]["forward"] == pytest.approx([0, 1])
    assert arrows(draw_map(left, SKIN, "outer", []))["upper"]["outboard"] == pytest.approx([-1, 0])


def test_points_are_marks_of_readable_size(right):
    at = flat_of(right.skins[0], [900, 2200], [30, 60], True)
    drawing = draw_map(right, SKIN, "outer", [entry(1, "reading", MultiPoint(at))])
    dots = items(drawing, Dot, "reading", "points")
    assert [d.at for d in dots] == [tuple(p) for p in at.tolist()]
    assert dots[0].size / drawing.scale == pytest.approx(style().layout["mark"])


def test_a_pit_too_small_to_see_gets_a_mark(right):
    drawing = draw_map(right, SKIN, "outer", [entry(1, "finding", disc(right, 900, 30, 1.0))])
    assert len(items(drawing, Dot, "finding", "points")) == 1


def test_numbers_are_those_given_and_none_is_lost(right, entries):
    numbers = {e.id: f"F{i}" for i, e in enumerate(entries)}
    drawing = draw_map(right, SKIN, "outer", entries, numbers=numbers)
    drawn = [i.text for i in items(drawing, Label, layer="numbers")]
    assert sorted(drawn) == sorted(drawing.numbers.values())
    assert set(drawing.numbers.items()) <= set(numbers.items())
    assert len(drawn) == len(set(drawn)) > 40


def test_an_entry_on_another_face_is_not_drawn(right):
    region = disc(right, 1500, 40)
    drawing = draw_map(right, SKIN, "inner", [entry(1, "finding", region)])
    assert not items(drawing, Fill, "finding")
    assert drawing.view.words.startswith("seen from inside")


def test_regions_are_drawn_on_metal_only(right):
    over = multi(right.openings[0].flat.buffer(80))
    drawing = draw_map(right, SKIN, "outer", [entry(1, "finding", over)])
    (fill,) = items(drawing, Fill, "finding", "regions")
    # Both outlines lie on a .0001 mm grid: half of that along 690 mm of edge.
    assert fill.shape.intersection(right.openings[0].flat).area < 0.04
    assert fill.shape.area == pytest.approx(over.area - right.openings[0].flat.area, rel=1e-6)


def test_legend_says_what_is_drawn_and_no_more(right):
    entries = [
        entry(1, "finding", disc(right, 900, 40)),
        entry(2, "finding", disc(right, 1900, 40)),
        entry(3, "masking", MultiLineString([flat_of(right.skins[0], [500, 900], 70, True)])),
    ]
    drawing = draw_map(right, SKIN, "outer", entries)
    rows = {row.text: (row.count, row.sample) for row in drawing.legend}
    assert rows["finding"] == (2, "area")
    assert rows["masking"] == (1, "line")
    assert "coat zone" not in rows and "stringer" not in rows and "rib" in rows
    words = {i.text for i in items(drawing, Label, layer="legend")}
    assert words == {f"{t} ({c})" if c else t for t, (c, _) in rows.items()}


def test_of_work_over_all_of_the_sheet_the_last_is_hatched_and_the_rest_named(right):
    whole = multi(sheet_of(right.skins[0]))
    half = multi(shapely.intersection(whole, box(0, -2000, 1500, 2000)))
    entries = [
        entry(1, "coat zone", whole),
        entry(2, "inspected area", half),
        entry(3, "finding", whole),
        entry(4, "inspected area", whole),
        entry(5, "application", whole),
    ]
    numbers = {one.id: f"no. {i}" for i, one in enumerate(entries, 1)}
    drawing = draw_map(right, SKIN, "outer", entries, numbers=numbers, counts={entries[4].id: 3})
    hatched = {item.style for item in items(drawing, Hatch, layer="regions")}
    assert hatched == {"application", "finding", "inspected-area"}
    assert "not hatched: coat zone no. 1, inspected area no. 4" in drawing.description
    rows = {row.text: row.count for row in drawing.legend}
    assert rows["application"] == 3 and rows["inspected area"] == 1 and "coat zone" not in rows
    assert set(drawing.numbers.values()) == {"no. 2", "no. 3", "no. 5"}
    # Nobody is told that a place was not looked at because its look is not hatched.
    assert "not looked at" not in {row.text for row in drawing.legend}


def test_a_panel_round_the_nose_is_named_on_both_sides(right):
    skin = right.skins[0]
    nose = Panel("nose sheet", SKIN, multi(sheet_of(skin)), gauge=0.8)
    drawing = draw_map(replace(right, panels=(nose,)), SKIN, "outer", [])
    at = [i.at for i in drawing.items if isinstance(i, Label) and i.text == "nose sheet"]
    sides = [side.bounds for side in sides_of(right, skin)]
    on = [[k for k, (_, y0, _, y1) in enumerate(sides) if y0 <= y <= y1] for _, y in at]
    assert sorted(on) == [[0], [1]]


def test_a_crop_keeps_its_panel(right):
    panel = right.panels[2]
    drawing = draw_map(right, SKIN, "outer", [], region=panel.flat)
    assert box(*drawing.sheet_bounds).covers(panel.flat)
    whole = draw_map(right, SKIN, "outer", [])
    assert drawing.scale < 0.7 * whole.scale
    names = [i.text for i in items(drawing, Label, layer="names") if i.bold]
    assert panel.name in names
    with pytest.raises(MapperError, match="off the sheet"):
        draw_map(right, SKIN, "outer", [], region=MultiPolygon([box(9e4, 0, 9.1e4, 10)]))


def test_a_long_thin_wing_is_readable():
    drawing = draw_map(wing(14000.0), SKIN, "outer", [], width=180.0)
    assert drawing.paper[0] == pytest.approx(180.0, abs=0.5)
    for i in items(drawing, Label):
        # 6 pt, common practice for the smallest print of drawings, no source.
        assert i.size / drawing.scale >= 2.0, i.text
    assert len(items(drawing, Label, layer="labels")) > 6


def test_a_bare_shape_has_no_record(right):
    drawing = draw_map(right, SKIN, "outer", [], ground=False)
    assert not [item for item in drawing.items if item.layer == "unseen"]
    assert "not looked at" not in {row.text for row in drawing.legend}
    assert "Not looked at" not in drawing.description


def test_scale_one_is_full_size(right):
    # The bare sheet: a whole wing hatched at full size has tens of thousands of lines.
    drawing = draw_map(right, SKIN, "outer", [], scale=1.0, ground=False)
    assert drawing.scale == 1.0
    sheet = sheet_of(right.skins[0]).bounds
    assert drawing.paper[0] > sheet[2] - sheet[0]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"face": "top"}, "Its faces are"),
        ({"units": "feet"}, "metric"),
        ({"width": 10.0}, "60 mm"),
        ({"scale": 0.0}, "above 0"),
        ({"scale": float("nan")}, "above 0"),
    ],
)
def test_what_is_refused(right, change, words):
    given = {"face": "outer"} | change
    with pytest.raises(MapperError, match=words):
        draw_map(right, SKIN, given.pop("face"), [], **given)


def test_an_unknown_state_is_refused():
    with pytest.raises(MapperError, match="being worked on"):
        Show(states=frozenset({"airworthy"}))


def test_show_chooses(right):
    a = entry(1, "coat zone", disc(right, 900, 40), values={"coats": ({"kind": "enamel"},)})
    b = entry(2, "finding", disc(right, 1900, 40), day=20, by="person-2", state="closed")
    assert [Show().shows(e) for e in (a, b)] == [True, True]
    assert [Show(kinds=frozenset({"finding"})).shows(e) for e in (a, b)] == [False, True]
    assert [Show(coats=frozenset({"Enamel"})).shows(e) for e in (a, b)] == [True, True]
    assert [Show(coats=frozenset({"dope"})).shows(e) for e in (a, b)] == [False, True]
    assert [Show(until=date(2024, 5, 19)).shows(e) for e in (a, b)] == [True, False]
    assert [Show(people=frozenset({"person-2"})).shows(e) for e in (a, b)] == [False, True]
    assert [Show(states=frozenset({"open"})).shows(e) for e in (a, b)] == [True, False]


@pytest.mark.parametrize("side", ["right", "left"])
def test_each_face_is_seen_from_its_own_side(side, request):
    """Right by up on paper points out of the paper: to the reader, who is on that face's side."""
    geometry = request.getfixturevalue(side)
    skin = geometry.skins[0]
    at = flat_of(skin, [1500.0, 2500.0, 1500.0], [30.0, 60.0, 40.0], [True, True, False])
    outward = normal_of(skin, at)
    for face, sign in (("outer", 1.0), ("inner", -1.0)):
        view = view_of(geometry, skin, face)
        right, up = view.turn([[1.0, 0.0], [0.0, 1.0]])
        here = space_of(skin, at)
        towards = np.cross(space_of(skin, at + right) - here, space_of(skin, at + up) - here)
        assert np.einsum("ij,ij->i", towards, outward) * sign == pytest.approx(1.0, abs=0.01)
