"""Records become plain values and come back without losing a bit."""

from __future__ import annotations

import json
from dataclasses import fields, replace
from datetime import date
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from mapper.errors import MapperError
from mapper.job.entry import Entry, Outline
from mapper.job.fields import Measured
from mapper.job.kinds.shared import COAT_FIELDS
from mapper.job.plain import RECORDS, from_plain, same, to_plain
from mapper.job.records import (
    Assembly,
    FinishSystem,
    Item,
    Job,
    Lot,
    Part,
    Person,
    Photo,
    Position,
    Shop,
)
from tests.job.makers import (
    NOON,
    SQUARE,
    days,
    entries,
    entry,
    finite,
    line,
    moments,
    values_of,
    words,
)

ids = st.uuids().map(str)
digests = st.text("0123456789abcdef", min_size=64, max_size=64)
versions = st.integers(0, 1000)
json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | finite | words,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(line, inner, max_size=3),
    max_leaves=8,
)
span = st.tuples(days, days).map(sorted)
RECORD = {
    Shop: st.builds(
        Shop, ids, line, st.sampled_from(["metric", "inch"]),
        st.dictionaries(line, json_values, max_size=3), versions,
    ),
    Person: st.builds(Person, ids, line, line, line, versions),
    Job: st.builds(Job, ids, line, line, line, line, line, st.none() | days, words, versions),
    Assembly: st.builds(Assembly, ids, ids, line, versions, versions),
    Part: st.builds(Part, ids, ids, ids, line, line, st.just("") | digests, words, words, versions),
    Position: st.builds(Position, ids, ids, line, line, line, versions),
    Item: span.flatmap(
        lambda s: st.builds(
            Item, ids, ids, line, line, line, st.just(s[0]), st.none() | st.just(s[1]), words,
            versions,
        )
    ),
    Lot: st.builds(
        Lot, ids, line, line, st.none() | days, st.none() | days, st.none() | st.floats(0, 1e9),
        line, words, versions,
    ),
    FinishSystem: st.builds(
        FinishSystem, ids, ids, line, st.lists(values_of(COAT_FIELDS), max_size=3), words, versions
    ),
    Photo: st.builds(
        Photo, ids, ids, digests, digests, st.just("image/png"), st.integers(1, 9999),
        st.integers(1, 9999), st.none() | moments, versions,
    ),
    Entry: entries(),
}  # fmt: skip


def through_json(record: Any) -> Any:
    text = json.dumps(to_plain(record), allow_nan=False, ensure_ascii=False)
    return from_plain(type(record), json.loads(text))


def bits(value: Any) -> Any:
    """A value in a form that tells 0.0 from -0.0 and one NaN from a number."""
    if isinstance(value, float):
        return value.hex()
    if isinstance(value, np.ndarray):
        return value.tobytes(), value.shape
    if isinstance(value, shapely.geometry.base.BaseGeometry):
        return value.geom_type, shapely.to_wkb(value)
    if hasattr(value, "__dataclass_fields__"):
        return type(value), [bits(getattr(value, f.name)) for f in fields(value)]
    if hasattr(value, "items"):
        return {k: bits(v) for k, v in value.items()}
    if isinstance(value, tuple):
        return tuple(bits(v) for v in value)
    if hasattr(value, "utcoffset"):
        return value.isoformat()
    return value


def test_every_record_has_a_strategy() -> None:
    assert set(RECORD) == set(RECORDS)


@pytest.mark.parametrize("cls", RECORDS, ids=[c.__name__ for c in RECORDS])
@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_round_trip_is_exact(cls: type, data: st.DataObject) -> None:
    record = data.draw(RECORD[cls])
    again = through_json(record)
    assert bits(again) == bits(record)
    assert same(again, record)
    assert json.dumps(to_plain(again)) == json.dumps(to_plain(record))


def test_same_sees_a_small_difference() -> None:
    one = entry(values={"depth_found": Measured(0.12, 0.02)})
    assert same(one, replace(one))
    assert not same(one, replace(one, values={"depth_found": Measured(0.12, 0.0200001)}))


def test_times_keep_the_offset_they_were_told_in() -> None:
    again = through_json(entry(device_time=NOON))
    assert again.device_time.isoformat() == "2026-05-31T12:00:00+02:00"


def test_older_text_without_a_newer_field_takes_the_default() -> None:
    plain = to_plain(Item("i-1", "p-1", "panel 2", since=date(1956, 3, 1)))
    del plain["serial"]
    assert from_plain(Item, plain).serial == ""


@pytest.mark.parametrize(
    ("cls", "plain", "says"),
    [
        (Job, {"id": "j", "name": "n", "colour": "red"}, "colour"),
        (Job, {"name": "n"}, "cannot be read"),
        (Job, [1], "by name"),
        (Item, {"id": "i", "position_id": "p", "name": "n", "since": "1.2.1956"}, "cannot be read"),
        (Entry, {"id": "e", "job_id": "j", "part_id": "p", "kind": "stain"}, "no kind"),
        (dict, {}, "no record"),
    ],
)
def test_text_that_is_no_record_is_refused_in_words(cls: type, plain: Any, says: str) -> None:
    with pytest.raises(MapperError, match=says):
        from_plain(cls, plain)


def test_a_broken_shape_is_refused_in_words() -> None:
    plain = to_plain(entry(outline=Outline("wing skin", "outer", SQUARE)))
    plain["outline"]["shape"] = plain["outline"]["shape"][:-10]
    with pytest.raises(MapperError, match="cannot be read"):
        from_plain(Entry, plain)
    with pytest.raises(MapperError, match="no record"):
        to_plain(object())
