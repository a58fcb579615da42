"""A geometry version as bytes and back, to the last bit.

The bytes: a first line that names the format and its number, the length of the header (8 bytes,
little-endian), the header (JSON: every word and number, and the list of arrays), then the arrays,
raw and little-endian, each padded to 8 bytes. Nothing is computed on reading: arrays and what the
evaluators need are stored as they are.
"""

from __future__ import annotations

import hashlib
import json
import math
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np
import shapely

from mapper.errors import MapperError
from mapper.surface.flatmap import flat_map_from
from mapper.surface.geometry import (
    Bay,
    Geometry,
    Lap,
    MapLine,
    Opening,
    Panel,
    Placement,
    Tolerance,
)
from mapper.surface.skin import Chart, FlatMap, Glue, Skin, Stitch
from meshes.errors import ShapeError
from meshes.patch import Patch
from meshes.records import patch_from

NUMBER = 1
FIRST = b"airframe geometry version "
DTYPES = ("<f8", "<i4", "<i2", "|u1")
TYPES: dict[str, type] = {
    t.__name__: t
    for t in (
        Geometry,
        Tolerance,
        Placement,
        MapLine,
        Opening,
        Panel,
        Bay,
        Lap,
        Skin,
        Chart,
        Glue,
        Stitch,
    )
}


class _Writer:
    """Turns values into JSON, setting arrays aside in the order they are met."""

    def __init__(self) -> None:
        self.arrays: list[np.ndarray[Any, Any]] = []

    def _aside(self, values: np.ndarray[Any, Any]) -> int:
        kind = values.dtype.newbyteorder("<").str
        if kind not in DTYPES:
            raise MapperError(
                f"An array of {values.dtype} stands in a geometry.",
                f"Allowed are {', '.join(DTYPES)}.",
            )
        self.arrays.append(np.ascontiguousarray(values, dtype=kind))
        return len(self.arrays) - 1

    def put(self, value: Any) -> Any:
        if value is None or isinstance(value, str | bool):
            return value
        if isinstance(value, int | np.integer):
            return int(value)
        if isinstance(value, float | np.floating):
            number = float(value)
            return number if math.isfinite(number) else {"number": repr(number)}
        if isinstance(value, np.ndarray):
            return {"array": self._aside(value)}
        if isinstance(value, shapely.Geometry):
            raw = shapely.to_wkb(value, byte_order=1, output_dimension=2)
            return {"shape": self._aside(np.frombuffer(raw, dtype=np.uint8))}
        if isinstance(value, tuple | list):
            return {"tuple" if isinstance(value, tuple) else "list": [self.put(v) for v in value]}
        if isinstance(value, dict):
            return {"record": {k: self.put(v) for k, v in value.items()}}
        name = type(value).__name__
        if TYPES.get(name) is type(value) and is_dataclass(value):
            return {
                "type": name,
                "fields": {f.name: self.put(getattr(value, f.name)) for f in fields(value)},
            }
        if isinstance(value, Patch):
            return {"patch": self.put(value.to_dict())}
        if isinstance(value, FlatMap):
            return {"flat map": self.put(value.to_dict())}
        raise MapperError(f"A {name} stands in a geometry.", "It has no place in a stored version.")


def _get(value: Any, arrays: list[np.ndarray[Any, Any]]) -> Any:
    if not isinstance(value, dict):
        return value
    if "type" in value:
        parts = {k: _get(v, arrays) for k, v in value["fields"].items()}
        return TYPES[value["type"]](**parts)
    (word, inner), *_ = value.items()
    if word == "number":
        return float(inner)
    if word == "array":
        return arrays[inner]
    if word == "shape":
        return shapely.from_wkb(arrays[inner].tobytes())
    if word in ("tuple", "list"):
        parts_of = [_get(v, arrays) for v in inner]
        return tuple(parts_of) if word == "tuple" else parts_of
    if word == "record":
        return {k: _get(v, arrays) for k, v in inner.items()}
    if word == "patch":
        return patch_from(_get(inner, arrays))
    if word == "flat map":
        return flat_map_from(_get(inner, arrays))
    raise KeyError(word)


