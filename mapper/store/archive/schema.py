"""The JSON Schema of an archive's job.json, made from the records and the tables of the kinds."""

from __future__ import annotations

from dataclasses import MISSING, fields
from typing import Any

from mapper.job.entry import STATES, Entry, Outline, PhotoUse, Piece, Place
from mapper.job.fields import Field
from mapper.job.kinds import KINDS
from mapper.job.kinds.shared import COAT_FIELDS
from mapper.job.records import Job, Shop
from mapper.store.archive.layout import FORMAT, NUMBER, SECTIONS

Schema = dict[str, Any]
DIALECT = "https://json-schema.org/draft/2020-12/schema"

_TEXT: Schema = {"type": "string"}
_DAY: Schema = {"type": "string", "format": "date"}
_TIME: Schema = {"type": "string", "format": "date-time"}
_SHAPE: Schema = {
    "type": "string",
    "pattern": r"^MULTI(POLYGON|LINESTRING|POINT) ",
    "description": "WKT in the flat plane of the skin, mm",
}
_THREE: Schema = {"type": "array", "items": {"type": "number"}, "minItems": 3, "maxItems": 3}
_BY_TYPE: dict[str, Schema] = {
    "str": _TEXT,
    "int": {"type": "integer", "minimum": 0},
    "float": {"type": "number"},
    "date": _DAY,
    "datetime": _TIME,
}


def schema() -> Schema:
    """The schema as a dict; the same program always gives the same."""
    sections: Schema = {
        name: {"type": "array", "items": {"$ref": f"#/$defs/{cls.__name__}"}}
        for name, cls in SECTIONS.items()
    }
    records = (Shop, Job, *SECTIONS.values(), Outline, Piece, Place, PhotoUse)
    return {
        "$schema": DIALECT,
        "title": FORMAT,
        "type": "object",
        "required": ["format", "number", "shop", "job", *SECTIONS],
        "additionalProperties": False,
        "properties": {
            "format": {"const": FORMAT},
            "number": {"const": NUMBER},
            "shop": {"$ref": "#/$defs/Shop"},
            "job": {"$ref": "#/$defs/Job"},
            **sections,
        },
        "$defs": {cls.__name__: _record(cls) for cls in records},
    }


def _record(cls: type) -> Schema:
    properties: Schema = {}
    required = []
    for f in fields(cls):  # type: ignore[arg-type]
        properties[f.name] = _SPECIAL.get((cls, f.name)) or _plain(str(f.type))
        if f.default is MISSING and f.default_factory is MISSING:
            required.append(f.name)
    made: Schema = {
        "type": "object",
        "description": (cls.__doc__ or "").split("\n\n")[0].replace("\n    ", " "),
        "required": required,
        "additionalProperties": False,
        "properties": properties,
    }
    if cls is Entry:
        properties["kind"] = {"enum": list(KINDS)}
        # One branch a kind: its name settles which values there may be.
        made["allOf"] = [
            {
                "if": {"properties": {"kind": {"const": kind.name}}},
                "then": {"properties": {"values": _values(kind.fields)}},
            }
            for kind in KINDS.values()
        ]
    return made


def _plain(annotation: str) -> Schema:
    """The schema of a field by its annotation: "str", "float | None" and so on."""
    first, *rest = (word.strip() for word in annotation.split("|"))
    found = _BY_TYPE[first]
    return {"oneOf": [found, {"type": "null"}]} if "None" in rest else found


def _values(of: tuple[Field, ...]) -> Schema:
    return {
        "type": "object",
        "additionalProperties": False,
        "properties": {f.name: _value(f) for f in of},
    }


def _value(f: Field) -> Schema:
    words = f"{f.label}{f', {f.unit}' if f.unit else ''}{f': {f.help}' if f.help else ''}"
    return {"description": words, **_typed(f)}


def _typed(f: Field) -> Schema:
    if f.type == "choice":
        return {"anyOf": [{"enum": list(f.choices)}, {"type": "string", "pattern": "^other"}]}
    if f.type == "number":
        return {"type": "number", **_limits(f)}
    if f.type == "measured":
        half = {"oneOf": [{"type": "number", "minimum": 0}, {"type": "null"}]}
        first = {"type": "number", **_limits(f)}
        return {"type": "array", "prefixItems": [first, half], "minItems": 2, "maxItems": 2}
    if f.type == "records":
        return {"type": "array", "items": _values(f.of)}
    return {
        "text": _TEXT,
        "reference": _TEXT,
        "date": _DAY,
        "time": _TIME,
        "yes/no": {"type": "boolean"},
        "shape": _SHAPE,
    }[f.type]


def _limits(f: Field) -> Schema:
    found: Schema = {}
    if f.least is not None:
        found["minimum"] = f.least
    if f.most is not None:
        found["maximum"] = f.most
    return found


def _or_null(what: Schema) -> Schema:
    return {"oneOf": [what, {"type": "null"}]}


def _list(name: str) -> Schema:
    return {"type": "array", "items": {"$ref": f"#/$defs/{name}"}}


_ANCHORS: Schema = {
    "type": "array",
    "items": {
        "type": "array",
        "items": {"type": ["number", "null"]},
        "minItems": 3,
        "maxItems": 3,
    },
    "description": "of each corner: station mm, % chord, side (1 upper, -1 lower)",
}
# What an annotation does not say: these stand in `Any`, or in types of ours.
_SPECIAL: dict[tuple[type, str], Schema] = {
    (Shop, "settings"): {"type": "object"},
    (SECTIONS["finish_systems"], "coats"): {"type": "array", "items": _values(COAT_FIELDS)},
    (Place, "point"): _or_null(_THREE),
    (Place, "axis"): _or_null(_THREE),
    (Outline, "shape"): _SHAPE,
    (Outline, "anchors"): _or_null(_ANCHORS),
    (Piece, "shape"): _SHAPE,
    (Entry, "outline"): _or_null({"$ref": "#/$defs/Outline"}),
    (Entry, "place"): _or_null({"$ref": "#/$defs/Place"}),
    (Entry, "pieces"): _list("Piece"),
    (Entry, "photos"): _list("PhotoUse"),
    (Entry, "state"): {"enum": list(STATES)},
    (Entry, "deferred_to"): _or_null(_DAY),
    (Entry, "values"): {"type": "object"},
}
