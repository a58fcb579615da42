"""The numbers that stand in a line's formula, so that a reader can work it again by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from mapper.estimate.chemical import Stripping
from mapper.estimate.defaults import RateTable
from mapper.estimate.inputs import Number
from mapper.estimate.paint import spreading_rate
from mapper.estimate.quantities import METHOD_QUANTITIES, PanelAmounts, Quantity
from mapper.estimate.told import finer
from mapper.estimate.work import FAMILY, ZoneWork
from mapper.units import Units, plain_number


@dataclass(frozen=True)
class Input:
    """One number put in. unit inside the program; most: the upper end where it is a range."""

    label: str
    value: float
    unit: str
    most: float | None = None

    def words(self, units: Units) -> str:
        """ "lap 22.0 mm", "coats 1 to 6": label and value in the shop's units."""
        if not self.unit:
            numbers = [v for v in (self.value, self.most) if v is not None]
            return f"{self.label} {' to '.join(plain_number(v, 3) for v in numbers)}"
        if self.most is None:
            return f"{self.label} {units.show(*finer(self.value, self.unit, units))}"
        low = units.show(self.value, self.unit, with_label=False)
        high = units.show(self.most, self.unit, with_label=False)
        return f"{self.label} {low} to {high} {units.label(self.unit)}"


def inputs_of(quantity: Quantity, panel: PanelAmounts, rates: RateTable) -> tuple[Input, ...]:
    """The numbers in one line of one face of a panel; () for a face without work."""
    if quantity.name in METHOD_QUANTITIES:
        taken = [Input("area", sum(z.area for z in panel.work.zones), "m2")]
        if "coat_thickness" in quantity.rests_on:
            weight = panel.amounts["paint_waste"].middle
            area = sum(z.area for z in panel.work.zones)
            dry = 1000.0 * weight / rates["coat_density"].value / area if area > 0.0 else 0.0
            taken.append(Input("all coats", dry, "um"))
            own = [n for n in quantity.rests_on if n not in _OF_COATS]
            return (*taken, *(_rate(rates, name) for name in own))
        return (*taken, *(_rate(rates, name) for name in quantity.rests_on if name != "scatter"))
    maker = _MAKERS.get(quantity.name)
    return tuple(maker(panel, rates)) if maker else ()


def _rate(rates: RateTable, name: str, label: str = "") -> Input:
    rate = rates[name]
    return Input(label or rate.label, rate.value, rate.unit)


def _sum(panel: PanelAmounts, name: str, label: str, unit: str) -> Input:
    return Input(label, panel.amounts[name].middle, unit)


def _zones(panel: PanelAmounts, rates: RateTable) -> list[Input]:
    return [Input(z.zone.finish, z.area, "m2") for z in panel.work.zones]


def _wetted(panel: PanelAmounts, rates: RateTable) -> list[Input]:
    found = [_rate(rates, "lap", "lap")]
    for zone, (middle, _) in zip(panel.work.zones, panel.zones):
        found += [
            Input(f"{zone.zone.finish}: area", zone.area, "m2"),
            Input("perimeter", zone.perimeter, "m"),
        ]
        if middle is None:
            found += _uncertain(zone, rates)
            continue
        many: dict[str, float] = {}
        goes: dict[str, float] = {}
        for (coat, count), n in zip(zone.coats, middle.rounds):
            many[coat.kind] = many.get(coat.kind, 0.0) + count
            goes[coat.kind] = _plain(n)
        for kind, count in many.items():
            found += [
                Input(f"{kind} coats", count, ""),
                Input("r", rates[f"{FAMILY[kind]}_left"].value, ""),
                Input("n", goes[kind], ""),
            ]
    return found


def _uncertain(zone: ZoneWork, rates: RateTable) -> list[Input]:
    """The ranges of what is not known: number of coats, and what one application leaves."""
    found = []
    for coat, count in zone.coats:
        if coat.number == 0:
            number = rates["unknown_coats"]
            found.append(Input("coats nobody knows", number.low, "", number.high))
        else:
            found.append(Input(f"{coat.kind} coats", count, ""))
        family = FAMILY.get(coat.kind)
        low = rates[f"{family or 'enamel'}_left"].low
        found.append(Input("r", low, "", rates[f"{family or 'lacquer'}_left"].high))
    return found


def _scrape(panel: PanelAmounts, rates: RateTable) -> list[Input]:
    wetted: dict[str, float] = {}
    for zone, (middle, _) in zip(panel.work.zones, panel.zones):
        if middle is None:
            continue
        for (coat, _count), area in zip(zone.coats, middle.by_kind):
            family = FAMILY[coat.kind]
            wetted[family] = wetted.get(family, 0.0) + _plain(area)
    found = []
    for family, area in wetted.items():
        found += [Input(f"{family} wetted", area, "m2"), _rate(rates, f"{family}_scrape")]
    if any(middle is None for middle, _ in panel.zones):
        found += [
            Input(
                "coats nobody knows, rate",
                rates["lacquer_scrape"].low,
                "m2/h",
                rates["enamel_scrape"].high,
            )
        ]
    return found


def _middle_sum(panel: PanelAmounts, value: Callable[[Stripping], Number]) -> float:
    return sum(_plain(value(m)) for m, _ in panel.zones if m is not None)


