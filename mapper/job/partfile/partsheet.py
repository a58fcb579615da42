"""A sheet of a part, and the words that lead from a shape's mistake back to a line and key."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from mapper.job.partfile.scan import Path
from mapper.job.partfile.spec import HoleSpec, PartSpec, RibSpec, SparSpec
from meshes.errors import ShapeError
from meshes.shape import Sheet


@dataclass(frozen=True)
class PartSheet:
    """A sheet of the part, and the row of the part file it comes from (None: the part itself).

    station_holes: lightening holes of a spar's web, which are placed on its flat map. hole: what a
    hole of the sheet is called.
    """

    sheet: Sheet
    row: RibSpec | SparSpec | None = None
    station_holes: tuple[HoleSpec, ...] = ()
    hole: str = "lightening hole"


@contextmanager
def at_key(spec: PartSpec, path: Path = ()) -> Iterator[None]:
    """Turns a ShapeError into a PartFileError that names the line and key it is about."""
    try:
        yield
    except ShapeError as error:
        raise spec.error(_path(spec, path, error.field), error.given, error.allowed,
                         error.to_do) from error  # fmt: skip


_INDEX = re.compile(r"(sections|holes)\[(\d+)\]\.?(\w*)")
# What the constructors call their parameters, and the key a person wrote.
_KEYS = {
    "section": "profile",
    "diameter0": "diameter",
    "diameter1": "end_diameter",
    "outline": "corners",
    "corner": "corner_radius",
    "open_base": "trailing_edge_base",
    "span": "to_station",
}


def _path(spec: PartSpec, path: Path, field: str) -> Path:
    match = _INDEX.fullmatch(field)
    if match is None:
        return (*path, _KEYS.get(field, field))
    name, number, rest = match.groups()
    if name == "sections":
        own = spec.section[int(number)].path if int(number) < len(spec.section) else ("section",)
        key = _KEYS.get(rest, rest)
        if key == "profile" and spec.lines.exact((*own, "coordinates")):
            key = "coordinates"
        return (*own, key) if key else own
    return (*path, "lightening_hole", int(number), rest)
