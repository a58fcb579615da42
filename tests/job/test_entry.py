"""Entries and records refuse what they cannot hold, in words, and settle what they can."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, replace
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import shapely

from mapper.errors import MapperError
from mapper.job.entry import Entry, Outline, PhotoUse, Piece, Place
from mapper.job.fields import Measured
from mapper.job.records import FinishSystem, Item, Job, Lot, Part, Person, Photo, Position, Shop
from tests.job.makers import NOON, SQUARE, entry

OUTLINE = Outline("wing skin", "outer", SQUARE, 5000.0)
BOWTIE = shapely.Polygon([(0, 0), (10, 10), (10, 0), (0, 10)])


def test_only_kind_and_place_are_required() -> None:
    for kind in ("finding", "coat zone", "removed part"):
        assert dict(entry(kind).values) == {}
    with pytest.raises(MapperError, match="has no place"):
        Entry("e-1", "job-1", "part-1", "finding")


@pytest.mark.parametrize(
    ("kind", "values", "says"),
    [
        ("finding", {"depht_found": 0.1}, "no field 'depht_found'.*Did you mean 'depth_found'"),
        ("finding", {"what": "rust hole"}, "Allowed: corrosion, dent.*other: "),
        ("finding", {"what": "other: "}, "other: "),
        ("finding", {"length": -1}, "0 or more"),
        ("finding", {"length": float("nan")}, "finite number"),
        ("finding", {"length": True}, "finite number"),
        ("finding", {"length": "12"}, "finite number"),
        ("finding", {"depth_found": Measured(1001.0)}, "0 to 1000"),
        ("finding", {"depth_found": "deep"}, "finite number"),
        ("finding", {"calibrated": NOON}, "without a time"),
        ("finding", {"continues": "no id!"}, "An id is"),
        ("finding", {"attempts": "scraped"}, "list of records"),
        ("finding", {"attempts": [{"depth": 0.1}]}, "A record of attempts has no field 'depth'"),
        ("finding", {"attempts": [{"black_left": "no"}]}, "yes or no"),
        ("finding", {"tool": "  "}, "is empty"),
        ("finding", {"tool": "\ud800"}, "half of a character"),
        ("masking", {"on": datetime(2026, 5, 31, 12, 0)}, "offset"),
        ("masking", {"on": "12:00"}, "offset"),
        ("inspected area", {"date": "2026-05-31"}, "must be a date"),
        ("paint application", {"humidity": 101}, "0 to 100"),
        ("removed part", {"quantity": 1.5}, "whole number"),
        ("marking", {"traced_outline": BOWTIE}, "not a proper outline"),
        ("marking", {"traced_outline": "POINT (0 0)"}, "shape in flat mm"),
    ],
)
def test_values_are_checked_against_the_table(kind: str, values: Any, says: str) -> None:
    with pytest.raises(MapperError, match=says):
        entry(kind, values=values)


def test_values_are_settled_and_frozen() -> None:
    made = entry(
        values={
            "gauge": 1,
            "length": 12,
            "what": "other: scorch",
            "tool": None,
            "attempts": [{"done": "scraped", "depth_after": 0.1}],
        }
    )
    assert list(made.values) == ["what", "length", "attempts", "gauge"]
    assert made.values["gauge"] == Measured(1.0) and type(made.values["length"]) is float
    assert made.values["attempts"][0]["depth_after"] == Measured(0.1)
    with pytest.raises(TypeError):
        made.values["length"] = 3.0  # type: ignore[index]
    with pytest.raises(TypeError):
        made.values["attempts"][0]["done"] = ""
    with pytest.raises(FrozenInstanceError):
        made.note = "x"  # type: ignore[misc]


def test_a_zone_is_settled_to_its_offset_that_day() -> None:
    summer = datetime(2026, 7, 1, 12, 0, tzinfo=ZoneInfo("Europe/Vienna"))
    made = entry(device_time=summer)
    assert made.device_time is not None
    assert made.device_time.isoformat() == "2026-07-01T12:00:00+02:00"
    assert made.device_time == summer


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"kind": "findings"}, "no kind of entry 'findings'.*Did you mean 'finding'"),
        ({"state": "done"}, "States: open"),
        ({"state": "deferred"}, "deferred to a date"),
        ({"deferred_to": date(2026, 6, 1)}, "deferred to a date"),
        ({"version": -1}, "0 or more"),
        ({"version": True}, "whole number"),
        ({"id": ""}, "An id is"),
        ({"photos": ("photo-1",)}, "PhotoUse"),
        ({"kind": "reading", "outline": OUTLINE}, "drawn as areas.*point"),
        ({"kind": "removed part", "outline": OUTLINE}, "drawn as areas"),
        ({"pieces": (Piece("i", "wing skin", "outer", SQUARE),)}, "no outline"),
        (
            {"outline": OUTLINE, "pieces": (Piece("i", "wing skin", "inner", SQUARE),)},
            "Its outline lies on",
        ),
    ],
)
def test_an_entry_is_whole(more: dict[str, Any], says: str) -> None:
    with pytest.raises(MapperError, match=says):
        entry(**more)


def test_an_outline_names_its_geometry() -> None:
    with pytest.raises(MapperError, match="names no geometry"):
        replace(entry(outline=OUTLINE), geometry="")


@pytest.mark.parametrize(
    ("shape", "says"),
    [
        (shapely.Polygon(), "is empty"),
        (BOWTIE, "not a proper outline"),
        (shapely.Polygon([(0, 0), (1, 0), (float("nan"), 1)]), "not a number"),
        (shapely.Polygon([(0, 0), (1, 0), (float("inf"), 1)]), "not a number"),
        (shapely.GeometryCollection([shapely.Point(0, 0), SQUARE]), "GeometryCollection"),
        (None, "shape in flat mm"),
    ],
)
def test_outlines_are_checked(shape: Any, says: str) -> None:
    with pytest.raises(MapperError, match=says):
        Outline("wing skin", "outer", shape)


def test_outlines_are_settled() -> None:
    anchors = [[100.0, 10.0, 1.0]] * 5
    made = Outline("wing skin", "outer", shapely.force_3d(SQUARE), 5000, anchors)
    assert made.shape.geom_type == "MultiPolygon" and not made.shape.has_z
    assert made.region == "area" and made.anchors.shape == (5, 3)
    with pytest.raises(ValueError, match="read-only"):
        made.anchors[0, 0] = 1
    for wrong in ([[1.0, 2.0]], "abc", [[1.0, 2.0, np.inf]] * 5):
        with pytest.raises(MapperError, match="anchors"):
            Outline("wing skin", "outer", SQUARE, anchors=wrong)
    with pytest.raises(MapperError, match="Only areas"):
        Outline("wing skin", "outer", shapely.Point(0, 0), 1.0)


def test_a_place_has_words_and_an_axis_one_long() -> None:
    assert Place("hole 3", (0, 1, 2), (0, 0, 5)).axis == (0, 0, 1)
    for wrong in ({"words": " "}, {"words": "x", "axis": (0, 0, 0)}, {"words": "x", "point": (1,)}):
        with pytest.raises(MapperError):
            Place(**wrong)  # type: ignore[arg-type]


D = "a" * 64


@pytest.mark.parametrize(
    ("cls", "given", "says"),
    [
        (Shop, ("s", "Shop", "yards"), "metric"),
        (Shop, ("s", "Shop", "metric", {"rate": float("nan")}), "finite"),
        (Shop, ("s", "Shop", "metric", {"rate": object()}), "Allowed: text"),
        (Shop, ("s", "Shop", "metric", [1]), "not a table"),
        (Person, ("p", ""), "is empty"),
        (Person, ("p", 5), "must be text"),
        (Person, ("p", "A\nB"), "line break"),
        (Job, ("j", "Job", "", "", "", "", NOON), "without a time"),
        (Part, ("p", "j", "a", "Wing", " LW-03"), "no blanks"),
        (Part, ("p", "j", "", "Wing"), "An id is"),
        (Position, ("p", "q", "n", "", "panel 2"), "no skin"),
        (Item, ("i", "p", "n", "", "", date(2026, 2, 1), date(2026, 1, 1)), "before it went in"),
        (Lot, ("l", "", "1"), "is empty"),
        (Lot, ("l", "Gel", "1", None, None, -1), "0 or more"),
        (FinishSystem, ("f", "j", "grey", ({"kind": "enamle"},)), "Did you mean 'enamel'"),
        (FinishSystem, ("f", "j", "grey", ({"paint": "x"},)), "A coat has no field"),
        (Photo, ("p", "j", "xyz", D, "image/png", 1, 1), "64 hexadecimal"),
        (Photo, ("p", "j", D, D, "text/plain", 1, 1), "image/"),
        (Photo, ("p", "j", D, D, "image/png", 0, 1), "1 pixel"),
        (PhotoUse, ("p", "", 0.0), "More than 0"),
        (Piece, ("i", "s", "f", SQUARE, -1.0), "0 or more"),
    ],
)
def test_records_refuse_what_they_cannot_hold(cls: Any, given: Any, says: str) -> None:
    with pytest.raises(MapperError, match=says):
        cls(*given)


def test_settings_cannot_be_changed_behind_the_shops_back() -> None:
    settings = {"rates": {"lacquer": [0.5, 2.0]}}
    shop = Shop("s", "Shop", settings=settings)
    settings["rates"]["lacquer"][0] = 9.0
    assert shop.settings["rates"]["lacquer"] == (0.5, 2.0)


def test_an_item_is_there_from_its_first_day_and_not_on_its_last() -> None:
    item = Item("i", "p", "n", since=date(1956, 1, 1), until=date(1974, 1, 1))
    assert not item.there(date(1955, 12, 31))
    assert item.there(date(1956, 1, 1)) and item.there(date(1973, 12, 31))
    assert not item.there(date(1974, 1, 1))
    assert Item("i", "p", "n").there(date(1900, 1, 1))
