"""The numbers of one part, as plain values that can be kept: one look-up for all chapters.

Nothing is computed here. Areas come from the table of areas, what was done from the ledger,
findings and depths from theirs: the same functions as everywhere else.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from mapper.corrosion.depths import depth_table
from mapper.corrosion.findings import findings_table
from mapper.estimate.ledger import ledger, method_ledger
from mapper.estimate.regions import WHOLE
from mapper.job.book import Book
from mapper.job.partfile.table import area_table
from mapper.job.plain import to_plain
from mapper.job.records import Part
from mapper.report.cache import Cache, key_of
from mapper.report.figures import numbers_key
from mapper.report.lookup import Lookup, Sheet
from mapper.report.model import Column

if TYPE_CHECKING:
    from pandas import DataFrame

Row = Mapping[str, Any]
EMPTY: Row = {}
WHERE = (Column("Panel", share=1.9), Column("Face", share=0.9))


@dataclass(frozen=True)
class PartNumbers:
    """Rows of the tables of one part, by column name; () for a part without a shape."""

    areas: tuple[Row, ...] = ()
    ledger: tuple[Row, ...] = ()
    findings: tuple[Row, ...] = ()
    depths: tuple[Row, ...] = ()
    methods: tuple[Row, ...] = ()

    def done(self, sheet: Sheet) -> Row:
        """The row of the ledger for that panel and face; empty where there is none."""
        return _of(self.ledger, sheet)

    def found(self, sheet: Sheet) -> Row:
        """The row of the findings table."""
        return _of(self.findings, sheet)


def _of(rows: tuple[Row, ...], sheet: Sheet) -> Row:
    for row in rows:
        if place_of(row) == sheet.where:
            return row
    return EMPTY


def place_of(row: Row) -> tuple[str, str, str]:
    """Skin, panel and face of a row."""
    return row["skin"], row["panel"], row["face"]


def where(row: Row) -> tuple[str, str]:
    """The panel and the face of a row, as printed."""
    return (row["skin"] if row["panel"] in ("", WHOLE) else row["panel"], row["face"])


def rows_of(frame: DataFrame) -> list[dict[str, Any]]:
    """A table as plain rows: NaN and NaT become None, numpy numbers become Python's."""
    plain = frame.astype(object).where(frame.notna(), None)
    return [
        {str(k): v.item() if hasattr(v, "item") else v for k, v in row.items()}
        for row in plain.to_dict("records")
    ]


def part_numbers(book: Book, part: Part, lookup: Lookup, cache: Cache) -> PartNumbers:
    """The numbers of a part, found again while neither it nor its entries have changed."""
    geometry = lookup.geometry(part)
    if geometry is None:
        return PartNumbers()
    shape = key_of("areas", part.geometry)
    record = _record(book, part, lookup)
    areas = cache.value(shape, lambda: rows_of(area_table(geometry)))
    done = cache.value(
        record,
        lambda: {
            "ledger": rows_of(ledger(book, part.id)),
            "findings": rows_of(findings_table(book, part.id)),
            "depths": rows_of(depth_table(book, part.id)),
            "methods": rows_of(method_ledger(book, part.id)),
        },
    )
    rows = (tuple(done[name]) for name in ("ledger", "findings", "depths", "methods"))
    return PartNumbers(tuple(areas), *rows)


def are_kept(book: Book, part: Part, lookup: Lookup, cache: Cache) -> bool:
    """Whether the numbers of a part are there already; a part without a shape has none to make."""
    return not part.geometry or cache.has(_record(book, part, lookup), ".json")


def _record(book: Book, part: Part, lookup: Lookup) -> str:
    return key_of(
        "record", 3, part.geometry, to_plain(part), dict(book.shop.settings),
        numbers_key(lookup.entries(part)), [to_plain(i) for i in book.items],
        [to_plain(p) for p in book.positions if p.part_id == part.id],
        [to_plain(f) for f in book.finish_systems],
    )  # fmt: skip
