"""What is drawn on the page against closed forms on a flat plate, and against what the command
line's functions make of the same words on a wing."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from mapper.job.outlines import outline_of, sheet_area
from mapper.store.shop import open_shop
from mapper.surface import region
from mapper.surface.place import space_of
from mapper.surface.tape import by_tape
from tests.viewer.server.conftest import Say
from tests.viewer.server.talk import (
    COVER,
    JOB,
    LEFT,
    RIGHT,
    action,
    box,
    entry,
    stroke,
    where,
)

Measure = Callable[..., Any]


@pytest.fixture
def measure(say: Say) -> Measure:
    """The outline that the server makes of what is drawn on the plate, or on another part."""

    def measured(*shapes: Any, part: str = COVER, status: int = 200, **on: Any) -> Any:
        on = {"skin": "plate", **on} if part == COVER else on
        message = {"part_id": part, "where": where(*shapes, **on)}
        return say("measure", message, status)

    return measured


@pytest.fixture
def wing(shop: Path) -> Any:
    """The right wing's shape."""
    with open_shop(shop) as store:
        return store.book(JOB).geometry_of(RIGHT)


def add(kind: str, **more: Any) -> dict[str, Any]:
    return {"op": "add", "type": kind, **more}


# Rectangle 50 x 40 clear of the plate's openings; sizes of a disc, a capsule and a band: geometry.
RECTANGLE = [[100, 20], [150, 20], [150, 60], [100, 60]]


@pytest.mark.parametrize(
    ("shape", "size"),
    [
        (add("polygon", ring=RECTANGLE), 2000.0),
        (add("disc", at=[120, 50], radius=10), math.pi * 100),
        (stroke((100, 50), (140, 50), radius=8), 2 * 8 * 40 + math.pi * 64),
        (stroke((120, 50), radius=8), math.pi * 64),
        (add("line", points=[[100, 50], [140, 50]], width=6), 240.0),
        # Corners (0, 0), (310, 0), (310, 62), (120, 118), (0, 96) by the surveyor's formula, less
        # the hole of 12 mm and the slot of 60 x 14 mm with corners of 7 mm (two half circles).
        (add("whole"), 29940.0 - math.pi * 36 - (46 * 14 + math.pi * 49)),
    ],
    ids=["polygon", "disc", "capsule", "dab", "band", "whole"],
)
def test_areas_on_a_plate_are_those_of_geometry(measure: Measure, shape: Any, size: float) -> None:
    got = measure(shape)["outline"]
    assert got["region"] == "area"
    assert got["area_mm2"] == pytest.approx(size, rel=2e-4)


def test_pieces_are_taken_in_their_order(measure: Measure) -> None:
    inner = [[110, 30], [130, 30], [130, 50], [110, 50]]
    whole, hole = add("polygon", ring=RECTANGLE), {**add("polygon", ring=inner), "op": "wipe"}
    assert measure(whole, hole)["outline"]["area_mm2"] == pytest.approx(1600)
    assert measure(hole, whole)["outline"]["area_mm2"] == pytest.approx(2000)
    assert measure(whole, hole, add("polygon", ring=inner))["outline"]["area_mm2"] == (
        pytest.approx(2000)
    )
    half = [[100, 20], [125, 20], [125, 60], [100, 60]]
    assert measure(whole, add("polygon", ring=half))["outline"]["area_mm2"] == pytest.approx(2000)
    rings = measure(whole, hole)["outline"]["polygons"]
    assert [len(r) for r in rings[0]] == [5, 5] and len(rings) == 1


def test_lines_and_points(measure: Measure) -> None:
    line = add("line", points=[[60, 50], [60, 20], [100, 20]], width=None)
    got = measure(line)["outline"]
    assert (got["region"], got["area_words"], got["area_mm2"]) == ("line", "70.0 mm", 0)
    assert got["polygons"] == [[[[60, 50], [60, 20], [100, 20]]]]
    wiped = measure(line, stroke((100, 20), radius=10, op="wipe"))["outline"]
    assert wiped["area_words"] == "60.0 mm"
    points = measure(add("point", at=[60, 50]), add("point", at=[70, 50]))["outline"]
    assert (points["region"], points["area_words"]) == ("point", "2 points")
    assert points["polygons"] == [[[[60, 50], [70, 50]]]]


def test_named_pieces_and_tape(measure: Measure, wing: Any) -> None:
    (panel,) = [p for p in wing.panels if p.name == "nose skin"]
    bay = wing.bays[3]
    skin = wing.skin("skin")
    for shape, wanted in (
        (add("panel", name="nose skin"), panel.flat),
        (add("bay", name=bay.name), bay.flat),
    ):
        got = measure(shape, part=RIGHT)["outline"]
        assert got["area_mm2"] == pytest.approx(
            outline_of(wing, "skin", "outer", wanted).drawn_area, rel=1e-9
        )
    assert measure(add("whole"), part=RIGHT)["outline"]["area_mm2"] == pytest.approx(
        sheet_area(wing, "skin"), rel=1e-9
    )
    tape = {"rib": "rib 3", "outboard": 120, "spar": "front spar", "aft": 60, "upper": True}
    at = by_tape(wing, "skin", **tape)
    point = measure(add("tape", **tape, radius=None), part=RIGHT)["outline"]["polygons"][0][0][0]
    assert point == pytest.approx(at.tolist(), abs=1e-3)
    spot = measure(add("tape", **tape, radius=25), part=RIGHT)["outline"]
    again = outline_of(wing, "skin", "outer", region.disc(skin, at, 25.0))
    assert spot["area_mm2"] == pytest.approx(again.drawn_area, rel=1e-9)


