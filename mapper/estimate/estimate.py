"""The estimate of a job: litres, kilograms, hours and waste with low, middle and high.

Low and high come from trials in which every rate's range is put through the formulas (ranges.py);
middles are the formulas with the middles of the rates, so that they can be worked by hand, and add
up from panels to parts to the job. Lows and highs do not add up: not everything goes wrong at once.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from mapper.errors import MapperError
from mapper.estimate.advice import Advice
from mapper.estimate.cautions import Caution, cautions_for
from mapper.estimate.defaults import rates_of
from mapper.estimate.methods import ROWS
from mapper.estimate.put_in import Input, inputs_of
from mapper.estimate.quantities import (
    QUANTITIES,
    Amounts,
    PanelAmounts,
    panel_amounts,
    part_amounts,
    quantity_of,
    total,
)
from mapper.estimate.ranges import Trials, between
from mapper.estimate.regions import PartRegions, regions_of
from mapper.estimate.unknowns import Unknown, unknowns_of
from mapper.estimate.work import SCOPES, work_on
from mapper.job.book import Book
from mapper.late import Late
from mapper.units import Units

if TYPE_CHECKING:
    import pandas as pd
else:
    pd = Late("pandas")

FRAME = (
    "level",  # "panel", "part" or "job"
    "part_id",
    "part",
    "skin",
    "panel",
    "face",
    "quantity",
    "label",
    "unit",
    "within",  # the quantity it is a part of, "" for none
    "low",
    "middle",
    "high",
    "formula",
)

NOT_COUNTED = (
    "Hours of masking off, cleaning up, disposal, treatment, priming and painting.",
    "Hours of cleaning corrosion out, unless the shop has set its own rate (the setting "
    "estimate.corrosion_clean): they go by depth, by alloy and by what the inspector asks for, and "
    "corrosion turns up under sound paint. Blending and having it judged are never in it.",
    "Acid brightener and conversion coat on sheet that is not known to be aluminium.",
    f"Stripping by {', '.join(n for n in ROWS if n != 'chemical' and not ROWS[n].lines)}.",
    "Hand stripping of places a gel cannot go, repairs and new sheet.",
    "Faces and parts without a coat zone, and entries without an outline.",
    "Hidden surfaces of laps.",
)
# These need only areas and perimeters, whatever the coats are.
_NEVER_UNCERTAIN = {
    "stripped_area",
    "rinse",
    "tape",
    "rinse_water",
    "primed_area",
    "primer",
    "primer_mass",
    "corroded_area",
    "corrosion_clean",
    "brightener",
    "brightener_concentrate",
    "conversion",
    "topcoat",
    "topcoat_mass",
}
HOW = (
    "Low to high is a starting range, meant to hold 8 jobs of 10: it rests on defaults, many of "
    "them without a source, and nobody has checked it until the shop has logs of its own.",
    "A rate that is off is off everywhere: it is drawn once for all panels.",
    "Middles add up; lows and highs do not.",
)


@dataclass(frozen=True)
class Line:
    """One quantity. formula in words; inputs: the numbers put in; basis: one line per default that
    it rests on. certain False: coats are not known, so the middle is that of the trials."""

    quantity: str
    label: str
    unit: str
    within: str
    low: float
    middle: float
    high: float
    formula: str
    inputs: tuple[Input, ...] = ()
    basis: tuple[str, ...] = ()
    certain: bool = True


@dataclass(frozen=True)
class PanelEstimate:
    """One face of one panel. lines: () where nothing is to be done."""

    part_id: str
    part: str
    skin: str
    panel: str
    face: str
    advice: Advice
    lines: tuple[Line, ...]
    cautions: tuple[Caution, ...]
    unknowns: tuple[Unknown, ...]

    def line(self, quantity: str) -> Line | None:
        """The line of that quantity, None where there is none."""
        return next((n for n in self.lines if n.quantity == quantity), None)


@dataclass(frozen=True)
class PartEstimate:
    """One part: its faces in the part's order, and their sums with pots and line loss."""

    part_id: str
    part: str
    panels: tuple[PanelEstimate, ...]
    lines: tuple[Line, ...]
    unknowns: tuple[Unknown, ...]


