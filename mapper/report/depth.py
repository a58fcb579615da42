"""Depths of corrosion and wear, what they leave of the sheet, and the limit entered for it."""

from __future__ import annotations

from mapper.corrosion import wording
from mapper.corrosion.settings import counting_of
from mapper.report.lookup import Lookup
from mapper.report.model import Column, Table
from mapper.report.numbers import PartNumbers, Row, where
from mapper.units import Units

COLUMNS = (
    Column("Entry", share=0.6),
    Column("Panel", share=1.9),
    Column("Face", share=0.8),
    Column("Depth", number=True, share=1.75),
    Column("Gauge", number=True, share=1.75),
    Column("Remaining", number=True, share=1.75),
    Column("Limit", number=True, share=1.4),
    Column("Remaining is", share=2.9),
)


def table(numbers: PartNumbers, units: Units, lookup: Lookup) -> tuple[Table, ...]:
    """A row for each finding that takes metal off; () where there is none.

    An answer is given only where a limit was entered; it is never a decision on the finding.
    """
    if not numbers.depths:
        return ()
    rows = tuple(_cells(row, units, lookup) for row in numbers.depths)
    details = tuple(wording.detail(row, units) for row in numbers.depths)
    factor = counting_of(lookup.book.shop.settings).factor
    foot = (wording.how(factor), wording.DECISION)
    return (Table("Depths and what remains", COLUMNS, rows, foot=foot, details=details),)


def _cells(row: Row, units: Units, lookup: Lookup) -> tuple[str, ...]:
    return (
        lookup.number.get(row["entry"], "-"),
        *where(row),
        wording.depth(row, units),
        wording.gauge(row, units),
        wording.remaining(row, units),
        wording.limit(row, units),
        wording.answer(row),
    )
