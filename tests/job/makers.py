"""Hypothesis strategies and small makers shared by the tests of the record."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any

import numpy as np
import shapely
from hypothesis import strategies as st

from mapper.job.entry import STATES, Entry, Outline, PhotoUse, Piece, Place
from mapper.job.fields import Field, Kind, Measured
from mapper.job.kinds import KINDS
from mapper.job.records import new_id

NOON = datetime(2026, 5, 31, 12, 0, tzinfo=timezone(timedelta(hours=2)))
SQUARE = shapely.box(0, 0, 100, 50)

# Anything a person may type, emoji and right-to-left letters included, but no half characters.
words = st.text(st.characters(exclude_categories=("Cs",)), min_size=1, max_size=20)
line = st.text(
    st.characters(exclude_categories=("Cs", "Cc", "Zl", "Zp")), min_size=1, max_size=20
).filter(lambda t: t.strip() == t)
finite = st.floats(allow_nan=False, allow_infinity=False, width=64)
sizes = st.floats(min_value=0, max_value=1e7, allow_nan=False)
days = st.dates(date(1930, 1, 1), date(2090, 1, 1))
moments = st.datetimes(
    datetime(1930, 1, 1), datetime(2090, 1, 1), timezones=st.integers(-840, 840).map(
        lambda m: timezone(timedelta(minutes=m))
    )
)  # fmt: skip
coordinates = st.floats(-1e5, 1e5, allow_nan=False)


@st.composite
def boxes(draw: st.DrawFn) -> Any:
    x, y = draw(coordinates), draw(coordinates)
    w, h = draw(st.floats(0.1, 1e4)), draw(st.floats(0.1, 1e4))
    return shapely.multipolygons([shapely.box(x, y, x + w, y + h)])


def numbers(f: Field) -> st.SearchStrategy[float]:
    """Numbers that the field allows."""
    found = st.floats(
        -1e9 if f.least is None else f.least,
        1e9 if f.most is None else f.most,
        allow_nan=False,
    )
    return found.map(lambda v: float(round(v))) if f.whole else found


def value_of(f: Field, text: st.SearchStrategy[str] = words) -> st.SearchStrategy[Any]:
    """Values that the field allows, of every sort it allows."""
    if f.type == "records":
        return st.lists(values_of(f.of, text).filter(bool), max_size=3).map(tuple)
    return {
        "text": text.filter(lambda t: bool(t.strip())),
        "choice": st.sampled_from(f.choices or ("",)) | line.map("other: {}".format),
        "number": numbers(f),
        "measured": st.builds(Measured, numbers(f), st.none() | st.floats(0, 1e6)),
        "date": days,
        "time": moments,
        "yes/no": st.booleans(),
        "reference": st.uuids().map(str),
        "shape": boxes(),
    }[f.type]


def values_of(
    fields: tuple[Field, ...], text: st.SearchStrategy[str] = words
) -> st.SearchStrategy[dict[str, Any]]:
    """Any part of the fields with values."""
    return st.fixed_dictionaries({}, optional={f.name: value_of(f, text) for f in fields})


@st.composite
def outlines(draw: st.DrawFn, kind: Kind) -> Outline:
    region = draw(st.sampled_from(sorted(kind.regions - {"place"})))
    shape = draw(boxes())
    if region == "line":
        shape = shapely.boundary(shape)
    elif region == "point":
        shape = shapely.multipoints(shapely.get_coordinates(shape)[:1])
    count = shapely.count_coordinates(shape)
    row = st.tuples(finite, st.none() | st.floats(0, 100), st.sampled_from([1.0, -1.0]))
    rows = draw(st.none() | st.lists(row, min_size=count, max_size=count))
    anchors = None if rows is None else np.array(
        [[np.nan if v is None else v for v in r] for r in rows]
    )  # fmt: skip
    area = draw(sizes) if region == "area" else 0.0
    return Outline("wing skin", "outer", shape, area, anchors)


@st.composite
def entries(draw: st.DrawFn) -> Entry:
    """Entries of every kind, with anything they may hold."""
    kind = KINDS[draw(st.sampled_from(sorted(KINDS)))]
    outline = draw(outlines(kind)) if len(kind.regions) > 1 and draw(st.booleans()) else None
    point = st.none() | st.tuples(finite, finite, finite)
    axis = st.none() | st.tuples(*[st.floats(-1e3, 1e3)] * 3).filter(lambda v: max(map(abs, v)) > 1)
    place = draw(st.builds(Place, line, point, axis)) if outline is None else None
    pieces = () if outline is None else (
        Piece(new_id(), "wing skin", "outer", outline.shape, draw(sizes)),
    )  # fmt: skip
    state = draw(st.sampled_from(STATES))
    return Entry(
        id=draw(st.uuids().map(str)),
        job_id="job-1",
        part_id="part-1",
        kind=kind.name,
        outline=outline,
        pieces=pieces,
        place=place,
        geometry="" if outline is None else "f" * 64,
        by=draw(st.just("") | st.uuids().map(str)),
        device_time=draw(st.none() | moments),
        server_time=draw(st.none() | moments),
        state=state,
        deferred_to=draw(days) if state == "deferred" else None,
        note=draw(st.just("") | words),
        photos=draw(
            st.lists(
                st.builds(PhotoUse, st.uuids().map(str), words, st.none() | st.floats(1e-6, 10)),
                max_size=2,
            ).map(tuple)
        ),
        values=draw(values_of(kind.fields)),
        version=draw(st.integers(0, 99)),
        unconfirmed=draw(st.just("") | line),
    )


def entry(kind: str = "finding", **more: Any) -> Entry:
    """A small entry of a kind, with a place in words unless an outline is given."""
    given: dict[str, Any] = {"id": "e-1", "job_id": "job-1", "part_id": "part-1", "kind": kind}
    if "outline" not in more and "place" not in more:
        given["place"] = Place("rib 7, aft face")
    elif more.get("outline") is not None:
        given["geometry"] = "f" * 64
    return Entry(**{**given, **more})


def utc(*parts: int) -> datetime:
    """A moment in UTC."""
    return datetime(*parts, tzinfo=UTC)  # type: ignore[misc, arg-type]
