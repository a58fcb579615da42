"""Plain records as an archive writes them: regions as well-known text instead of binary.

Nothing is lost on the way.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.job.entry import Entry, kind_of
from mapper.job.fields import Field

Plain = dict[str, Any]
Turn = Callable[[str], str]


def opened(cls: type, plain: Mapping[str, Any]) -> Plain:
    """A plain record (`mapper.job.plain.to_plain`) with its shapes as WKT."""
    return _turned(cls, plain, _to_text)


def closed(cls: type, plain: Mapping[str, Any]) -> Plain:
    """The plain record that `opened` was made from; ShapelyError or ValueError for text that is no
    WKT."""
    return _turned(cls, plain, _to_binary)


def _turned(cls: type, plain: Mapping[str, Any], turn: Turn) -> Plain:
    if cls is not Entry:
        return dict(plain)
    new = dict(plain)
    if new.get("outline"):
        new["outline"] = new["outline"] | {"shape": turn(new["outline"]["shape"])}
    new["pieces"] = [p | {"shape": turn(p["shape"])} for p in new.get("pieces", ())]
    new["values"] = _values(new.get("values", {}), kind_of(str(new.get("kind"))).fields, turn)
    return new


def _values(values: Mapping[str, Any], fields: tuple[Field, ...], turn: Turn) -> Plain:
    new = dict(values)
    for field in fields:
        value = new.get(field.name)
        if value is None:
            continue
        if field.type == "shape":
            new[field.name] = turn(value)
        elif field.type == "records":
            new[field.name] = [_values(row, field.of, turn) for row in value]
    return new


def to_wkt(shape: BaseGeometry) -> str:
    """A MultiPolygon, MultiLineString or MultiPoint as WKT that reads back to the last bit.

    Not by the library's writer: its full precision is 16 digits, which loses the last bit of most
    numbers. Python's own spelling of a double is the shortest that gives it back.
    """
    word = shape.geom_type.upper()
    if shape.is_empty:
        return f"{word} EMPTY"
    parts = shapely.get_parts(shape)
    if word == "MULTIPOLYGON":
        rings = (", ".join(_chain(r) for r in (p.exterior, *p.interiors)) for p in parts)
        return f"{word} ({', '.join(f'({r})' for r in rings)})"
    if word in ("MULTILINESTRING", "MULTIPOINT"):
        return f"{word} ({', '.join(_chain(p) for p in parts)})"
    raise MapperError(
        f"A {shape.geom_type} stands in a record.",
        "Regions are MultiPolygon, MultiLineString or MultiPoint.",
    )


def _chain(shape: BaseGeometry) -> str:
    points = shapely.get_coordinates(shape).tolist()
    return f"({', '.join(f'{x!r} {y!r}' for x, y in points)})"


def _to_text(binary: str) -> str:
    return to_wkt(shapely.from_wkb(binary))


def _to_binary(text: str) -> str:
    binary: str = shapely.to_wkb(shapely.from_wkt(text), hex=True, output_dimension=2, byte_order=1)
    return binary
