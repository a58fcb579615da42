"""What `show` writes, `parse` reads; what cannot be read is refused in words."""

from __future__ import annotations

from datetime import date, datetime, timedelta, timezone
from typing import Any

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from mapper.errors import MapperError
from mapper.job.check import shape_text
from mapper.job.fields import Field, Measured
from mapper.job.kinds import KINDS
from mapper.job.records import Shop
from mapper.job.values import allowed, missing, own_choices, parse, parse_pairs, show, told
from mapper.units import Units
from tests.job.makers import NOON, entry, line, value_of

M, I = Units("metric"), Units("inch")  # noqa: E741
FINDING, READING = KINDS["finding"], KINDS["reading"]
FIELDS = [(k.name, f) for k in KINDS.values() for f in k.fields]
IDS = [f"{k}-{f.name}" for k, f in FIELDS]


def field(kind: str, name: str) -> Field:
    found = KINDS[kind].field(name)
    assert found is not None
    return found


def close(one: Any, other: Any, rel: float) -> bool:
    if isinstance(one, Measured):
        half = (one.plus_minus or 0.0, other.plus_minus or 0.0)
        same = (one.plus_minus is None) == (other.plus_minus is None)
        return same and close(one.value, other.value, rel) and close(*half, rel)
    if isinstance(one, bool) or not isinstance(one, float | tuple | dict):
        same_shape = hasattr(one, "geom_type") and bool(shapely.equals_exact(one, other, 0.0))
        return same_shape or (not hasattr(one, "geom_type") and one == other)
    if isinstance(one, float):
        return one == pytest.approx(other, rel=rel, abs=1e-7 if rel > 1e-12 else 1e-300)
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(close(v, other[k], rel) for k, v in one.items())
    return len(one) == len(other) and all(close(a, b, rel) for a, b in zip(one, other, strict=True))


@pytest.mark.parametrize(("kind", "f"), FIELDS, ids=IDS)
@settings(max_examples=25, deadline=None)
@given(data=st.data())
def test_what_is_shown_is_read_back(kind: str, f: Field, data: st.DataObject) -> None:
    value = data.draw(value_of(f, line))
    for units, rel in ((M, 1e-13), (I, 1e-9)):
        text = show(f, value, units)
        if text:  # an empty list of records has no text
            assert close(parse(f, text, units), value, rel), (text, value)


@pytest.mark.parametrize(
    ("kind", "name", "text", "value"),
    [
        ("finding", "depth_found", "0.12 +/- 0.02 mm", Measured(0.12, 0.02)),
        ("finding", "depth_found", "0.12 ± 0.02", Measured(0.12, 0.02)),
        ("finding", "depth_found", "0.12+-0.02 mm", Measured(0.12, 0.02)),
        ("finding", "depth_found", "0.12 mm + / - 0.02 mm", Measured(0.12, 0.02)),
        ("finding", "depth_found", "0.12 mm +/- 20 µm", Measured(0.12, 0.02)),
        ("finding", "depth_found", "5 +/- 1 mil", Measured(0.127, 0.0254)),
        ("finding", "depth_found", "0.12", Measured(0.12)),
        ("finding", "length", "1 1/2 in", 38.1),
        ("finding", "what", "CORROSION", "corrosion"),
        ("finding", "what", "Other:  scorch mark ", "other: scorch mark"),
        ("finding", "calibrated", "2026-05-31", date(2026, 5, 31)),
        ("finding", "attempts", "done=scraped; black left=yes | date=2026-05-31; depth_after=0.1",
         ({"done": "scraped", "black_left": True},
          {"date": date(2026, 5, 31), "depth_after": Measured(0.1)})),
        ("finding", "attempts", r"done=scraped\; wiped", ({"done": "scraped; wiped"},)),
        ("reading", "temperature", "20 +/- 2 C", Measured(20.0, 2.0)),
        ("coat zone", "unknown", "Yes", True),
        ("masking", "on", "2026-05-31 12:00+02:00", NOON),
        ("masking", "on", "2026-05-31T12:00", NOON),
        ("masking", "on", "2026-05-31 9:10", NOON.replace(hour=9, minute=10)),
        ("application", "left_area", "0.5 m2", 5e5),
        ("removed part", "quantity", "4", 4.0),
    ],
)  # fmt: skip
def test_what_people_type(kind: str, name: str, text: str, value: Any) -> None:
    zone = timezone(timedelta(hours=2))
    got = parse(field(kind, name), text, zone=zone)
    assert close(got, value, 1e-12), got


