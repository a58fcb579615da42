"""What lies on a panel: lines and points at its seam too, but not a line that only ends there."""

from __future__ import annotations

from mapper.report.lookup import Lookup
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
