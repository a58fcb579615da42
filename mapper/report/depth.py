"""Depths of corrosion and wear, what they leave of the sheet, and the limit entered for it."""

from __future__ import annotations

from mapper.corrosion.settings import counting_of
from mapper.corrosion.thickness import HALF_WIDTH
from mapper.report.lookup import Lookup
from mapper.report.model import Column, Table
from mapper.report.numbers import WHERE, PartNumbers, Row, where
from mapper.units import Units

COLUMNS = (
    Column("Entry", share=0.7),
    *WHERE,
    Column("Depth", number=True, share=1.5),
    Column("Gauge", number=True, share=1.5),
    Column("Remaining", number=True, share=1.5),
    Column("Limit", number=True, share=1.1),
    Column("Remaining is", share=1.6),
)


def table(numbers: PartNumbers, units: Units, lookup: Lookup) -> tuple[Table, ...]:
    """A row for each finding that takes metal off; () where there is none.

    An answer is given only where a limit was entered; it is never a decision on the finding.
    """
    if not numbers.depths:
        return ()
    rows = tuple(_cells(row, units, lookup) for row in numbers.depths)
    details = tuple(_detail(row, units) for row in numbers.depths)
    factor = counting_of(lookup.book.shop.settings).factor
    foot = (
        "The latest valid depth counts. ± is a 95 % half-width. Remaining is the gauge less the "
        "depth, and less what lies over it on the other face. It is said to be above or below the "
        f"limit when it is {factor:g} standard deviations clear of it (common practice, no "
        "source); a nominal gauge without its tolerance says neither.",
        "Whether a depth may stay is a licensed person's decision against the approved data.",
    )
    return (Table("Depths and what remains", COLUMNS, rows, foot=foot, details=details),)


def _cells(row: Row, units: Units, lookup: Lookup) -> tuple[str, ...]:
    return (
        lookup.number.get(row["entry"], "-"),
        *where(row),
        _length(row["depth_mm"], row["depth_plus_minus_mm"], units, "not measured"),
        _length(row["gauge_mm"], row["gauge_plus_minus_mm"], units, "not known"),
        _length(row["remaining_mm"], _half(row["remaining_sd_mm"]), units, "not known"),
        _length(row["limit_mm"], None, units, "none entered"),
        answer(row),
    )


def answer(row: Row) -> str:
    """The answer in words that stand alone: "above the limit", "below the limit", or why not."""
    if row["answer"]:
        return f"{row['answer']} the limit" if row["answer"] == "below" else str(row["answer"])
    return "no limit to compare with" if row["limit_mm"] is None else "cannot be worked out"


def _half(deviation: float | None) -> float | None:
    """A reader is shown 95 %, as depths and gauges are entered."""
    return None if deviation is None else deviation * HALF_WIDTH


def _length(value: float | None, plus_minus: float | None, units: Units, none: str) -> str:
    return none if value is None else units.measured(value, plus_minus, "mm")


def _detail(row: Row, units: Units) -> str:
    """What a reader has to know beside the numbers, in one line."""
    words = [
        f"depth {row['depth_is']}" if row["depth_is"] else "",
        row["grade"] and f"grade {row['grade']}",
        f"gauge {row['gauge_is']}" if row["gauge_mm"] is not None else "",
        f"limit from {row['limit_from']}" if row["limit_from"] else "",
    ]
    if row["worst_mm"] is not None and row["worst_mm"] != row["depth_mm"]:
        words.append(f"deepest ever measured {units.show(row['worst_mm'], 'mm')}")
    if row["other_face_mm"]:
        words.append(f"other face {units.show(row['other_face_mm'], 'mm')} deep, taken off too")
    line = "; ".join(w for w in words if w)
    return f"{line}. {row['note']}".strip() if row["note"] else line
