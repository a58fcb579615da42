"""From a part file to the sheets of a body: its skin, closed ends, bulkheads and firewall."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from mapper.job.partfile.partsheet import PartSheet, at_key
from mapper.job.partfile.scan import Path
from mapper.job.partfile.spec import PartSpec, RibSpec
from meshes.body import BodyPatch, body, bulkhead, locate
from meshes.errors import ShapeError
from meshes.rings import BoxRing, EllipseRing, OrdinateRing, Ring

# What the constructors call their parameters, and the key a person wrote.
_KEYS = {"corner": "corner_radius", "height": "waterline", "x": "station"}


def rings_of(spec: PartSpec) -> tuple[Ring, ...]:
    """The cross-sections of a body; PartFileError with line and key."""
    return tuple(_ring(spec, row) for row in spec.own["cross_section"])


def _ring(spec: PartSpec, row: Mapping[str, Any]) -> Ring:
    x = float(row["station"]) - spec.datum
    height = float(row.get("waterline", 0.0))
    try:
        if row["form"] == "ellipse":
            return EllipseRing(x, row["width"], row["depth"], height)
        if row["form"] == "rounded box":
            return BoxRing(x, row["width"], row["depth"], row["corner_radius"], height)
        return OrdinateRing(x, np.array(row["points"]), open=spec.shape == "fillet")
    except ShapeError as error:
        path: Path = (*row["path"], _KEYS.get(error.field, error.field))
        raise spec.error(path, error.given, error.allowed, error.to_do) from error


def frames_of(spec: PartSpec) -> tuple[RibSpec, ...]:
    """The frames, bulkheads and firewall of a body."""
    keys = ("path", "name", "station", "web", "alloy", "gauge", "gauge_how", "cladding")
    rows = spec.own.get("frame", ())
    return tuple(RibSpec(**{k: row[k] for k in keys if k in row}) for row in rows)


def body_sheets(spec: PartSpec) -> Iterator[PartSheet]:
    """The sheets of a body, its skin first."""
    rings = rings_of(spec)
    try:
        sheets = body(
            rings,
            datum=spec.datum,
            front=spec.own.get("front_end") == "closed",
            aft=spec.own.get("aft_end") == "closed",
        )
    except ShapeError as error:
        number, _, name = error.field.partition("].")
        index = int(number.removeprefix("sections[")) if name else -1
        key = _KEYS.get(name, name)
        path: Path = ("cross_section", index, key) if name else ("cross_section",)
        raise spec.error(path, error.given, error.allowed, error.to_do) from error
    yield from (PartSheet(sheet) for sheet in sheets)
    patches = [p for p in sheets[0].patches if isinstance(p, BodyPatch)]
    for row in frames_of(spec):
        if row.web:
            with at_key(spec, row.path):
                sheet = bulkhead(*locate(patches, row.station), f"{row.name} web")
            yield PartSheet(replace(sheet), row)
