"""The estimate as printed: low, middle, high, the formula with its numbers, and its basis."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from mapper.estimate.estimate import Estimate, Line, estimate
from mapper.job.book import Book
from mapper.job.plain import to_plain
from mapper.report.cache import Cache, key_of
from mapper.report.figures import numbers_key
from mapper.report.lookup import Sheet
from mapper.report.model import Block, Bullets, Column, Section, Table, Words
from mapper.units import Units

COLUMNS = (
    Column("What", share=3),
    Column("Low", number=True),
    Column("Middle", number=True),
    Column("High", number=True),
)
# What is shown of one panel; what these are made of stands in the sums of its part.
MAIN = ("stripped_area", "stripper", "labour", "dwell", "sludge", "rinse_water", "primer")
UNSURE = "* Coats not known: the middle is that of the trials."
JOB = "Estimate of the job"


@dataclass(frozen=True)
class Worth:
    """The estimate of a job as plain text: `data` is what `texts` gave, from a cache or not."""

    data: Mapping[str, Any]

    def gaps(self, part_id: str) -> list[dict[str, Any]]:
        """What is not known on a part, as dictionaries of `Unknown`; [] for an unknown part."""
        return list(self.data["parts"].get(part_id, {}).get("unknowns", []))

    def of_part(self, part_id: str) -> tuple[Block, ...]:
        """The sums of a part; nothing where nothing is to be done."""
        part = self.data["parts"].get(part_id)
        if not part or not part["lines"]:
            return ()
        rows = tuple(tuple(row["cells"]) for row in part["lines"] if row["any"])
        foot = (f'Formulas: "{JOB}". The numbers in them stand with each panel.',)
        return (
            Table(
                "What the whole part takes, as if nothing were done yet",
                COLUMNS,
                rows,
                foot=foot,
                small=True,
            ),
        )

    def of_sheet(self, sheet: Sheet) -> tuple[Block, ...]:
        """The main lines of one panel and face with the numbers in each; nothing for no work."""
        part = self.data["parts"].get(sheet.part.id, {"panels": []})
        where = [sheet.skin.name, sheet.panel, sheet.face]
        for panel in part["panels"]:
            if panel["where"] == where and panel["lines"]:
                lines = [r for r in panel["lines"] if r["any"] and r["quantity"] in MAIN]
                table = Table(
                    "What it takes, as if nothing were done yet",
                    COLUMNS,
                    tuple(_cells(row) for row in lines),
                    details=tuple(self._detail(row) for row in lines),
                    foot=(
                        *((UNSURE,) if any(not row["certain"] for row in lines) else ()),
                        f'Numbers in [ ]: see "What it rests on" under "{JOB}".',
                    ),
                )
                return (Words(f"Method: {panel['advice']}"), table)
        return ()

    def _detail(self, row: Mapping[str, Any]) -> str:
        """The formula of a line, the numbers put in, and what they rest on by number."""
        words = row["formula"]
        if row["inputs"]:
            words += f": {', '.join(row['inputs'])}"
        known = self.data["basis"]
        rests = [str(known.index(text) + 1) for text in row["basis"] if text in known]
        return f"{words} [{', '.join(rests)}]" if rests else words

    def cautions(self) -> tuple[tuple[str, str], ...]:
        """Every caution of the estimate, with its source."""
        return tuple((text, source) for text, source in self.data["cautions"])

    def section(self) -> Section:
        """The sums of the whole job, what they rest on, and what they leave out."""
        data = self.data
        if not data["lines"]:
            words = (
                "No coat zone is recorded on a part with a shape, so nothing can be estimated. "
                "Record what is on each face, or that nobody knows."
            )
            return Section(JOB, 1, (Words(words, "gap"),), True)
        lines = [row for row in data["lines"] if row["any"]]
        table = Table(
            "All parts together, as if nothing were done yet",
            COLUMNS,
            tuple(tuple(row["cells"]) for row in lines),
            details=tuple(row["formula"] for row in lines),
            foot=tuple(data["how"]),
        )
        basis = (text.partition(": ") for text in data["basis"])
        rests = Table(
            "What it rests on",
            (Column("No.", share=0.5), Column("Starting value", share=5), Column("Basis", share=4)),
            tuple((str(i), value, source) for i, (value, _, source) in enumerate(basis, 1)),
            small=True,
        )
        changed = data["changed"]
        own = ", ".join(changed) if changed else "none: all are starting values"
        return Section(
            JOB,
            1,
            (
                table,
                Words("Not counted", "label"),
                Bullets(tuple(data["not_counted"])),
                rests,
                Words(f"Values the shop has set itself: {own}.", "quiet"),
            ),
            True,
        )


def _cells(row: Mapping[str, Any]) -> tuple[str, ...]:
    what, *values = row["cells"]
    return (what if row["certain"] else f"{what} *", *values)


def worth_of(book: Book, units: Units, cache: Cache) -> Worth:
    """The estimate of a job, found again while nothing it rests on has changed."""
    records = (
        *book.parts, *book.items, *book.positions, *book.finish_systems
    )  # fmt: skip
    key = key_of(
        "estimate", units.system, numbers_key(book.entries), dict(book.shop.settings),
        [to_plain(r) for r in records], sorted(book.geometries),
    )  # fmt: skip
    return Worth(cache.value(key, lambda: texts(estimate(book), units)))


def texts(made: Estimate, units: Units) -> dict[str, Any]:
    """An estimate as JSON values, numbers as text in the shop's units."""
    return {
        "lines": [_line(line, units) for line in made.lines],
        "basis": list(made.basis),
        "how": list(made.how),
        "not_counted": list(made.not_counted),
        "changed": list(made.changed),
        "cautions": [[c.text, c.source] for c in made.cautions],
        "parts": {
            part.part_id: {
                "lines": [_line(line, units) for line in part.lines],
                "unknowns": [asdict(u) for u in part.unknowns],
                "panels": [
                    {
                        "where": [one.skin, one.panel, one.face],
                        "advice": one.advice.words,
                        "lines": [_line(line, units) for line in one.lines],
                    }
                    for one in part.panels
                ],
            }
            for part in made.parts
        },
    }


def _line(line: Line, units: Units) -> dict[str, Any]:
    label = f"of this: {line.label}" if line.within else line.label
    values = (line.low, line.middle, line.high)
    return {
        "quantity": line.quantity,
        "cells": [label, *(quantity(value, line.unit, units) for value in values)],
        "any": line.high > 0,
        "formula": line.formula,
        "inputs": [one.words(units) for one in line.inputs],
        "basis": list(line.basis),
        "certain": line.certain,
    }


def quantity(value: float, unit: str, units: Units) -> str:
    """A quantity with its unit; things that are counted have no decimals."""
    return f"{value:.0f}" if not unit and value == round(value) else units.show(value, unit)
