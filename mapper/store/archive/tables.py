"""The CSV tables of an archive: the record for those who read it in a spreadsheet."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from mapper.job.book import Book
from mapper.job.csvtext import to_csv
from mapper.job.entry import Entry
from mapper.job.fields import Field, Measured
from mapper.job.kinds import KINDS
from mapper.job.partfile.table import area_table

COMMON = (
    "id",
    "part",
    "part_code",
    "skin",
    "face",
    "place",
    "area_mm2",
    "by",
    "device_time",
    "state",
    "deferred_to",
    "note",
    "photos",
)


def tables_of(book: Book) -> dict[str, str]:
    """CSV texts by file name: parts, areas, and one table for each kind of entry there is.

    Units stand in the heads. A job without parts has tables with heads only.
    """
    named = {a.id: a.name for a in book.assemblies}
    parts = [
        {
            "id": p.id,
            "code": p.code,
            "name": p.name,
            "assembly": named[p.assembly_id],
            "geometry": p.geometry,
            "note": p.note,
        }
        for p in book.parts
    ]
    heads = ["id", "code", "name", "assembly", "geometry", "note"]
    found = {"parts": pd.DataFrame(parts, columns=heads), "areas": _areas(book)}
    for kind in KINDS.values():
        entries = [e for e in book.entries if e.kind == kind.name]
        if entries:
            columns = [*COMMON, *(_head(f) for f in kind.fields)]
            found[kind.plural] = pd.DataFrame(
                [_row(book, e, kind.fields) for e in entries], columns=columns
            )
    return {f"tables/{name}.csv": to_csv(frame) for name, frame in found.items()}


def _areas(book: Book) -> pd.DataFrame:
    frames = []
    for part in book.parts:
        geometry = book.geometry_of(part.id)
        if geometry is not None:
            frame = area_table(geometry)
            frame.insert(0, "part_code", part.code)
            frame.insert(0, "part", part.name)
            frames.append(frame)
    return pd.concat(frames, ignore_index=True) if frames else pd.DataFrame(columns=["part"])


def _head(field: Field) -> str:
    return f"{field.name} [{field.unit}]" if field.unit else field.name


def _row(book: Book, entry: Entry, fields: tuple[Field, ...]) -> dict[str, Any]:
    part = book.part(entry.part_id)
    outline = entry.outline
    row: dict[str, Any] = {
        "id": entry.id,
        "part": part.name,
        "part_code": part.code,
        "skin": outline.skin if outline else "",
        "face": outline.face if outline else "",
        "place": entry.place.words if entry.place else "",
        "area_mm2": outline.drawn_area if outline and outline.region == "area" else None,
        "by": book.person_name(entry.by),
        "device_time": entry.device_time.isoformat() if entry.device_time else "",
        "state": entry.state,
        "deferred_to": entry.deferred_to.isoformat() if entry.deferred_to else "",
        "note": entry.note,
        "photos": len(entry.photos),
    }
    given = entry.values  # noqa: PD011
    return row | {_head(f): _cell(given.get(f.name), f) for f in fields}


def _cell(value: Any, field: Field) -> Any:
    if value is None:
        return ""
    if isinstance(value, Measured):
        half = "" if value.plus_minus is None else f" +/- {value.plus_minus!r}"
        return f"{value.value!r}{half}"
    if field.type == "records":
        return "; ".join(_record(row, field.of) for row in value)
    if field.type == "yes/no":
        return "yes" if value else "no"
    if field.type in ("date", "time"):
        return value.isoformat()
    return value if isinstance(value, int | float | str) else str(value)


def _record(row: Mapping[str, Any], fields: tuple[Field, ...]) -> str:
    return ", ".join(f"{f.label} {_cell(row[f.name], f)}" for f in fields if f.name in row)