def _hand(panel: PanelAmounts, rates: RateTable) -> list[Input]:
    return [
        Input("left after the last go", _middle_sum(panel, lambda s: s.hand_area), "m2"),
        _rate(rates, "hand"),
    ]


def _dwell(panel: PanelAmounts, rates: RateTable) -> list[Input]:
    goes = 0.0
    for zone, (middle, _) in zip(panel.work.zones, panel.zones):
        if middle is not None:
            goes += sum(count * _plain(n) for (_, count), n in zip(zone.coats, middle.rounds))
    return [Input("applications where the coats are known", goes, ""), _rate(rates, "dwell")]


def _paint(panel: PanelAmounts, rates: RateTable) -> list[Input]:
    found = [_rate(rates, "coat_density")]
    for zone in panel.work.zones:
        found.append(Input(f"{zone.zone.finish}: area", zone.area, "m2"))
        if any(c.number == 0 for c, _ in zone.coats):
            number, film = rates["unknown_coats"], rates["coat_thickness"]
            found += [
                Input("coats nobody knows", number.low, "", number.high),
                Input("each", film.low, film.unit, film.high),
            ]
            continue
        film_um = rates["coat_thickness"].value
        stack = sum(n * (film_um if c.thickness is None else c.thickness) for c, n in zone.coats)
        found.append(Input("all its coats", stack, "um"))
    return found


def _plain(value: Number) -> float:
    return float(value)


_OF_COATS = ("scatter", "coat_thickness", "unknown_coats")
_WETTED_AREA = ("wetted_area", "wetted area", "m2")
_Maker = Callable[[PanelAmounts, RateTable], list[Input]]
_MAKERS: dict[str, _Maker] = {
    "stripped_area": _zones,
    "wetted_area": _wetted,
    # 1 mm of wet film is 1 L/m2: put in like that, the line works out in either system of units.
    "stripper": lambda p, r: [
        _sum(p, *_WETTED_AREA),
        Input("wet film", r["wet_film"].value, "L/m2"),
        _rate(r, "drip"),
    ],
    "labour": lambda p, r: [
        _sum(p, "apply", "putting on", "h"),
        _sum(p, "scrape", "scraping", "h"),
        _sum(p, "hand", "by hand", "h"),
        _sum(p, "rinse", "rinsing", "h"),
        _sum(p, "tape", "taping", "h"),
    ],
    "apply": lambda p, r: [_sum(p, *_WETTED_AREA), _rate(r, "apply")],
    "scrape": _scrape,
    "hand": _hand,
    "rinse": lambda p, r: [_sum(p, "stripped_area", "area", "m2"), _rate(r, "rinse")],
    "tape": lambda p, r: [
        Input("edge", sum(z.taped for z in p.work.zones), "m"),
        _rate(r, "tape"),
    ],
    "dwell": _dwell,
    "sludge": lambda p, r: [
        _sum(p, "paint_waste", "dry paint", "kg"),
        _sum(p, "stripper", "stripper", "L"),
        _rate(r, "stripper_density"),
        _rate(r, "evaporated"),
    ],
    "paint_waste": _paint,
    "rinse_water": lambda p, r: [
        _sum(p, "stripped_area", "area", "m2"),
        _rate(r, "rinses"),
        _rate(r, "rinse_water"),
    ],
    "primed_area": _zones,
    "primer": lambda p, r: [
        _sum(p, "primed_area", "area", "m2"),
        _rate(r, "primer_solids"),
        _rate(r, "primer_film"),
        Input(
            "spreading rate",
            _plain(spreading_rate(r["primer_solids"].value, r["primer_film"].value)),
            "m2/L",
        ),
        _rate(r, "transfer"),
    ],
    "corroded_area": lambda p, r: [Input("area", p.work.corroded_area, "m2")],
    "corrosion_clean": lambda p, r: [
        _sum(p, "corroded_area", "area", "m2"),
        _rate(r, "corrosion_clean", "rate"),
    ],
    "brightener": lambda p, r: [
        _sum(p, "corroded_area", "area", "m2"),
        Input("r", r["brightener_left"].value, ""),
        Input("n", r["brightener_goes"].value, ""),
        _rate(r, "brightener_coverage", "coverage"),
    ],
    "brightener_concentrate": lambda p, r: [
        _sum(p, "brightener", "mix", "L"),
        _rate(r, "brightener_parts", "parts of water"),
    ],
    "conversion": lambda p, r: [
        _sum(p, "primed_area", "area", "m2"),
        _rate(r, "conversion_coverage", "coverage"),
    ],
    "topcoat": lambda p, r: [
        _sum(p, "primed_area", "area", "m2"),
        _rate(r, "topcoat_solids"),
        _rate(r, "topcoat_film"),
        Input(
            "spreading rate",
            _plain(spreading_rate(r["topcoat_solids"].value, r["topcoat_film"].value)),
            "m2/L",
        ),
        _rate(r, "transfer"),
    ],
    "topcoat_mass": lambda p, r: [
        _sum(p, "primed_area", "area", "m2"),
        _rate(r, "topcoat_film"),
        _rate(r, "topcoat_density"),
    ],
    "primer_mass": lambda p, r: [
        _sum(p, "primed_area", "area", "m2"),
        _rate(r, "primer_film"),
        _rate(r, "primer_density"),
    ],
}
