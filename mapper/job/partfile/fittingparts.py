"""From a part file to the sheets of a fitting: bracket, bell crank, fork end, push-pull tube."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from mapper.job.partfile.fittingkeys import FORK
from mapper.job.partfile.partsheet import PartSheet, at_key
from mapper.job.partfile.scan import Path
from mapper.job.partfile.spec import PartSpec
from meshes.errors import ShapeError
from meshes.folded import Flange, folded
from meshes.fork import Fork, fork_sheets, push_pull_tube

_KEYS = {"gauge": "thickness", "radius": "bend_radius"}


def bracket_sheets(spec: PartSpec) -> Iterator[PartSheet]:
    """The one sheet of a bracket or bell crank."""
    own = spec.own
    rows = own.get("flange", ())
    try:
        flanges = [_flange(row) for row in rows]
        name = "bracket" if spec.shape == "bracket" else "crank"
        (sheet,) = folded(own["corners"], flanges, own["thickness"], name=name, datum=spec.datum)
    except ShapeError as error:
        raise spec.error(_path(rows, error.field), error.given, error.allowed,
                         error.to_do) from error  # fmt: skip
    yield PartSheet(sheet)


def _flange(row: Mapping[str, Any]) -> Flange:
    number = float(row["edge"])
    return Flange(
        int(number) - 1 if number == int(number) else -1,
        row["length"],
        row.get("angle", 90.0),
        row.get("bend_radius", 0.0),
        row.get("round_end", False),
    )


def _path(rows: tuple[Mapping[str, Any], ...], field: str) -> Path:
    head, _, name = field.partition("].")
    if name:
        row = rows[int(head.removeprefix("flanges["))]
        return (*row["path"], _KEYS.get(name, name))
    if field == "flanges" and rows:
        return (*rows[-1]["path"], "length")
    return (_KEYS.get(field, field),)


def _fork(row: Mapping[str, Any]) -> Fork:
    return Fork(**{key.name: row[key.name] for key in FORK if key.name in row})


def fork_part(spec: PartSpec) -> Iterator[PartSheet]:
    """The strap and barrel of a fork end."""
    with at_key(spec):
        sheets = fork_sheets(_fork(spec.own), 0.0, ahead=True, name="fork")
    yield from (PartSheet(sheet, hole="bolt hole") for sheet in sheets)


def push_pull_part(spec: PartSpec) -> Iterator[PartSheet]:
    """The tube of a push-pull tube and its forks."""
    own = spec.own
    with at_key(spec, ("fork_end",)):
        fork = _fork(own["fork_end"])
    with at_key(spec):
        sheets = push_pull_tube(
            own["diameter"], own["length"], fork, own.get("fork_ends", "both"), datum=spec.datum
        )
    yield from (PartSheet(sheet, hole="bolt hole") for sheet in sheets)
