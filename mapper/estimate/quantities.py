"""The quantities an estimate gives: words, unit and formula of each, and how each is worked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from mapper.estimate import paint
from mapper.estimate.blasting import break_even
from mapper.estimate.chemical import Stripping
from mapper.estimate.inputs import Array, Number
from mapper.estimate.methods import LINES, ROWS, Surface
from mapper.estimate.ranges import Trials
from mapper.estimate.treatment import brighten, clean, convert
from mapper.estimate.work import PanelWork, Pick, draws, middles, strip_middle, strip_trials


@dataclass(frozen=True)
class Quantity:
    """name: key in files; label: as printed; unit inside the program; within: the quantity it is a
    part of ("" for none); formula in words; rests_on: names of the defaults in it."""

    name: str
    label: str
    unit: str
    within: str
    formula: str
    rests_on: tuple[str, ...]


_WETTED = "wetted area = coats × (area + lap × perimeter) × (1 − rⁿ) ÷ (1 − r), r left by one go"
_COATS = ("lap", "enamel_left", "lacquer_left", "most_rounds", "unknown_coats")

_ALL = (
    Quantity("stripped_area", "area to strip", "m2", "", "area of the coat zones", ()),
    Quantity("wetted_area", "area wetted, all goes", "m2", "", _WETTED, _COATS),
    Quantity(
        "stripper",
        "stripper",
        "L",
        "",
        "wetted area × wet film ÷ (1 − drip loss)",
        (*_COATS, "wet_film", "drip"),
    ),
    Quantity(
        "labour",
        "labour of stripping",
        "h",
        "",
        "putting on + scraping + by hand + rinsing + taping",
        (*_COATS, "apply", "enamel_scrape", "lacquer_scrape", "hand", "rinse", "tape", "scatter"),
    ),
    Quantity("apply", "putting on", "h", "labour", "wetted area ÷ rate", ("apply", "scatter")),
    Quantity(
        "scrape",
        "scraping",
        "h",
        "labour",
        "wetted area of each kind of coat ÷ its rate",
        ("enamel_scrape", "lacquer_scrape", "scatter"),
    ),
    Quantity(
        "hand",
        "by hand, what the last go left",
        "h",
        "labour",
        "coats × (area + lap × perimeter) × rⁿ ÷ rate, where more than 2 % is left",
        ("most_rounds", "hand", "scatter"),
    ),
    Quantity("rinse", "rinsing", "h", "labour", "area ÷ rate", ("rinse", "scatter")),
    Quantity("tape", "taping", "h", "labour", "edge of the coat zones ÷ rate", ("tape", "scatter")),
    Quantity(
        "dwell",
        "waiting (elapsed, not labour; regions overlap)",
        "h",
        "",
        "applications × dwell",
        ("dwell", "enamel_left", "lacquer_left", "most_rounds", "unknown_coats"),
    ),
    Quantity(
        "sludge",
        "sludge to collect",
        "kg",
        "",
        "paint + stripper × density × (1 − evaporated)",
        (*_COATS, "wet_film", "drip", "stripper_density", "evaporated", "coat_density"),
    ),
    Quantity(
        "paint_waste",
        "dry paint in it",
        "kg",
        "sludge",
        "coats × thickness × density × area",
        ("coat_thickness", "coat_density", "unknown_coats"),
    ),
    Quantity(
        "rinse_water",
        "rinse water to collect",
        "L",
        "",
        "area × rinses × water of one rinse",
        ("rinses", "rinse_water"),
    ),
    Quantity("primed_area", "area to prime", "m2", "", "area of the coat zones once bare", ()),
    Quantity(
        "primer",
        "primer",
        "L",
        "",
        "area ÷ (spreading rate × transfer), spreading rate = volume solids ÷ dry film",
        ("primer_film", "primer_solids", "transfer"),
    ),
    Quantity(
        "primer_mass",
        "mass of dry primer",
        "kg",
        "",
        "area × dry film × density",
        ("primer_film", "primer_density"),
    ),
    Quantity("corroded_area", "area of corrosion to treat", "m2", "", "area of findings", ()),
    Quantity(
        "corrosion_clean",
        "cleaning corrosion out",
        "h",
        "",
        "area of findings ÷ the shop's own rate",
        ("corrosion_clean", "scatter"),
    ),
    Quantity(
        "brightener",
        "acid brightener, mixed",
        "L",
        "",
        "area × (1 − rⁿ) ÷ (1 − r) ÷ coverage, r left by one attempt, n attempts",
        ("brightener_left", "brightener_goes", "brightener_coverage"),
    ),
    Quantity(
        "brightener_concentrate",
        "concentrate in it",
        "L",
        "brightener",
        "mix ÷ (1 + parts of water)",
        ("brightener_left", "brightener_goes", "brightener_coverage", "brightener_parts"),
    ),
    Quantity(
        "conversion",
        "conversion coat",
        "L",
        "",
        "1.1 × area to prime ÷ coverage, on aluminium",
        ("conversion_coverage",),
    ),
    Quantity(
        "topcoat",
        "topcoat",
        "L",
        "",
        "area to prime ÷ (spreading rate × transfer), spreading rate = volume solids ÷ dry film",
        ("topcoat_film", "topcoat_solids", "transfer"),
    ),
    Quantity(
        "topcoat_mass",
        "mass of dry topcoat",
        "kg",
        "",
        "area × dry film × density",
        ("topcoat_film", "topcoat_density"),
    ),
)
QUANTITIES: Mapping[str, Quantity] = {q.name: q for q in _ALL}

# What another method would take, on the panels that are open to it.
METHOD_QUANTITIES: Mapping[str, Quantity] = {
    m.name: Quantity(m.name, m.label, m.unit, "", m.formula, m.rests_on) for m in LINES.values()
}

# Sprayed in one go, so they stand for a part, not for a panel.
PART_QUANTITIES: Mapping[str, Quantity] = {
    q.name: q
    for q in (
        Quantity(
            "primer_mixed",
            "primer with line loss",
            "L",
            "",
            "primer of all panels + left in gun and lines, once for the part",
            ("primer_film", "primer_solids", "transfer", "line_loss"),
        ),
        Quantity(
            "pots",
            "pots of primer",
            "",
            "",
            "primer with line loss ÷ the smaller of kit and spraying × pot life, rounded up",
            ("kit", "spray_rate", "pot_life"),
        ),
        Quantity(
            "primer_discarded",
            "mixed primer left over",
            "L",
            "",
            "pots × their size − primer with line loss",
            ("kit", "spray_rate", "pot_life"),
        ),
        Quantity(
            "topcoat_mixed",
            "topcoat with line loss",
            "L",
            "",
            "topcoat of all panels + left in gun and lines, once for the part",
            ("topcoat_film", "topcoat_solids", "transfer", "line_loss"),
        ),
        Quantity(
            "topcoat_pots",
            "pots of topcoat",
            "",
            "",
            "topcoat with line loss ÷ the smaller of kit and spraying × pot life, rounded up",
            ("kit", "spray_rate", "pot_life"),
        ),
        Quantity(
            "topcoat_discarded",
            "mixed topcoat left over",
            "L",
            "",
            "pots × their size − topcoat with line loss",
            ("kit", "spray_rate", "pot_life"),
        ),
    )
}

# Only where the shop has entered how long it takes to rig an enclosure.
BREAK_EVEN = Quantity(
    "break_even",
    "plastic media is quicker above",
    "m2",
    "",
    "hours to rig ÷ (labour of stripping − labour of plastic media, each by the square metre)",
    ("rig", "blast_rate", "duty"),
)


def quantity_of(name: str) -> Quantity:
    """The quantity of that name, of a panel, a method or a part; KeyError for an unknown name."""
    if name == BREAK_EVEN.name:
        return BREAK_EVEN
    return (QUANTITIES.get(name) or METHOD_QUANTITIES.get(name)) or PART_QUANTITIES[name]


@dataclass(frozen=True, eq=False)
class Amount:
    """A middle and the trials it lies in, (count,)."""

    middle: float
    trials: Array

    def __add__(self, other: Amount) -> Amount:
        return Amount(self.middle + other.middle, self.trials + other.trials)


Amounts = Mapping[str, Amount]


@dataclass(frozen=True, eq=False)
class PanelAmounts:
    """All quantities of one face of a panel, and the two ways each zone was worked (middle None
    where its coats are not known)."""

    work: PanelWork
    amounts: Amounts
    zones: tuple[tuple[Stripping | None, Stripping], ...]


def panel_amounts(work: PanelWork, trials: Trials, tolerance: float) -> PanelAmounts:
    """Every quantity of QUANTITIES for one face of a panel; zeros where nothing is to be done.

    tolerance: +/- of the part's areas in % (95 % half-width); it widens every range. Middles are
    the formula's where all is known, else the median of the trials.
    """
    size = trials.tolerance(work.part_id, tolerance)
    nothing = np.zeros(trials.count)
    amounts = {name: Amount(0.0, nothing) for name in QUANTITIES}
    zones = []
    for zone in work.zones:
        middle = strip_middle(zone, trials)
        many = strip_trials(zone, trials, work.key, size)
        zones.append((middle, many))
        for name in _OF_STRIPPING:
            drawn = np.broadcast_to(np.asarray(_OF_STRIPPING[name](many)), (trials.count,))
            centre = np.median(drawn) if middle is None else _OF_STRIPPING[name](middle)
            amounts[name] = amounts[name] + Amount(float(centre), drawn)
    # Its middle is the sum of its parts, as anybody adds it up; the median of sums is another one.
    hours = sum(amounts[q.name].middle for q in _ALL if q.within == "labour")
    amounts["labour"] = Amount(hours, amounts["labour"].trials)
    amounts["primed_area"] = Amount(work.primer_area, work.primer_area * size)
    centres = _after_stripping(work, 1.0, middles(trials))
    spreads = _after_stripping(work, size, draws(trials, work.key))
    for name, centre in centres.items():
        amounts[name] = Amount(float(centre), np.asarray(spreads[name]) + nothing)
    others = _other_methods(work, trials, size, amounts["paint_waste"])
    return PanelAmounts(work, amounts | others, tuple(zones))


def _other_methods(
    work: PanelWork, trials: Trials, size: Number, dry_paint: Amount
) -> dict[str, Amount]:
    """The lines of every method the panel is open to; {} where nothing is to be stripped."""
    area = sum(z.area for z in work.zones)
    round_it = sum(z.perimeter for z in work.zones)
    found = {}
    once, often = middles(trials), draws(trials, work.key)
    # Grams by density are millilitres, and those are um m2.
    one = Surface(area, round_it, 1000.0 * dry_paint.middle / once("coat_density"))
    many_ = 1000.0 * dry_paint.trials / often("coat_density")
    each = Surface(area * size, round_it * np.sqrt(size), many_)
    for line in (m for name in work.advice.open_to for m in ROWS[name].lines if area > 0.0):
        middle = line.work(one, once)
        many = line.work(each, often)
        drawn = np.broadcast_to(np.asarray(many, dtype=np.float64), (trials.count,))
        found[line.name] = Amount(float(middle), drawn)
    return found


def part_amounts(panels: Amounts, trials: Trials) -> Amounts:
    """Line loss and pots of a part from the sum of its panels; nothing to prime: zeros."""
    both: list[dict[str, Number]] = []
    for at, pick in ((0, middles(trials)), (1, draws(trials, ""))):
        found: dict[str, Number] = {}
        for coat, pots_of in (("primer", "pots"), ("topcoat", "topcoat_pots")):
            litres = (panels[coat].middle, panels[coat].trials)[at]
            mixed = paint.with_line_loss(litres, pick("line_loss"))
            pots = paint.pots(mixed, pick("kit"), 60.0 * pick("spray_rate"), pick("pot_life"))
            found |= {f"{coat}_mixed": mixed, pots_of: pots.count}
            found[f"{coat}_discarded"] = pots.discarded
        both.append(found)
    middle, many = both
    made = {n: Amount(float(middle[n]), np.asarray(many[n])) for n in PART_QUANTITIES}
    return made | _break_even(panels, trials)


def _break_even(panels: Amounts, trials: Trials) -> dict[str, Amount]:
    """Above how many m2 an enclosure pays; {} where the shop has not entered the hours to rig one,
    nothing may be blasted, or blasting is no quicker."""
    rig = trials.rates["rig"].value
    if rig <= 0.0 or "plastic_labour" not in panels or panels["stripped_area"].middle <= 0.0:
        return {}
    area = panels["stripped_area"]
    middle = break_even(
        rig, panels["labour"].middle / area.middle, panels["plastic_labour"].middle / area.middle
    )
    size = np.maximum(area.trials, 1e-12)
    many = break_even(rig, panels["labour"].trials / size, panels["plastic_labour"].trials / size)
    if not np.isfinite(middle):
        return {}
    return {BREAK_EVEN.name: Amount(float(middle), np.asarray(many, dtype=np.float64))}


def total(parts: list[Amounts]) -> dict[str, Amount]:
    """Sums by name over amounts that share their draws; none: {}."""
    summed: dict[str, Amount] = {}
    for amounts in parts:
        for name, amount in amounts.items():
            summed[name] = summed[name] + amount if name in summed else amount
    return summed


def _after_stripping(work: PanelWork, size: Number, pick: Pick) -> dict[str, Number]:
    """What comes after the paint is off: corrosion treated, surface converted, primed, painted.

    size: factor on the areas of this part.
    """
    area = work.primer_area * size
    corroded = work.corroded_area * size
    bright = brighten(
        corroded if work.aluminium else 0.0 * corroded,
        pick("brightener_left"),
        pick("brightener_goes"),
        pick("brightener_coverage"),
        pick("brightener_parts"),
    )
    found: dict[str, Number] = {
        "corroded_area": corroded,
        "corrosion_clean": clean(corroded, pick("corrosion_clean")),
        "brightener": bright.mix,
        "brightener_concentrate": bright.concentrate,
        "conversion": convert(area if work.aluminium else 0.0 * area, pick("conversion_coverage")),
    }
    for coat in ("primer", "topcoat"):
        film = pick(f"{coat}_film")
        found[coat] = paint.litres(area, pick(f"{coat}_solids"), film, pick("transfer"))
        found[f"{coat}_mass"] = paint.dry_mass(area, film, pick(f"{coat}_density"))
    return found


_OF_STRIPPING = {
    "stripped_area": lambda s: s.area,
    "wetted_area": lambda s: s.applied_area,
    "stripper": lambda s: s.stripper,
    "labour": lambda s: s.hours,
    "apply": lambda s: s.apply_hours,
    "scrape": lambda s: sum(s.scrape_hours),
    "hand": lambda s: s.hand_hours,
    "rinse": lambda s: s.rinse_hours,
    "tape": lambda s: s.tape_hours,
    "dwell": lambda s: s.dwell_hours,
    "sludge": lambda s: s.sludge,
    "paint_waste": lambda s: s.paint_waste,
    "rinse_water": lambda s: s.rinse_water,
}