@dataclass(frozen=True, eq=False)
class Sum:
    """What a part adds to its job: amounts by quantity with all their trials, and the names of the
    quantities of which some line is not certain."""

    amounts: Amounts
    uncertain: frozenset[str]


@dataclass(frozen=True)
class Estimate:
    """A job. scope: "whole" or "remaining". basis: every default in it; changed: those the shop has
    set; how, not_counted: sentences for the foot."""

    scope: str
    parts: tuple[PartEstimate, ...]
    lines: tuple[Line, ...]
    unknowns: tuple[Unknown, ...]
    cautions: tuple[Caution, ...]
    basis: tuple[str, ...]
    changed: tuple[str, ...]
    how: tuple[str, ...] = HOW
    not_counted: tuple[str, ...] = NOT_COUNTED

    def panel(self, part_id: str, skin: str, panel: str, face: str) -> PanelEstimate | None:
        """The estimate of one face of one panel, None where there is none."""
        for part in self.parts:
            for one in part.panels:
                if (one.part_id, one.skin, one.panel, one.face) == (part_id, skin, panel, face):
                    return one
        return None

    def frame(self) -> pd.DataFrame:
        """A row per line with the columns FRAME; units stand in the column `unit`."""
        rows = []
        for part in self.parts:
            for one in part.panels:
                where = ("panel", one.part_id, one.part, one.skin, one.panel, one.face)
                rows += [(*where, *_cells(line)) for line in one.lines]
            where = ("part", part.part_id, part.part, "", "", "")
            rows += [(*where, *_cells(line)) for line in part.lines]
        rows += [("job", "", "", "", "", "", *_cells(line)) for line in self.lines]
        return pd.DataFrame(rows, columns=list(FRAME))


def estimate(
    book: Book,
    part_ids: Iterable[str] | None = None,
    *,
    scope: str = "whole",
    trials: int | None = None,
) -> Estimate:
    """The estimate of a job, or of some of its parts (None: all), in the book's order.

    scope: "whole" (all coats as recorded) or "remaining" (what the goes recorded so far have left).
    trials: how many (None: 2000); the same book gives the same numbers every time. No parts, or no
    coat zones: no lines. MapperError for an unknown part or scope, or a setting that is refused.
    """
    wanted = [p.id for p in book.parts] if part_ids is None else list(dict.fromkeys(part_ids))
    draws = _draws(book, scope, trials)
    worked = [_part(regions_of(book, i), scope, draws) for i in wanted]
    parts = tuple(one for one, _ in worked)
    lines = _lines(total([s.amounts for _, s in worked]), draws, _unsure(s for _, s in worked),
                   Units(book.shop.units))  # fmt: skip
    cautions = dict.fromkeys(c for p in parts for one in p.panels for c in one.cautions)
    return Estimate(
        scope,
        parts,
        lines,
        tuple(u for p in parts for u in p.unknowns),
        tuple(cautions) or cautions_for(),
        basis_of(book, lines),
        draws.rates.changed,
    )


def estimate_part(
    book: Book, part_id: str, *, scope: str = "whole", trials: int | None = None
) -> tuple[PartEstimate, Sum]:
    """One part of `estimate`, to be kept while nothing on that part changes, and what `job_lines`
    needs of it. MapperError as there."""
    return _part(regions_of(book, part_id), scope, _draws(book, scope, trials))


def job_lines(book: Book, sums: Iterable[Sum], *, trials: int | None = None) -> tuple[Line, ...]:
    """The lines of `estimate` for the whole job from the sums of its parts, in the book's order and
    all of as many trials; () where there are none."""
    sums = tuple(sums)
    draws = _draws(book, "whole", trials)
    return _lines(total([s.amounts for s in sums]), draws, _unsure(sums), Units(book.shop.units))


def basis_of(book: Book, lines: Iterable[Line]) -> tuple[str, ...]:
    """Every default that some lines rest on, in words, in the order of the table of defaults."""
    used = {name for line in lines for name in _rests_on(line.quantity)}
    units = Units(book.shop.units)
    rates = rates_of(book.shop.settings)
    return tuple(rate.words(units) for name, rate in rates.items() if name in used)


