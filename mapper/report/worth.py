"""The estimate as printed: all of the work beside what is still to do, with formula and basis."""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from mapper.estimate import told
from mapper.estimate.cautions import cautions_for
from mapper.estimate.estimate import (
    HOW,
    NOT_COUNTED,
    Line,
    PartEstimate,
    Sum,
    basis_of,
    changed_of,
    estimate_part,
    job_lines,
)
from mapper.estimate.methods import LINES
from mapper.estimate.quantities import Amount
from mapper.estimate.told import like_whole
from mapper.job.book import Book
from mapper.job.plain import to_plain
from mapper.job.records import Part
from mapper.report.cache import Cache, key_of
from mapper.report.figures import numbers_key
from mapper.report.lookup import Lookup, Sheet
from mapper.report.model import Block, Bullets, Column, Section, Table, Words
from mapper.units import Units

COLUMNS = (
    Column("What", share=2.7),
    Column("All of it", number=True),
    Column("Low to high", number=True, share=1.5),
    Column("Still to do", number=True),
    Column("Low to high", number=True, share=1.5),
)
# What is shown of one panel; what these are made of stands in the sums of its part.
MAIN = (
    "stripped_area", "stripper", "labour", "dwell", "sludge", "rinse_water",
    "corroded_area", "corrosion_clean", "brightener", "conversion", "primer", "topcoat",
)  # fmt: skip
# What the owner asks for first, by part.
FIRST = ("stripped_area", "labour", "stripper", "sludge", "rinse_water")
FIRST_HEADS = ("Area to strip", "Hours", "Stripper", "Sludge", "Rinse water")
UNSURE = (
    "* Coats not known: the middle is that of the trials, one for each line, so that such middles "
    "need not follow from each other by the formulas."
)
SCOPES = (
    '"All of it" is the work as if nothing were done yet; "still to do" is what the goes recorded '
    "so far have left. A go whose result is not written down counts as having taken nothing off. A "
    "place where a share of a coat is left counts in full as area to strip and to rinse, and by "
    "that share in the rest."
)
NO_ZONE = (
    "Parts without a coat zone, or without a shape, are not in it: nothing is said of the work."
)
INSTEAD = "Instead of chemical stripping, where the sheet allows it"
NOT_ADDED = (
    "These are not added to the lines above: each is what that method would take on all sheet that "
    "it is open to, in place of gel. Try it on a patch first; the inspector decides."
)
NOTHING_LEFT = "nothing left"
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
        lines = _gel(part["lines"])
        rows = tuple(_cells(row) for row in lines)
        foot = (
            *_unsure(lines),
            SCOPES,
            f'Formulas: "{JOB}". The numbers in them stand with each panel.',
        )
        table = Table("What the whole part takes", COLUMNS, rows, foot=foot, small=True)
        return (table, *_instead(part["lines"]))

    def of_sheet(self, sheet: Sheet) -> tuple[Block, ...]:
        """The main lines of one panel and face with the numbers in each; nothing for no work."""
        part = self.data["parts"].get(sheet.part.id, {"panels": []})
        where = [sheet.skin.name, sheet.panel, sheet.face]
        for panel in part["panels"]:
            if panel["where"] == where and panel["lines"]:
                lines = [r for r in panel["lines"] if r["any"] and r["quantity"] in MAIN]
                table = Table(
                    "What it takes: all of it, and what is still to do",
                    COLUMNS,
                    tuple(_cells(row) for row in lines),
                    details=tuple(self._detail(row) for row in lines),
                    foot=(
                        *_unsure(lines),
                        f'Numbers in [ ] are rows of "What it rests on" under "{JOB}"; what counts '
                        "as done is said there too.",
                    ),
                )
                others = _others(panel["lines"])
                return (Words(f"Method: {panel['advice']}"), table, *others)
        return ()

    def _detail(self, row: Mapping[str, Any]) -> str:
        """The formula of a line, the numbers put in, and what they rest on by number."""
        words = row["formula"]
        if row["inputs"]:
            words += f": {', '.join(row['inputs'])}"
        # Rates are the same for both; what differs is how much there is to work on.
        left = [text for text in row["inputs_left"] if text not in row["inputs"]]
        if left:
            words += f"; still to do: {', '.join(left)}"
        known = self.data["basis"]
        rests = sorted(known.index(text) + 1 for text in row["basis"] if text in known)
        return f"{words} [{', '.join(map(str, rests))}]" if rests else words

    def cautions(self) -> tuple[tuple[str, str], ...]:
        """Every caution of the estimate, with its source."""
        return tuple((text, source) for text, source in self.data["cautions"])

    def brief(self) -> tuple[Table, ...]:
        """Hours, litres and waste of the job for its first page; () where nothing can be said."""
        lines = {row["quantity"]: row["cells"] for row in self.data["lines"] if row["any"]}
        rows = tuple(tuple(lines[name]) for name in FIRST if name in lines)
        foot = (
            f'Starting values, and what is not counted: "{JOB}". {NO_ZONE} A place where a share '
            "of a coat is left counts in full as area still to strip. Hours are those of "
            "stripping: cleaning corrosion out, priming and painting are not in them.",
        )
        return (Table("What stripping takes", COLUMNS, rows, foot=foot),) if rows else ()

    def section(self, lookup: Lookup) -> Section:
        """The sums of the whole job, what they rest on, and what they leave out."""
        data = self.data
        if not data["lines"]:
            words = (
                "No coat zone is recorded on a part with a shape, so nothing can be estimated. "
                "Record what is on each face, or that nobody knows."
            )
            return Section(JOB, 1, (Words(words, "gap"),), True)
        lines = _gel(data["lines"])
        table = Table(
            "All parts together: all of it, and what is still to do",
            COLUMNS,
            tuple(_cells(row) for row in lines),
            details=tuple(row["formula"] for row in lines),
            foot=(*_unsure(lines), SCOPES, *data["how"]),
        )
        basis = (text.partition(": ") for text in data["basis"])
        rests = Table(
            "What it rests on",
            (Column("No.", share=0.5), Column("Starting value", share=5), Column("Basis", share=4)),
            tuple((str(i), value, source) for i, (value, _, source) in enumerate(basis, 1)),
            small=True,
        )
        changed = data["changed"]
        own = ", ".join(changed) if changed else "none; all are starting values"
        return Section(
            JOB,
            1,
            (
                table,
                *_instead(data["lines"], formulas=True),
                self._by_part(lookup),
                Words("Not counted", "label"),
                Bullets(tuple(data["not_counted"])),
                rests,
                Words(f"Values the shop has set itself: {own}.", "quiet"),
            ),
        )

    def _by_part(self, lookup: Lookup) -> Table:
        """Part by part what the owner asks for first: all, and below it what is still to do."""
        rows = []
        for part in lookup.book.parts:
            found = self.data["parts"].get(part.id, {"lines": []})
            lines = {row["quantity"]: row["cells"] for row in found["lines"] if row["any"]}
            if any(name in lines for name in FIRST):
                pairs = ((lines[n][1], lines[n][3]) if n in lines else ("-", "-") for n in FIRST)
                rows.append((part.name, *("\n".join(pair) for pair in pairs)))
        return Table(
            "Part by part, middles: all of it, and below that what is still to do",
            (Column("Part", share=2), *(Column(head, number=True) for head in FIRST_HEADS)),
            tuple(rows),
            foot=(NO_ZONE,),
        )  # fmt: skip


