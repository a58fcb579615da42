"""What lies on a panel: lines and points at its seam too, but not a line that only ends there."""

from __future__ import annotations

from dataclasses import replace

from shapely.affinity import translate

from mapper.job.entry import Piece
from mapper.report.figures import numbers_key
from mapper.report.lookup import Lookup, shapes_on
from tests.estimate.books import Writer, book_of


def panels(w: Writer) -> list[str]:
    """The panels of the plate (seam at 1200 mm) that show the entry on their outer face."""
    book = book_of(w.made)
    lookup = Lookup(book)
    sheets = [s for s in lookup.sheets(book.parts[0]) if s.face == "outer"]
    return [s.panel for s in sheets if lookup.on_sheet(s, book.entries)]


def test_a_line_that_ends_at_a_seam_is_on_one_panel_only() -> None:
    w = Writer()
    w.line("masking", "outer", [(800, 500), (1200, 500)])
    assert panels(w) == ["inboard"]


def test_a_line_over_a_seam_and_one_along_it_are_on_both() -> None:
    over = Writer()
    over.line("masking", "outer", [(800, 500), (1250, 500)])
    assert panels(over) == ["inboard", "outboard"]
    along = Writer()
    along.line("masking", "outer", [(1200, 100), (1200, 900)])
    assert panels(along) == ["inboard", "outboard"]


def test_a_point_on_a_seam_is_on_both() -> None:
    w = Writer()
    w.points("finding", "outer", [(1200, 500)], what="dent")
    assert panels(w) == ["inboard", "outboard"]


def test_what_lies_on_a_panel_is_cut_out_once() -> None:
    """Maps, pictures and tables ask for the same shapes many times over."""
    w = Writer()
    w.line("masking", "outer", [(800, 500), (1250, 500)])
    book = book_of(w.made)
    sheet = Lookup(book).sheets(book.parts[0])[0]
    first = shapes_on(sheet, book.entries[0])
    assert first
    assert all(a is b for a, b in zip(first, shapes_on(sheet, book.entries[0]), strict=True))


def test_what_drawings_depend_on_is_seen_in_every_part_of_an_entry() -> None:
    """Each of these changes a drawing or a number; a note changes neither."""
    w = Writer()
    w.box("inspected area", "outer", (100, 100, 500, 500))
    entry = book_of(w.made).entries[0]
    outline = entry.outline
    assert outline is not None
    piece = Piece("item", outline.skin, outline.face, outline.shape, outline.drawn_area)
    entry = replace(entry, pieces=(piece,))
    moved = translate(outline.shape, 1e-3)
    others = (
        replace(entry, outline=replace(outline, shape=moved)),
        replace(entry, outline=replace(outline, face="inner"), pieces=()),
        replace(entry, outline=replace(outline, drawn_area=outline.drawn_area + 1.0)),
        replace(entry, pieces=(replace(piece, shape=moved),)),
        replace(entry, pieces=(replace(piece, item_id="other"),)),
        replace(entry, pieces=()),  # not what it is on the inner face
        replace(entry, state="closed"),
    )
    keys = [numbers_key([e])[0] for e in (entry, *others)]
    assert len(set(keys)) == len(keys)
    assert numbers_key([replace(entry, note="Looked at again.")]) == keys[:1]
