"""A part, with the places and the sheets it is made of, in one action.

A position is where something belongs, an item what was in it from one day to another. A part has a
position and an item for itself as a whole, and one of each for every panel of its shape, so that a
sheet can be replaced and keep what was recorded on it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from mapper.job.book import Book
from mapper.job.records import Assembly, Item, Job, Part, Position
from mapper.store.action import Action
from mapper.store.errors import NoSuchRecord, StoreError
from mapper.surface.geometry import Geometry


@dataclass(frozen=True)
class AddedPart:
    """A part as stored, with its positions and items: the whole part's first, then the panels'."""

    part: Part
    positions: tuple[Position, ...]
    items: tuple[Item, ...]


def add_part(
    action: Action,
    job: Job | str,
    assembly: Assembly | str,
    part: Part,
    geometry: Geometry | None,
    since: date | None = None,
    *,
    made: str = "original",
) -> AddedPart:
    """Add a part with its geometry version; a position and an item for the whole and each panel.

    part: new (version 0); its job, assembly and geometry are filled in here. geometry None: a part
    without a shape, with one position and one item. since: the day it was first there (None: as far
    back as anybody knows). made: of the items, "original" usually.
    """
    digest = "" if geometry is None else action.add_geometry(geometry)
    stored = action.add(
        replace(
            part,
            job_id=job if isinstance(job, str) else job.id,
            assembly_id=assembly if isinstance(assembly, str) else assembly.id,
            geometry=digest,
        )
    )
    places = [("", "")]
    if geometry is not None:
        places += [(panel.skin, panel.name) for panel in geometry.panels]
    positions, items = _places(action, stored, places, since, made)
    return AddedPart(stored, positions, items)


def _places(
    action: Action, part: Part, places: Iterable[tuple[str, str]], since: date | None, made: str
) -> tuple[tuple[Position, ...], tuple[Item, ...]]:
    positions, items = [], []
    for skin, panel in places:
        name = f"{part.name}, {panel}" if panel else part.name
        place = Position(action.new_id(), part.id, name, skin=skin, panel=panel)
        positions.append(action.add(place))
        items.append(action.add(Item(action.new_id(), place.id, name, made=made, since=since)))
    return tuple(positions), tuple(items)


def change_geometry(action: Action, book: Book, part: Part, geometry: Geometry) -> AddedPart:
    """Give a part a corrected geometry version; panels it did not have before get their places.

    Entries stay on the version they were drawn on, and positions whose panel is gone stay with what
    was recorded in them. Gives the part, and the new positions and items.
    """
    digest = action.add_geometry(geometry)
    stored = action.change(replace(part, geometry=digest))
    known = {(p.skin, p.panel) for p in book.positions if p.part_id == part.id}
    new = [(p.skin, p.name) for p in geometry.panels if (p.skin, p.name) not in known]
    positions, items = _places(action, stored, new, None, "original")
    return AddedPart(stored, positions, items)


def replace_sheet(
    action: Action, book: Book, position: Position | str, day: date, new: Item
) -> tuple[Item, Item]:
    """Put a new sheet in a position: the one that is there ends on `day`, the new one begins.

    What was recorded on the old one stays with it. new: an item of version 0; its position and
    first day are filled in here. Gives the old and the new item as stored. Raises NoSuchRecord
    where nothing is in the position, StoreError where it came in later than `day`.
    """
    key = position if isinstance(position, str) else position.id
    there = [i for i in book.items if i.position_id == key and i.until is None]
    if not there:
        raise NoSuchRecord(
            f"Nothing is in the position {key!r} to be replaced.",
            "A sheet is replaced where one is in place.",
            "Add an item to the position instead.",
        )
    old = there[0]
    if old.since is not None and day < old.since:
        raise StoreError(
            f"{old.name!r} came in on {old.since}, and would go out on {day}.",
            "A sheet goes out after it came in.",
            f"Give a day from {old.since} on.",
        )
    retired = action.change(replace(old, until=day))
    added = action.add(replace(new, position_id=key, since=day, until=None))
    return retired, added