@pytest.mark.parametrize(
    ("kind", "name", "text", "says"),
    [
        ("finding", "depth_found", "0,12 mm", r"depth as found: '0,12 mm' has a comma.*0\.12"),
        ("finding", "depth_found", "0.12 +/- 0,02 mm", "comma"),
        ("finding", "depth_found", "deep", "depth as found: .*no number"),
        ("finding", "depth_found", "1 +/- 2 +/- 3", "two \\+/-"),
        ("finding", "depth_found", "0.12 +/- 5 %", "not in percent"),
        ("finding", "depth_found", "-1", "0 to 1000 mm"),
        ("finding", "depth_found", "0.1 +/- -0.1", "half-width"),
        ("finding", "length", "", "length: nothing was given.*0 mm or more"),
        ("finding", "what", "corosion", "Did you mean 'corrosion'"),
        ("finding", "what", "other", "other: "),
        ("finding", "calibrated", "31.05.2026", "2026-05-31.*year-month-day"),
        ("finding", "calibrated", "2026-02-30", "2026-05-31"),
        ("finding", "calibrated", "20260531", "2026-05-31"),
        ("masking", "on", "12:00", "a time as"),
        ("masking", "on", "2026-05-31", "a time as"),
        ("masking", "on", "2026-05-31 25:00", "a time as"),
        ("coat zone", "unknown", "maybe", "yes or no"),
        ("finding", "attempts", "scraped", "no field 'scraped'"),
        ("finding", "attempts", "done", "not one value"),
        ("finding", "attempts", "done=a; done=b", "not one value"),
        ("marking", "traced_outline", "POLYGON ((0 0, 1", "cannot be read"),
        ("removed part", "quantity", "1.5", "whole number"),
        ("reading", "gauge", "5 kg", "no unit"),
    ],
)
def test_what_cannot_be_read(kind: str, name: str, text: str, says: str) -> None:
    with pytest.raises(MapperError, match=says):
        parse(field(kind, name), text)


def test_ranges_are_said_in_the_shops_units() -> None:
    with pytest.raises(MapperError, match=r"Allowed: 0 to 39\.37"):
        parse(field("finding", "depth_found"), "40", I)
    assert "in or more" in allowed(field("finding", "length"), I)


def test_a_time_without_an_offset_is_the_machines() -> None:
    got = parse(field("masking", "on"), "2026-05-31 12:00")
    assert got.tzinfo is not None and got == datetime(2026, 5, 31, 12, 0).astimezone()


def test_references_are_looked_up_and_named() -> None:
    f = field("finding", "disposed_by")
    assert parse(f, "Anna", find=lambda kind, text: f"{kind}-{text}") == "person-Anna"
    assert show(f, "person-Anna", names={"person-Anna": "Anna"}) == "Anna"
    assert show(f, "person-Ben", names={}) == "person-Ben"
    assert show(f, None) == ""


def test_pairs_by_key_or_label() -> None:
    got = parse_pairs(
        FINDING,
        ["what=dent", "depth as found=1 mm", "Blend: length=20", "attempts=done=a", "tool=",
         "attempts=done=b"],
    )  # fmt: skip
    assert got == {
        "what": "dent",
        "depth_found": Measured(1.0),
        "blend_length": 20.0,
        "attempts": ({"done": "a"}, {"done": "b"}),
        "tool": None,
    }


@pytest.mark.parametrize(
    ("pairs", "says"),
    [
        (["depth=1"], "no field 'depth'.*what, corrosion"),
        (["wat=1"], "Did you mean 'what'"),
        (["what"], "field=value"),
        (["what=dent", "what=hole"], "given twice"),
    ],
)
def test_pairs_that_say_nothing(pairs: list[str], says: str) -> None:
    with pytest.raises(MapperError, match=says):
        parse_pairs(FINDING, pairs)


