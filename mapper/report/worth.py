"""The estimate as printed: low, middle, high, the formula with its numbers, and its basis."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from mapper.estimate.estimate import Estimate, Line, estimate
from mapper.job.book import Book
from mapper.job.plain import to_plain
from mapper.report.cache import Cache, key_of
from mapper.report.lookup import Sheet
from mapper.report.model import Block, Bullets, Column, Section, Table, Warnings, Words
from mapper.units import Units

COLUMNS = (
    Column("What", share=1.6),
    Column("Low", number=True, share=0.95),
    Column("Middle", number=True, share=0.95),
    Column("High", number=True, share=0.95),
    Column("How it is worked out", share=3.6),
)
SUM_COLUMNS = (*COLUMNS[:4], Column("How it is worked out", share=2.6))
UNSURE = "coats not known: the middle is that of the trials"


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
        rows = tuple((*row["cells"], row["formula"]) for row in part["lines"])
        foot = tuple(self.data["how"])
        return (Table("What the whole part takes", SUM_COLUMNS, rows, foot=foot),)

    def of_sheet(self, sheet: Sheet) -> tuple[Block, ...]:
        """The estimate of one panel and face, with every number in it; nothing for no work."""
        part = self.data["parts"].get(sheet.part.id, {"panels": []})
        where = [sheet.skin.name, sheet.panel, sheet.face]
        for panel in part["panels"]:
            if panel["where"] == where and panel["lines"]:
                lines = [row for row in panel["lines"] if row["any"]]
                rows = tuple(_row(row) for row in lines)
                basis = dict.fromkeys(word for row in lines for word in row["basis"])
                table = Table(
                    "What it takes",
                    COLUMNS,
                    rows,
                    foot=("What it rests on, by source:", *by_source(basis)),
                )
                return (Words(f"Method: {panel['advice']}"), table)
        return ()

    def section(self) -> Section:
        """The sums of the whole job, what they rest on, and what they leave out."""
        data = self.data
        if not data["lines"]:
            words = (
                "No coat zone is recorded on a part with a shape, so nothing can be estimated. "
                "Record what is on each face, or that nobody knows."
            )
            return Section("Estimate of the job", 1, (Words(words, "gap"),), True)
        rows = tuple((*row["cells"], row["formula"]) for row in data["lines"])
        changed = data["changed"]
        own = ", ".join(changed) if changed else "none: all are starting values"
        return Section(
            "Estimate of the job",
            1,
            (
                Table("All parts together", SUM_COLUMNS, rows, foot=tuple(data["how"])),
                Words("Not counted", "label"),
                Bullets(tuple(data["not_counted"])),
                Words("What it rests on", "label"),
                Bullets(tuple(data["basis"])),
                Words(f"Values the shop has set itself: {own}.", "quiet"),
                Warnings(tuple((text, source) for text, source in data["cautions"])),
            ),
            True,
        )


def by_source(basis: Iterable[str]) -> tuple[str, ...]:
    """One sentence for each source, with the values that rest on it."""
    found: dict[str, list[str]] = {}
    for words in basis:
        value, _, source = words.partition(": ")
        found.setdefault(source, []).append(value)
    return tuple(
        f"{source[:1].upper()}{source[1:]}: {'; '.join(values)}."
        for source, values in sorted(found.items(), key=lambda pair: -len(pair[1]))
    )


def _row(row: Mapping[str, Any]) -> tuple[str, ...]:
    words = [row["formula"]]
    if row["inputs"]:
        words.append("with " + ", ".join(row["inputs"]))
    if not row["certain"]:
        words.append(UNSURE)
    return (*row["cells"], "\n".join(words))


def worth_of(book: Book, units: Units, cache: Cache) -> Worth:
    """The estimate of a job, found again while nothing it rests on has changed."""
    records = (
        *book.parts, *book.entries, *book.items, *book.positions, *book.finish_systems
    )  # fmt: skip
    key = key_of(
        "estimate", units.system, dict(book.shop.settings), [to_plain(r) for r in records],
        sorted(book.geometries),
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
