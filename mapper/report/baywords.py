"""What a part's page says of bays: where it lies in other parts, and what lies in its own."""

from __future__ import annotations

from mapper.job.bays import bays_of, contents_of, housed
from mapper.job.book import Book
from mapper.job.inner import WHOLE, lies_words


def bay_facts(book: Book, part_id: str) -> list[tuple[str, str]]:
    """(label, words) of the bays of a part with a shape; [] where nothing is to be said.

    Its own stringers and webs are left out: they are on its map.
    """
    found = []
    for one in housed(book, part_id):
        words = lies_words(one.lies)
        found.append(("By geometry", words[:1].upper() + words[1:]))
    parts = {h.lies.piece for h in bays_of(book) if h.part_id and h.parent_id == part_id}
    for bay in contents_of(book, part_id):
        held = [piece for piece in bay.inside if piece in parts]
        if held:
            found.append(("Inside" if bay.bay == WHOLE else f"In {bay.bay}", ", ".join(held)))
    return found