def test_a_shops_own_choices() -> None:
    shop = Shop("s", "Shop", settings={"choices": {"finding": {"what": ["scorch mark"]}}})
    own = own_choices(shop, "finding", field("finding", "what"))
    assert own == ("scorch mark",)
    assert parse(field("finding", "what"), "Scorch mark", own=own) == "other: scorch mark"
    assert "scorch mark" in allowed(field("finding", "what"), own=own)
    assert own_choices(Shop("s", "Shop"), "finding", field("finding", "what")) == ()
    odd = Shop("s", "Shop", settings={"choices": "all"})
    assert own_choices(odd, "finding", field("finding", "what")) == ()


def names(made: Any) -> list[str]:
    return [f.name for f in missing(made)]


def test_the_to_complete_list() -> None:
    assert names(entry()) == ["by", "what", "technique"]
    rust = entry(by="p-1", values={"what": "corrosion", "technique": "eye"})
    assert names(rust) == ["corrosion", "depth_found", "depth_cleaned"]
    crack = entry(by="p-1", values={"what": "crack", "technique": "eye", "gauge": 0.8})
    assert names(crack) == ["gauge_basis"]
    done = entry(
        by="p-1",
        values={"what": "dent", "technique": "eye", "depth_found": 1.0},
    )
    assert names(done) == []


def test_one_of_two_ways_is_enough() -> None:
    zone = {"lead_test": "not found", "chromate_test": "found"}
    assert names(entry("coat zone", by="p", values=zone)) == ["finish_system", "coats"]
    assert names(entry("coat zone", by="p", values={**zone, "unknown": True})) == []
    assert names(entry("coat zone", by="p", values={**zone, "coats": [{"kind": "dope"}]})) == []
    unknown_no = entry("coat zone", by="p", values={**zone, "unknown": False})
    assert names(unknown_no) == ["finish_system", "coats"]


def test_a_reading_asks_for_the_value_of_its_quantity() -> None:
    got = names(entry("reading", by="p", values={"quantity": "hardness"}))
    assert got == ["hardness", "hardness_scale", "tool", "calibrated"]


def test_nothing_left_coated_is_an_answer() -> None:
    def names(**values: object) -> set[str]:
        return {f.name for f in missing(entry("application", values=values))}

    assert "left_area" in names()
    assert "left_area" not in names(left_fraction=0.0)


def test_values_after_a_change_of_units() -> None:
    depth = field("finding", "depth_found")
    typed = Measured(0.12, 0.02)
    assert show(depth, typed, I) == "0.12 ± 0.02 mm"
    assert parse(depth, show(depth, typed, I), I) == typed
    assert told(depth, typed, I) == "0.0047 ± 0.0008 in (0.12 ± 0.02 mm)"
    assert told(depth, Measured(0.127, 0.0254), I) == "0.005 ± 0.001 in"
    # Each as typed, one in inches, the other in mm.
    mixed = parse(depth, "0.005 in +/- 0.02 mm", I)
    assert show(depth, mixed, I) == "0.005 in ± 0.02 mm"
    assert parse(depth, show(depth, mixed, I), I) == mixed
    assert told(depth, Measured(25.4 / 3), I) == "0.3333 in"
    length = field("finding", "length")
    assert told(length, 120.0, I) == "4.724 in (120 mm)"
    assert parse(length, "2 ft 6 1/2") == 774.7
    assert parse(depth, "1 ft 2 +/- 1/4") == Measured(355.6, 6.35)


@given(st.floats(-1e5, 1e5), st.sampled_from([1.0, 1e-7, 1e-17]))
def test_outlines_as_text_lose_no_bit(x: float, scale: float) -> None:
    box = shapely.multipolygons([shapely.box(x * scale, 0.0, x * scale + 1.0, 0.1).difference(
        shapely.box(x * scale + 0.3, 0.01, x * scale + 0.4, 0.05))])  # fmt: skip
    for shape in (box, shapely.multilinestrings([[(x * scale, 0.0), (2e5, 1.0)]]),
                  shapely.multipoints([[x * scale, 0.0], [0.0, 1.0]])):  # fmt: skip
        assert shapely.equals_exact(shapely.from_wkt(shape_text(shape)), shape, 0.0)
