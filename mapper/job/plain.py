"""Records as plain values for a JSON file, and back without losing a bit.

Numbers stay as they are, dates and times are ISO texts (times keep their offset), shapes are
well-known binary in hexadecimal, a measured value is [value, +/- or None], NaN among anchors is
None. What a field of an entry becomes is read from the table of its kind, so a new kind needs
nothing here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import fields
from datetime import date, datetime
from typing import Any, TypeVar

import numpy as np
import shapely

from mapper.errors import MapperError
from mapper.job import check
from mapper.job.entry import Entry, Outline, PhotoUse, Piece, Place, kind_of
from mapper.job.fields import Field, Measured
from mapper.job.kinds.shared import COAT_FIELDS
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

R = TypeVar("R")
RECORDS: tuple[type, ...] = (
    Shop,
    Person,
    Job,
    Assembly,
    Part,
    Position,
    Item,
    Lot,
    FinishSystem,
    Photo,
    Entry,
)
_PARTS: tuple[type, ...] = (Outline, Piece, Place, PhotoUse)


def to_plain(record: Any) -> dict[str, Any]:
    """A record, entry or part of one as a dict that JSON can hold; every field by its name.

    Raises MapperError for anything that is not one of `RECORDS` or a part of an entry.
    """
    cls = type(record)
    if cls not in RECORDS and cls not in _PARTS:
        raise MapperError(f"A {cls.__name__} is no record.", "Allowed: the records of a shop.")
    plain = {}
    for f in fields(record):
        value = getattr(record, f.name)
        codec = _CODECS.get((cls, f.name)) or _CODECS.get((None, f.name))
        plain[f.name] = value if codec is None or value is None else codec[0](value)
    if cls is Entry:
        plain["values"] = _values_to(record.values, kind_of(record.kind).fields)
    return plain


def from_plain(cls: type[R], plain: Mapping[str, Any]) -> R:
    """The record that `to_plain` was made from; fields that are not there take their default.

    Raises MapperError for unknown fields, and for values that the record refuses.
    """
    if cls not in RECORDS and cls not in _PARTS:
        raise MapperError(f"A {cls.__name__} is no record.", "Allowed: the records of a shop.")
    if not isinstance(plain, Mapping):
        raise MapperError(f"The record is {check.shown(plain)}.", "It must be values by name.")
    known = {f.name for f in fields(cls)}  # type: ignore[arg-type]
    unknown = sorted(set(plain) - known)
    if unknown:
        raise MapperError(
            f"A stored {cls.__name__} has {check.listed(unknown)}.",
            f"It has {', '.join(sorted(known))}.",
            "Read it with the version of the program that wrote it, or a newer one.",
        )
    given = dict(plain)
    try:
        for name, value in plain.items():
            codec = _CODECS.get((cls, name)) or _CODECS.get((None, name))
            if codec is not None and value is not None:
                given[name] = codec[1](value)
        if cls is Entry and "values" in given:
            given["values"] = _values_from(given["values"], kind_of(given.get("kind", "")).fields)
        return cls(**given)
    except (TypeError, ValueError, AttributeError, shapely.errors.ShapelyError) as error:
        raise MapperError(
            f"A stored {cls.__name__} cannot be read: {error}.",
            "Its values must be of the types that were stored.",
        ) from error


def same(one: Any, other: Any) -> bool:
    """Whether two records of one type say the same, versions and all."""
    return type(one) is type(other) and to_plain(one) == to_plain(other)


def thawed(value: Any) -> Any:
    """A frozen plain value as the lists and dicts that JSON writes."""
    if isinstance(value, Mapping):
        return {k: thawed(v) for k, v in value.items()}
    return [thawed(v) for v in value] if isinstance(value, tuple | list) else value


def _shape_to(shape: Any) -> str:
    # Little-endian on every machine: equal shapes have equal text.
    text: str = shapely.to_wkb(shape, hex=True, output_dimension=2, byte_order=1)
    return text


def _shape_from(text: str) -> Any:
    return shapely.from_wkb(text)


def _anchors_to(anchors: Any) -> list[list[float | None]]:
    off = np.isnan(anchors)
    rows: list[list[float | None]] = anchors.tolist()
    for row, column in zip(*(index.tolist() for index in np.nonzero(off))):
        rows[row][column] = None
    return rows


def _anchors_from(rows: Any) -> Any:
    # None becomes NaN by itself; row by row it took a third of the time of reading a job.
    return np.array(rows, dtype=np.float64)


def _values_to(values: Mapping[str, Any], of: tuple[Field, ...]) -> dict[str, Any]:
    return {f.name: _value_to(values[f.name], f) for f in of if f.name in values}


def _value_to(value: Any, f: Field) -> Any:
    if f.type == "measured":
        return [value.value, value.plus_minus]
    if f.type in ("date", "time"):
        return value.isoformat()
    if f.type == "shape":
        return _shape_to(value)
    if f.type == "records":
        return [_values_to(record, f.of) for record in value]
    return value


def _values_from(values: Mapping[str, Any], of: tuple[Field, ...]) -> dict[str, Any]:
    # A name that is not in the table is left for the record to refuse, in its own words.
    known = {f.name: f for f in of}
    return {
        name: _value_from(value, known[name]) if name in known and value is not None else value
        for name, value in values.items()
    }


def _value_from(value: Any, f: Field) -> Any:
    if f.type == "measured":
        number, half = value
        return Measured(number, half)
    if f.type == "date":
        return date.fromisoformat(value)
    if f.type == "time":
        return datetime.fromisoformat(value)
    if f.type == "shape":
        return _shape_from(value)
    if f.type == "records":
        return tuple(_values_from(record, f.of) for record in value)
    return value


def _list_of(cls: type) -> tuple[Callable[[Any], Any], Callable[[Any], Any]]:
    return (
        lambda rows: [to_plain(r) for r in rows],
        lambda rows: tuple(from_plain(cls, r) for r in rows),
    )


_DAY: tuple[Callable[[Any], Any], Callable[[Any], Any]] = (date.isoformat, date.fromisoformat)
_MOMENT: tuple[Callable[[Any], Any], Callable[[Any], Any]] = (
    datetime.isoformat,
    datetime.fromisoformat,
)
_SHAPE: tuple[Callable[[Any], Any], Callable[[Any], Any]] = (_shape_to, _shape_from)
# (record, field) -> (to plain, from plain), called for values that are not None; a field named for
# no record in particular is the same in all of them.
_CODECS: dict[tuple[type | None, str], tuple[Callable[[Any], Any], Callable[[Any], Any]]] = {
    (None, "opened"): _DAY,
    (None, "since"): _DAY,
    (None, "until"): _DAY,
    (None, "received"): _DAY,
    (Photo, "received"): (str, str),
    (None, "best_before"): _DAY,
    (None, "deferred_to"): _DAY,
    (None, "taken"): _MOMENT,
    (None, "device_time"): _MOMENT,
    (None, "server_time"): _MOMENT,
    (None, "shape"): _SHAPE,
    (Outline, "anchors"): (_anchors_to, _anchors_from),
    (Place, "point"): (list, tuple),
    (Place, "axis"): (list, tuple),
    (Shop, "settings"): (thawed, thawed),
    (FinishSystem, "coats"): (
        lambda coats: [_values_to(c, COAT_FIELDS) for c in coats],
        lambda coats: tuple(_values_from(c, COAT_FIELDS) for c in coats),
    ),
    (Entry, "outline"): (to_plain, lambda plain: from_plain(Outline, plain)),
    (Entry, "place"): (to_plain, lambda plain: from_plain(Place, plain)),
    (Entry, "pieces"): _list_of(Piece),
    (Entry, "photos"): _list_of(PhotoUse),
    # An entry's values need its kind: `to_plain` and `from_plain` see to them.
    (Entry, "values"): (lambda values: values, lambda values: values),
}
