"""A part's shape corrected, and what is recorded on it carried over, in one action."""

from __future__ import annotations

import re
from collections import ChainMap
from collections.abc import Sequence
from dataclasses import replace

from mapper.job.book import Book
from mapper.job.carry.move import Move, moves, renamed
from mapper.job.entry import Entry
from mapper.job.records import Item, Part, Position
from mapper.store.action import Action
from mapper.store.errors import StoreError
from mapper.store.parts import change_geometry
from mapper.store.shop import Store
from mapper.store.undo import SEALS
from mapper.surface.geometry import Geometry
from mapper.surface.version import digest, to_bytes

_LEANS = re.compile(r"^\s*sections_from\s*=", re.MULTILINE)


def sealed(store: Store, job_id: str) -> frozenset[str]:
    """Ids of the records that signatures of a job cover; such entries are never moved."""
    if not SEALS:
        return frozenset()
    return frozenset(
        key
        for row in store.history(job_id, limit=None)
        if row.kind in SEALS and row.op == "add" and row.after is not None
        for key in SEALS[row.kind](row.after)
    )


def preview(
    store: Store, book: Book, part: Part, geometry: Geometry, keep: str
) -> tuple[Move, ...]:
    """What `remap` would do to every entry of the part; stores nothing. () without entries.

    keep: "places" or "stations", as `mapper.job.carry.move.carrier` says. Raises StoreError for a
    part without a shape, a shape of the other hand, and the shape that the part has already.
    """
    name = _checked(part, geometry, book)
    book = replace(book, positions=_with(book, _renamed(book, part, geometry, keep)))
    known = {(p.skin, p.panel) for p in book.positions if p.part_id == part.id}
    places, items = [], []
    for panel in geometry.panels:
        if (panel.skin, panel.name) not in known:
            place = f"new-{len(places)}"
            places.append(Position(place, part.id, panel.name, panel.skin, panel.name))
            items.append(Item(f"{place}-item", place, panel.name))
    after = _after(book, replace(part, geometry=name), geometry, places, items)
    return moves(book, after, part.id, keep, sealed=sealed(store, book.job.id))


def remap(
    action: Action,
    store: Store,
    book: Book,
    part: Part,
    geometry: Geometry,
    keep: str,
    part_file: str,
) -> tuple[Move, ...]:
    """Give a part a corrected shape and carry its entries over; what `preview` shows is stored.

    part_file: text of the new part file. The old version and the entries as they were stay in the
    history; undo takes the whole of it back. Raises as `preview`.
    """
    _checked(part, geometry, book)
    again = tuple(action.change(p) for p in _renamed(book, part, geometry, keep))
    book = replace(book, positions=_with(book, again))
    new = change_geometry(action, book, replace(part, part_file=part_file), geometry)
    after = _after(book, new.part, geometry, new.positions, new.items)
    found = moves(book, after, part.id, keep, sealed=sealed(store, book.job.id))
    return tuple(
        move if move.after is move.before else replace(move, after=action.change(move.after))
        for move in found
    )


def confirm(action: Action, book: Book, entries: Sequence[Entry]) -> tuple[Entry, ...]:
    """Take a person's word that entries lie where they are shown; () for none.

    Raises StoreError for an entry that nobody doubts, and for one that is not on the present sheet,
    which has to be drawn again instead.
    """
    found = [accepted(book, entry) for entry in entries]
    return tuple(action.change(entry) for entry in found)


def accepted(book: Book, entry: Entry) -> Entry:
    """The entry with its place taken as it is shown, on a person's word.

    Raises StoreError where nobody doubts it, and where it is not on the present sheet.
    """
    if not entry.unconfirmed:
        raise StoreError(
            f"The place of the {entry.kind} {entry.id[:8]} is not in doubt.",
            "Entries that a correction of the shape has moved are confirmed.",
            "`mapper list unconfirmed` shows them.",
        )
    if entry.geometry != book.part(entry.part_id).geometry:
        raise StoreError(
            f"The {entry.kind} {entry.id[:8]} lies off the corrected sheet.",
            "What lies on the present shape can be confirmed.",
            "Draw it again (at the desk with `mapper redraw`), or remove it.",
        )
    return replace(entry, unconfirmed="")


def leaning(book: Book, part: Part) -> tuple[Part, ...]:
    """Parts whose own files took their sections from this part's: ribs, flaps, pieces of its skin.

    A corrected shape of the part leaves them as they were; each is corrected by its own file.
    """
    names = {part.name, book.geometries[part.geometry].part} if part.geometry else {part.name}
    return tuple(
        other
        for other in book.parts
        if other.id != part.id
        and other.geometry
        and book.geometries[other.geometry].attached_to in names
        and _LEANS.search(other.part_file)
    )


def _renamed(book: Book, part: Part, geometry: Geometry, keep: str) -> tuple[Position, ...]:
    """Positions of panels that are the same sheets under another name, with that name: a sheet
    stays in its place, with all that was ever recorded on it."""
    names = renamed(book.geometries[part.geometry], geometry, keep)
    found = []
    for position in book.positions:
        new = names.get((position.skin, position.panel))
        if position.part_id == part.id and new is not None:
            ours = position.name == f"{part.name}, {position.panel}"
            name = f"{part.name}, {new}" if ours else position.name
            found.append(replace(position, panel=new, name=name))
    return tuple(found)


def _with(book: Book, changed: Sequence[Position]) -> tuple[Position, ...]:
    by_id = {p.id: p for p in changed}
    return tuple(by_id.get(p.id, p) for p in book.positions)


def _checked(part: Part, geometry: Geometry, book: Book) -> str:
    if not part.geometry:
        raise StoreError(
            f"The part {part.name!r} has no shape to correct.",
            "Entries are carried from one shape to another.",
            "Add the part again from its part file.",
        )
    if book.geometries[part.geometry].mirrored != geometry.mirrored:
        ours = "left" if book.geometries[part.geometry].mirrored else "right"
        raise StoreError(
            f"The new file is of the other hand: {part.name!r} is a {ours}-hand part.",
            "A corrected shape is of the same hand.",
            f'Write side = "{ours}" in it.',
        )
    name = digest(to_bytes(geometry))
    if name == part.geometry:
        raise StoreError(
            f"The new file gives {part.name!r} the shape that it has already.",
            "A corrected shape differs from the old one.",
            "Check that the right file was given.",
        )
    return name


def _after(
    book: Book,
    part: Part,
    geometry: Geometry,
    positions: Sequence[Position],
    items: Sequence[Item],
) -> Book:
    """The book with the part on its corrected shape; its entries are still the old ones."""
    return replace(
        book,
        parts=tuple(part if p.id == part.id else p for p in book.parts),
        positions=(*book.positions, *positions),
        items=(*book.items, *items),
        geometries=ChainMap({part.geometry: geometry}, book.geometries),  # type: ignore[arg-type]
    )
