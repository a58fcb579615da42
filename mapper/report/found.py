"""Findings per m2 and how much of the sheet is affected, always with what they stand on."""

from __future__ import annotations

from mapper.report.model import Column, Table
from mapper.report.numbers import WHERE, PartNumbers, Row, place_of, where
from mapper.report.phrases import counted
from mapper.units import Units, rounded

BLANK = "not looked at"


def per_area(row: Row, units: Units) -> str:
    """ "1.67 /m² (0.046 to 9.3)", or words where nobody has looked."""
    if row.get("per_m2") is None:
        return BLANK
    return f"{units.show(row['per_m2'], '1/m2')} ({interval(row, units)})"


def interval(row: Row, units: Units) -> str:
    """The interval alone, without its unit; "up to" where it has one side."""
    high = rounded(units.number(row["per_m2_high"], "1/m2"), digits=2)
    if not row["per_m2_low"]:
        return f"up to {high}"
    return f"{rounded(units.number(row['per_m2_low'], '1/m2'), digits=2)} to {high}"


def affected(row: Row) -> str:
    """The share of the area looked at that is affected, or that nobody has looked.

    Findings drawn as points or lines have no area: a share without them is the least it may be, and
    none is given where there is nothing else.
    """
    percent = row.get("affected_percent")
    if percent is None:
        return BLANK
    shown = f"{rounded(percent, digits=2)} %" if percent else "0 %"
    if not without_area(row):
        return shown
    return f"at least {shown}" if percent else "not known"


def without_area(row: Row) -> int:
    """How many of the findings counted were drawn as points or lines."""
    return int(row.get("points") or 0) + int(row.get("lines") or 0)


def cells(row: Row, units: Units) -> tuple[str, str, str, str]:
    """Findings, area looked at, findings per area and share affected, as printed in a row."""
    if row.get("per_m2") is None:
        return ("-", BLANK, "-", "-")
    seen = units.show(row["inspected_mm2"], "mm2")
    return (str(row["findings"]), seen, per_area(row, units), affected(row))


def words(row: Row, units: Units) -> str:
    """The findings of one panel and face in a few sentences."""
    if not row:
        return "not counted"
    more = f" {row['warning']}" if row.get("warning") else ""
    if row.get("per_m2") is None:
        return f"Nobody has looked here, so nothing is known.{more}"
    seen = units.show(row["inspected_mm2"], "mm2")
    line = (
        f"{counted(row['findings'], 'finding')} in {seen} looked at ({row['techniques']}): "
        f"{per_area(row, units)}, {row['interval']}."
    )
    share = affected(row)
    line += (
        " How much of that area is affected is not known."
        if share == "not known"
        else f" {share[0].upper()}{share[1:]} of that area is affected."
    )
    bounded = row.get("affected_percent_high") is not None and not without_area(row)
    if row["not_looked_at_mm2"] and bounded:
        low = rounded(row["affected_percent_low"] or 0.0, digits=2)
        high = rounded(row["affected_percent_high"], digits=2)
        line += f" Of the whole face it may be {low} to {high} %: some of it nobody has seen."
    return line + more


def table(numbers: PartNumbers, units: Units, recorded: frozenset[tuple[str, str, str]]) -> Table:
    """A row per panel and face with something recorded."""
    rows = tuple(
        (*where(row), *cells(row, units)) for row in numbers.findings if place_of(row) in recorded
    )
    notes = [
        f"{', '.join(where(row))}: {row['warning']}" for row in numbers.findings if row["warning"]
    ]
    sorts = dict.fromkeys(r["interval"] for r in numbers.findings if r.get("per_m2") is not None)
    foot = [f"Intervals: {'; '.join(sorts)}."] if sorts else []
    foot.append(
        "Affected is of the area looked at. Where two intervals overlap, this record does not show "
        "that one panel is worse than the other."
    )
    return Table(
        "Findings over the area looked at",
        (
            *WHERE,
            Column("Findings", number=True, share=0.9),
            Column("Looked at", number=True),
            Column("Per area, and its interval", number=True, share=2.2),
            Column("Affected", number=True, share=1.1),
        ),
        rows,
        foot=(*foot, *notes),
        empty="Nothing is recorded to count.",
    )