def _gel(rows: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """The lines of chemical stripping and what follows it, of those that are not nothing."""
    return [row for row in rows if row["any"] and row["quantity"] not in LINES]


def _instead(rows: Sequence[Mapping[str, Any]], formulas: bool = False) -> tuple[Table, ...]:
    """What other methods would take, apart, because it is in place of the rest and not beside it;
    () where none is open."""
    found = [row for row in rows if row["any"] and row["quantity"] in LINES]
    if not found:
        return ()
    cells = tuple(tuple(row["cells"]) for row in found)
    details = tuple(row["formula"] for row in found) if formulas else ()
    return (Table(INSTEAD, COLUMNS, cells, details=details, foot=(NOT_ADDED,), small=True),)


def _others(rows: Sequence[Mapping[str, Any]]) -> tuple[Words, ...]:
    """The same of one panel in a sentence a method, what is still to do."""
    said: dict[str, list[str]] = {}
    for row in rows:
        if row["any"] and row["quantity"] in LINES and row["cells"][4]:
            method, _, what = row["cells"][0].partition(": ")
            said.setdefault(method, []).append(f"{what} {row['cells'][3]} ({row['cells'][4]})")
    texts = "; or by ".join(f"{method}: {', '.join(all_)}" for method, all_ in said.items())
    return (Words(f"Still to do, in place of gel: by {texts}.", "quiet"),) if said else ()


def _unsure(rows: Sequence[Mapping[str, Any]]) -> tuple[str, ...]:
    """What a * in these rows means; () where there is none."""
    return () if all(row["certain"] for row in rows) else (UNSURE,)


def _cells(row: Mapping[str, Any]) -> tuple[str, ...]:
    what, *values = row["cells"]
    return (what if row["certain"] else f"{what} *", *values)


def worth_of(book: Book, units: Units, cache: Cache) -> Worth:
    """The estimate of a job, found again while nothing it rests on has changed; after a change on
    one part only that part is worked again."""
    keys = {part.id: _key(book, part, units) for part in book.parts}

    def made() -> dict[str, Any]:
        return _job(book, {p: part_worth(book, p, key, units, cache) for p, key in keys.items()},
                    units)  # fmt: skip

    return Worth(cache.value(key_of("estimate", 3, list(keys.values())), made))


def ahead(book: Book, part: Part, units: Units, cache: Cache) -> None:
    """Works the estimate of one part, so that `worth_of` finds it."""
    part_worth(book, part.id, _key(book, part, units), units, cache)


def _key(book: Book, part: Part, units: Units) -> str:
    """What the estimate of a part rests on: the part, its entries, and what they name."""
    return key_of(
        "estimate of a part", 3, units.system, dict(book.shop.settings), to_plain(part),
        numbers_key(book.entries_of(part.id)), [to_plain(i) for i in book.items],
        [to_plain(p) for p in book.positions if p.part_id == part.id],
        [to_plain(f) for f in book.finish_systems],
    )  # fmt: skip


def part_worth(book: Book, part_id: str, key: str, units: Units, cache: Cache) -> Mapping[str, Any]:
    """The texts of one part's estimate, all of it beside what is left, its cautions, and what it
    adds to the job."""

    def made() -> dict[str, Any]:
        whole, sum_ = estimate_part(book, part_id)
        left, sum_left = estimate_part(book, part_id, scope="remaining")
        cautions = dict.fromkeys(c for one in whole.panels for c in one.cautions)
        return {
            "texts": _part_texts(whole, left, units),
            "cautions": [[c.text, c.source] for c in cautions],
            "sums": [_packed(sum_), _packed(sum_left)],
        }

    return cache.value(key, made)


def _packed(one: Sum) -> dict[str, Any]:
    """A sum as a JSON value that comes back to the last bit; trials that are all 0 as None."""
    return {
        "uncertain": sorted(one.uncertain),
        "amounts": {
            name: [a.middle, base64.b64encode(a.trials.astype("<f8")).decode()
                   if a.trials.any() else len(a.trials)]
            for name, a in one.amounts.items()
        },
    }  # fmt: skip


def _unpacked(plain: Mapping[str, Any]) -> Sum:
    amounts = {
        name: Amount(middle, np.zeros(trials) if isinstance(trials, int)
                     else np.frombuffer(base64.b64decode(trials), "<f8"))
        for name, (middle, trials) in plain["amounts"].items()
    }  # fmt: skip
    return Sum(amounts, frozenset(plain["uncertain"]))


def _job(book: Book, parts: Mapping[str, Mapping[str, Any]], units: Units) -> dict[str, Any]:
    """The estimate of a job as JSON values, numbers as text in the shop's units."""
    whole, left = (
        job_lines(book, [_unpacked(part["sums"][i]) for part in parts.values()]) for i in (0, 1)
    )
    cautions = dict.fromkeys(tuple(c) for part in parts.values() for c in part["cautions"])
    return {
        "lines": _lines(whole, left, units),
        "basis": list(basis_of(book, whole)),
        "how": list(HOW),
        "not_counted": list(NOT_COUNTED),
        "changed": list(changed_of(book)),
        "cautions": [list(c) for c in cautions] or [[c.text, c.source] for c in cautions_for()],
        "parts": {part_id: part["texts"] for part_id, part in parts.items()},
    }


def _part_texts(made: PartEstimate, left: PartEstimate, units: Units) -> dict[str, Any]:
    """The lines of one part and its panels, all of the work beside what remains."""
    return {
        "lines": _lines(made.lines, left.lines, units),
        "unknowns": [asdict(u) for u in made.unknowns],
        "panels": [
            {
                "where": [one.skin, one.panel, one.face],
                "advice": one.advice.words,
                "lines": _lines(one.lines, rest.lines, units),
            }
            for one, rest in zip(made.panels, left.panels, strict=True)
        ],
    }


def _lines(whole: Sequence[Line], left: Sequence[Line], units: Units) -> list[dict[str, Any]]:
    rest = {line.quantity: line for line in left}
    return [_line(line, rest.get(line.quantity), units) for line in whole]


def _line(line: Line, left: Line | None, units: Units) -> dict[str, Any]:
    label = f"of this: {line.label}" if line.within else line.label
    rest = span(left, units, line) if left is not None and left.high > 0 else (NOTHING_LEFT, "")
    return {
        "quantity": line.quantity,
        "cells": [label, *span(line, units), *rest],
        "any": line.high > 0,
        "formula": line.formula,
        "inputs": [one.words(units) for one in line.inputs],
        "inputs_left": [one.words(units) for one in left.inputs] if left is not None else [],
        "basis": list(line.basis),
        "certain": line.certain,
    }


def span(line: Line, units: Units, whole: Line | None = None) -> tuple[str, str]:
    """The middle of a line to the digits that its range leaves, and its low to high:
    ("12 L", "9.8 to 16 L"). whole: the line of all the work, whose unit it is told in."""
    like = None if whole is None else like_whole(whole.middle, line.middle)
    return told.span(line.low, line.middle, line.high, line.unit, units, like)