def test_where_and_near_are_said_as_the_command_line_says_them(measure: Measure) -> None:
    got = measure(box((1400, 1700), (10, 20)), part=RIGHT)
    assert got["where"] == "upper, station 1400-1700 mm, 10-20 %"
    assert "from front spar" in got["near"]


@pytest.mark.parametrize(
    ("shapes", "words"),
    [
        ([add("point", at=[60, 50]), stroke((60, 50))], "area and point were drawn at once"),
        ([add("panel", name="no such")], "has no panel 'no such'"),
        ([add("bay", name="no such")], "has no bay 'no such'"),
        ([add("disc", at=[120, 50], radius=4000)], "from corner to corner"),
        ([add("disc", at=[120, 500], radius=4)], "off"),
        ([add("point", at=[40, 48])], "in the opening 'bolt hole'"),
        ([add("point", at=[9000, 0])], "lies on"),
        ([add("line", points=[[60, 50]], width=None)], "one place"),
        ([add("polygon", ring=[[1, 1], [2, 2]])], "Three corners"),
        ([box((200, 100), None)], "second number must be greater"),
        ([box(None, (10, 20))], "% chord"),
        ([add("kept", entry="none")], "There is no entry 'none'"),
        ([add("tape", rib="rib 9", outboard=1, spar="s", aft=1, upper=True, radius=None)], "rib 9"),
        ([add("line", points=[[60, 50], [90, 50]], width=None),
          {"op": "wipe", "type": "point", "at": [70, 50]}], "to wipe with"),
        ([stroke((60, 50)), stroke((60, 50), radius=20, op="wipe")], "Nothing of the 'plate'"),
        ([add("polygon", ring=[[1e9, 0], [1e9, 1], [0, 1]])], "between -1e+07"),
        ([stroke((0, 0), (310, 0), radius=1e-6)], "Take a larger brush" ),
    ],
)  # fmt: skip
def test_what_cannot_be_drawn_is_refused_with_words(
    measure: Measure, shapes: Any, words: str
) -> None:
    refusal = measure(*shapes, status=422)
    assert refusal["code"] == "refused" and words in refusal["message"]


def test_thousands_of_points_are_taken(measure: Measure) -> None:
    turn = np.linspace(0, 40 * np.pi, 5000)
    path = np.column_stack([130 + turn / 8 * np.cos(turn), 50 + turn / 8 * np.sin(turn)])
    got = measure(stroke(*path.round(3).tolist(), radius=3))["outline"]
    # A spiral wound so closely covers its disc.
    assert got["area_mm2"] == pytest.approx(math.pi * (40 * math.pi / 8 + 3) ** 2, rel=0.05)


def test_the_mirror_place_is_exact(say: Say, measure: Measure, shop: Path, book: Any) -> None:
    shapes = [stroke((600, 300), (700, 320)), add("disc", at=[900, -200], radius=30)]
    said = entry(where=where(*shapes))
    say("actions", action(said))
    copy = entry(part_id=LEFT, where=where(add("mirror", entry=said["id"])))
    say("actions", action(copy))
    with open_shop(shop) as store:
        kept = store.book(JOB)
        right, left = kept.entry(said["id"]), kept.entry(copy["id"])
        there, here = kept.geometry_of(RIGHT), kept.geometry_of(LEFT)
    assert left.outline.drawn_area == pytest.approx(right.outline.drawn_area, rel=1e-9)
    # In space it is the same place with y negated.
    flat = np.array([p.centroid.coords[0] for p in right.outline.shape.geoms])
    mirror = flat * [1, -1]
    assert all(left.outline.shape.buffer(1e-3).covers(p) for p in shapely.points(mirror))
    space = space_of(there.skin("skin"), flat)
    np.testing.assert_allclose(space_of(here.skin("skin"), mirror), space * [1, -1, 1], atol=1e-9)
    # And back again it is the first one, to the grid.
    back = measure(add("mirror", entry=copy["id"]), part=RIGHT)["outline"]
    assert back["area_mm2"] == pytest.approx(right.outline.drawn_area, rel=1e-9)


def test_parts_that_do_not_mirror_each_other_are_refused(say: Say, measure: Measure) -> None:
    said = entry(where=where(stroke((600, 300))))
    say("actions", action(said))
    mirror = add("mirror", entry=said["id"])
    words = measure(mirror, part=RIGHT, status=422)["message"]
    assert "do not mirror each other" in words
    assert "lies on the 'skin'" in measure(mirror, status=422)["message"]


def test_an_outline_of_an_earlier_shape_is_stale(say: Say, measure: Measure, shop: Path) -> None:
    with open_shop(shop) as store:
        now = store.book(JOB).part(RIGHT).geometry
    message = {"part_id": RIGHT, "where": {**where(stroke((600, 300))), "shape": "0" * 64}}
    refusal = say("measure", message, 409)
    assert refusal["code"] == "stale" and "was corrected" in refusal["message"]
    message["where"]["shape"] = now
    say("measure", message)
    first = entry()
    (view,) = say("actions", action(first))["changes"]["entries"]
    late = {**first, "version": view["version"], "where": {**message["where"], "shape": "0" * 64}}
    assert say("actions", action(late, op="change"), 409)["theirs"]["id"] == first["id"]