def to_bytes(geometry: Geometry) -> bytes:
    """The geometry as bytes; the same geometry gives the same bytes, always.

    MapperError where it holds something that cannot be stored.
    """
    writer = _Writer()
    record = writer.put(geometry)
    listed = [{"dtype": a.dtype.str, "shape": list(a.shape)} for a in writer.arrays]
    header = json.dumps(
        {"geometry": record, "arrays": listed},
        sort_keys=True,
        separators=(",", ":"),
        allow_nan=False,
    ).encode()
    pieces = [FIRST + str(NUMBER).encode() + b"\n", len(header).to_bytes(8, "little"), header]
    for array in writer.arrays:
        raw = array.tobytes()
        pieces += [raw, bytes(-len(raw) % 8)]
    return b"".join(pieces)


def from_bytes(data: bytes) -> Geometry:
    """The geometry in bytes made by `to_bytes`.

    MapperError for bytes that are no geometry version, are cut short, damaged or too long, or were
    written by a newer release.
    """
    start = data.find(b"\n", 0, 64)
    if not data.startswith(FIRST) or start < 0 or not data[len(FIRST) : start].isdigit():
        raise MapperError(
            "These bytes are not a geometry version.",
            f"A geometry version starts with {FIRST.decode().strip()!r}.",
            "Check that the right file was given.",
        )
    number = int(data[len(FIRST) : start])
    if number > NUMBER:
        raise MapperError(
            f"This geometry version has format {number}.",
            f"This release reads up to {NUMBER}.",
            "Open it with a newer release.",
        )
    body = start + 9
    size = int.from_bytes(data[start + 1 : body], "little")
    if len(data) < body + size:
        raise _cut(len(data))
    try:
        header = json.loads(data[body : body + size])
        arrays, end = _arrays(data, body + size, header["arrays"])
        geometry = _get(header["geometry"], arrays)
    except (ValueError, KeyError, TypeError, IndexError, AttributeError, ShapeError) as error:
        # Whatever a damaged header leads to, the reader is told one thing.
        raise _damaged(error) from error
    except shapely.errors.ShapelyError as error:
        raise _damaged(error) from error
    if end != len(data):
        raise MapperError(
            f"The geometry version has {len(data)} bytes, its header tells of {end}.",
            "Both must agree.",
            "Take it from a backup.",
        )
    if not isinstance(geometry, Geometry):
        raise _damaged(type(geometry).__name__)
    return geometry


def _arrays(
    data: bytes, start: int, listed: list[dict[str, Any]]
) -> tuple[list[np.ndarray[Any, Any]], int]:
    arrays = []
    for entry in listed:
        if entry["dtype"] not in DTYPES:
            raise KeyError(entry["dtype"])
        dtype = np.dtype(entry["dtype"])
        shape = [int(n) for n in entry["shape"]]
        count = math.prod(shape)
        size = count * dtype.itemsize
        if min(shape, default=0) < 0 or len(data) < start + size:
            raise _cut(len(data))
        arrays.append(np.frombuffer(data, dtype, count, start).reshape(shape))
        start += size + (-size % 8)
    if len(data) < start:
        raise _cut(len(data))
    return arrays, start


def _cut(size: int) -> MapperError:
    return MapperError(
        f"The geometry version is cut short at {size} bytes.",
        "All of it is needed.",
        "Take it from a backup.",
    )


def _damaged(why: object) -> MapperError:
    return MapperError(
        f"The geometry version is damaged ({why}).",
        "It must be as it was written.",
        "Take it from a backup.",
    )


def digest(data: bytes) -> str:
    """The SHA-256 of bytes, in hexadecimal: a geometry version's name."""
    return hashlib.sha256(data).hexdigest()
