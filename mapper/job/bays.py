"""What lies in which bay, over all parts of a job."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from mapper.job.book import Book
from mapper.job.inner import (
    LEAST,
    Lies,
    lies_in,
    own_structure,
    placed,
    rooms_of,
    spots,
)
from mapper.job.records import Part
from mapper.surface.geometry import Geometry
from mapper.surface.within import SLACK, is_flat_sheet

Array = NDArray[np.float64]

MOST = 0.5  # of a part that is not attached: as much must lie in others for it to belong inside


@dataclass(frozen=True)
class Housed:
    """A piece of inner structure and where it lies. part_id: the piece's own part, "" for a line or
    web of the parent's; parent_id: the part whose bays they are."""

    part_id: str
    parent_id: str
    lies: Lies


@dataclass(frozen=True)
class Contents:
    """One bay and the names of what lies in it and of what bounds it."""

    bay: str
    inside: tuple[str, ...]
    bounds: tuple[str, ...]


def bays_of(book: Book) -> tuple[Housed, ...]:
    """Every piece of inner structure of a job with the bays it lies in, in the book's order of
    parts: ribs, spars, frames, longerons, stringers and webs of each shape, then the parts.

    A part that is attached to another one lies in that one, or outside it; a part that is not, and
    has a placement in the aircraft, lies in those parts that hold more than half of it together.
    A part of which neither is said is nowhere, and left out, as is one without a shape.
    """
    shapes = {p.id: book.geometries[p.geometry] for p in book.parts if p.geometry}
    parts = [p for p in book.parts if p.id in shapes]
    found = [Housed("", part.id, lies) for part in parts for lies in own_structure(shapes[part.id])]
    for part in parts:
        found += housed(book, part.id)
    return tuple(found)


def housed(book: Book, part_id: str) -> tuple[Housed, ...]:
    """Where one part lies, as `bays_of` says; () where it lies in no other, or nothing says."""
    part = book.part(part_id)
    if not part.geometry:
        return ()
    piece = book.geometries[part.geometry]
    if piece.attached_to:
        parent = _named(book, part, piece.attached_to)
        if parent is None:
            return ()
        lies = lies_in(piece, book.geometries[parent.geometry], _leans(part.part_file))
        return (Housed(part.id, parent.id, lies),)
    if not _is_placed(piece):
        return ()
    found = []
    box = _box(piece)
    for other in book.parts:
        if other.id == part.id or not other.geometry:
            continue
        parent_shape = book.geometries[other.geometry]
        if _may_hold(parent_shape, box):
            lies = lies_in(piece, parent_shape)
            if lies.outside <= 1.0 - LEAST:
                found.append(Housed(part.id, other.id, lies))
    held = sum(1.0 - one.lies.outside for one in found)
    return tuple(found) if held > MOST else ()


def contents_of(book: Book, part_id: str) -> tuple[Contents, ...]:
    """The bays of a part with what lies in each of them and what bounds it, bays in the part's
    order; () for a part without a shape."""
    part = book.part(part_id)
    if not part.geometry:
        return ()
    every = [one.lies for one in bays_of(book) if one.parent_id == part_id]
    rooms = rooms_of(book.geometries[part.geometry])
    return tuple(
        Contents(
            room.name,
            tuple(lies.piece for lies in every if room.name in dict(lies.inside)),
            tuple(lies.piece for lies in every if room.name in lies.bounds),
        )
        for room in rooms
    )


def _named(book: Book, part: Part, name: str) -> Part | None:
    """The part with a shape of that name in the book: as its part file calls it, or as the shop."""
    wanted = name.casefold()
    others = [p for p in book.parts if p.geometry and p.id != part.id]
    for other in others:
        if book.geometries[other.geometry].part.casefold() == wanted:
            return other
    return next((p for p in others if wanted in (p.name.casefold(), p.code.casefold())), None)


def _leans(part_file: str) -> bool:
    """Whether a part file places its part in the frame of a parent of which it knows the name only:
    an attachment without a part file, and no placement of its own."""
    try:
        said = tomllib.loads(part_file)
    except tomllib.TOMLDecodeError:
        return False
    attachment = said.get("attachment")
    known = said.get("placement") or said.get("sections_from")
    return isinstance(attachment, dict) and not known and not attachment.get("part_file")


def _is_placed(geometry: Geometry) -> bool:
    placement = geometry.placement
    return bool(placement.origin.any() or (placement.rotation != np.eye(3)).any())


@lru_cache(maxsize=512)
def _box(geometry: Geometry) -> tuple[Array, Array]:
    """Least and greatest corner, mm, of a part in the aircraft."""
    points = spots(geometry)
    if len(points) > 1:
        points = placed(geometry, np.concatenate([skin.points for skin in geometry.skins]))
    return points.min(axis=0), points.max(axis=0)


def _may_hold(parent: Geometry, box: tuple[Array, Array]) -> bool:
    """Whether a part has an inside, is larger than a box, and its own box meets that box."""
    if is_flat_sheet(parent.skins[0]):
        return False
    low, high = _box(parent)
    larger = float(np.linalg.norm(high - low)) > float(np.linalg.norm(box[1] - box[0]))
    return larger and bool(np.all((low - SLACK <= box[1]) & (box[0] <= high + SLACK)))
