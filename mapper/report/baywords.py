"""What a part's page says of bays: where it lies in other parts, and what lies in its own."""

from __future__ import annotations

from mapper.job.bays import bays_of
from mapper.job.book import Book
from mapper.job.inner import WHOLE, lies_words, rooms_of
from mapper.job.plain import to_plain
from mapper.report.cache import Cache, key_of

Bays = tuple[tuple[str, str], ...]  # label and words


def bay_facts(book: Book, cache: Cache) -> dict[str, Bays]:
    """By the id of each part, what is to be said of its bays; () where nothing is.

    All parts at once, and kept while no part is another: where one lies is asked of every other.
    Its own stringers and webs are left out: they are on its map.
    """
    key = key_of("bays", [to_plain(part) for part in book.parts])
    told = cache.value(key, lambda: _told(book))
    return {
        part_id: tuple((label, words) for label, words in rows) for part_id, rows in told.items()
    }


def _told(book: Book) -> dict[str, list[tuple[str, str]]]:
    every = [one for one in bays_of(book) if one.part_id]
    found: dict[str, list[tuple[str, str]]] = {part.id: [] for part in book.parts}
    for one in every:
        words = lies_words(one.lies)
        found[one.part_id].append(("By geometry", words[:1].upper() + words[1:]))
    for part in book.parts:
        mine = [one.lies for one in every if one.parent_id == part.id]
        for room in rooms_of(book.geometries[part.geometry]) if mine else ():
            held = [lies.piece for lies in mine if room.name in dict(lies.inside)]
            if held:
                label = "Inside" if room.name == WHOLE else f"In {room.name}"
                found[part.id].append((label, ", ".join(held)))
    return found
