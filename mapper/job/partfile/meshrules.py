"""Mistakes in the part file of a mesh that can be told without reading the mesh."""

from __future__ import annotations

from typing import Any

from mapper.job.partfile.check import Notes
from mapper.job.partfile.meshkeys import MESHES
from mapper.surface.imported.align import LEAST

Row = dict[str, Any]
_KNOWN = ("known_length", "known_from", "known_to")


def check_mesh(values: Row, notes: Notes) -> None:
    """Note what is missing of a known length, and landmarks too few or named twice."""
    if values.get("shape") not in MESHES:
        return
    given = [key for key in _KNOWN if key in values]
    for key in _KNOWN:
        if given and key not in values and not notes.bad((key,)):
            notes.mistake((key,), "it is missing;", f"{' and '.join(_KNOWN)} go together.")
    marks = [row for row in values.get("landmark", ()) if "name" in row]
    names = [str(row["name"]) for row in marks]
    for row in marks:
        if names.count(str(row["name"])) > 1:
            notes.mistake(
                (*row["path"], "name"),
                f'"{row["name"]}" is given twice;',
                "each landmark has its own name.",
            )
    if 0 < len(marks) < LEAST:
        notes.mistake(
            (*marks[-1]["path"],),
            f"{len(marks)} landmarks were given;",
            f"none, or {LEAST} and more are allowed.",
            "Name more points, or leave them out where the mesh is in place already.",
        )