def changed_of(book: Book) -> tuple[str, ...]:
    """Names of the defaults that the shop has set itself."""
    return rates_of(book.shop.settings).changed


def _draws(book: Book, scope: str, trials: int | None) -> Trials:
    if scope not in SCOPES:
        raise MapperError(f"The scope is {scope!r}.", f"It is one of {', '.join(SCOPES)}.")
    rates = rates_of(book.shop.settings)
    return Trials(rates) if trials is None else Trials(rates, trials)


def _cells(line: Line) -> tuple[str | float, ...]:
    return (
        line.quantity,
        line.label,
        line.unit,
        line.within,
        line.low,
        line.middle,
        line.high,
        line.formula,
    )


def _part(part: PartRegions, scope: str, draws: Trials) -> tuple[PartEstimate, Sum]:
    name = part.book.part(part.part_id).name
    tolerance = part.geometry.tolerance.percent if part.geometry else 0.0
    units = Units(part.book.shop.units)
    unknowns = unknowns_of(part)
    worked = [panel_amounts(w, draws, tolerance) for w in work_on(part, scope)]
    panels = tuple(_panel(part, name, one, draws, unknowns) for one in worked)
    amounts = total([one.amounts for one in worked])
    if amounts:
        amounts |= part_amounts(amounts, draws)
    lines = _lines(amounts, draws, _uncertain(panels), units)
    made = PartEstimate(part.part_id, name, panels, lines, unknowns)
    return made, Sum(amounts, frozenset(_uncertain([made])))


def _panel(
    part: PartRegions,
    name: str,
    one: PanelAmounts,
    draws: Trials,
    unknowns: tuple[Unknown, ...],
) -> PanelEstimate:
    face = one.work.face
    units = Units(part.book.shop.units)
    sure = all(middle is not None for middle, _ in one.zones)
    uncertain = set() if sure else set(QUANTITIES) - _NEVER_UNCERTAIN
    busy = bool(one.work.zones) or one.work.primer_area > 0.0
    advice = one.work.advice
    # A method whose hours are printed has its cautions printed too.
    methods = (advice.method, *(m for m in advice.open_to if ROWS[m].lines))
    found = [
        cautions_for(
            method=method,
            panel=face.sheet,
            bearings_inside=bool(part.geometry and part.geometry.bearings_inside),
            control_surface=_moves(part),
        )
        for method in methods
    ]
    cautions = tuple(dict.fromkeys(c for group in found for c in group))
    return PanelEstimate(
        part.part_id,
        name,
        *face.where,
        advice,
        _lines(one.amounts, draws, uncertain, units, one) if busy else (),
        cautions if busy else (),
        tuple(u for u in unknowns if (u.skin, u.panel, u.face) == face.where),
    )


def _moves(part: PartRegions) -> bool:
    """True for a control surface: a part that has a hinge line."""
    return part.geometry is not None and any(m.kind == "hinge line" for m in part.geometry.lines)


def _uncertain(estimates: Iterable[PanelEstimate | PartEstimate]) -> set[str]:
    """Names of the quantities of which some line is not certain."""
    return {line.quantity for one in estimates for line in one.lines if not line.certain}


def _unsure(sums: Iterable[Sum]) -> set[str]:
    return {name for one in sums for name in one.uncertain}


def _rests_on(quantity: str) -> tuple[str, ...]:
    return quantity_of(quantity).rests_on


def _lines(
    amounts: Amounts,
    draws: Trials,
    uncertain: set[str],
    units: Units,
    panel: PanelAmounts | None = None,
) -> tuple[Line, ...]:
    """A line per amount, in the order of the tables; () where there are none or all are nothing."""
    if not any(a.middle > 0.0 for a in amounts.values()):
        return ()
    lines = []
    for name, amount in amounts.items():
        q = quantity_of(name)
        span = between(amount.trials, amount.middle)
        lines.append(
            Line(
                name,
                q.label,
                q.unit,
                q.within,
                span.low,
                span.middle,
                span.high,
                q.formula,
                () if panel is None else inputs_of(q, panel, draws.rates),
                tuple(draws.rates[n].words(units) for n in q.rests_on),
                name not in uncertain,
            )
        )
    return tuple(lines)
