"""Every rate and quantity an estimate starts from, its range, and what that rests on.

A shop changes one through its settings: the key is "estimate." and the default's name, the value is
a number (the shop's own figure, taken as it is, without a range), or a mapping of any of "value",
"low", "high" and "basis" (words). Low and high are the 10 % and 90 % points of a starting range,
until a shop has logs of its own. Settings without the prefix belong to other rooms and stay as they
are.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from types import MappingProxyType
from typing import Any

from mapper.errors import MapperError
from mapper.estimate.inputs import number
from mapper.units import Units, plain_number

PREFIX = "estimate."
PRACTICE = "common practice, no source"
MEMORY = "from memory"
SHEET = "the maker's sheet governs"
SHOP = "the shop's own figure"


@dataclass(frozen=True)
class Default:
    """One starting value. least..most: what a shop may set it to. fraction: never leaves 0..1.

    value is the middle, low and high the 10 % and 90 % points (all equal: no range is known).
    labour: a rate of work, which also scatters from one panel to the next. span_only: the value
    stands in no formula, only the range does.
    """

    name: str
    label: str
    value: float
    low: float
    high: float
    unit: str
    basis: str
    least: float
    most: float
    fraction: bool = False
    labour: bool = False
    whole: bool = False
    span_only: bool = False

    def __post_init__(self) -> None:
        for word in ("value", "low", "high"):
            number(
                f"{PREFIX}{self.name}, {word},",
                getattr(self, word),
                unit=self.unit,
                least=self.least,
                most=self.most,
            )
        if not self.low <= self.value <= self.high:
            raise MapperError(
                f"{PREFIX}{self.name} is {self.value:g} in a range of {self.low:g} to "
                f"{self.high:g} {self.unit}.".replace(" .", "."),
                "The value lies in its range.",
                "Give low and high together with the value.",
            )
        if self.whole and any(v != int(v) for v in (self.value, self.low, self.high)):
            raise MapperError(
                f"{PREFIX}{self.name} is {self.value:g}.", "It must be a whole number."
            )

    def words(self, units: Units) -> str:
        """One line for print in the shop's units: label, value, range, basis."""

        def number(value: float) -> str:
            return plain_number(units.number(value, self.unit), 3)

        unit = f" {units.label(self.unit)}" if self.unit else ""
        span = f"{number(self.low)} to {number(self.high)}"
        if self.low == self.high:
            return f"{self.label} {number(self.value)}{unit} (no range known): {self.basis}"
        if self.span_only:
            return f"{self.label} {span}{unit}: {self.basis}"
        return f"{self.label} {number(self.value)}{unit} ({span}): {self.basis}"


def _d(
    name: str,
    label: str,
    values: tuple[float, float, float],
    unit: str,
    basis: str,
    limits: tuple[float, float],
    **more: bool,
) -> Default:
    low, value, high = values
    return Default(name, label, value, low, high, unit, basis, *limits, **more)


def _only(value: float) -> tuple[float, float, float]:
    return (value, value, value)


_DRY_FILM = "span of US TO 1-1-8 Table 5-2, primer .0006-.0009 in to topcoat .0017-.0023 in a coat"

# Middles are the medians of their ranges: sqrt(low x high), or half-way in ln(p / (1 - p)) for
# fractions, rounded to two digits.
_ALL = (
    _d("lap", "lap over the edge", (0.01, 0.022, 0.05), "m", PRACTICE, (0, 0.5)),
    _d(
        "enamel_left",
        "left of an enamel coat by one application",
        (0.05, 0.10, 0.2),
        "",
        PRACTICE,
        (0.001, 0.95),
        fraction=True,
    ),
    _d(
        "lacquer_left",
        "left of a lacquer coat by one application",
        (0.3, 0.5, 0.7),
        "",
        PRACTICE,
        (0.001, 0.95),
        fraction=True,
    ),
    _d(
        "most_rounds",
        "most applications for one coat, the rest by hand",
        _only(4),
        "",
        f"{PRACTICE} (4 for lacquer; the same cap is used for every coat)",
        (1, 50),
        whole=True,
    ),
    _d("wet_film", "wet film", (0.5, 0.87, 1.5), "mm", f"{MEMORY}, brushed gel", (0.05, 10)),
    _d(
        "drip",
        "drip loss",
        (0.05, 0.12, 0.25),
        "",
        f"{PRACTICE} (.05 lying flat, .1 to .25 upright)",
        (0, 0.9),
        fraction=True,
    ),
    _d("apply", "putting on", (6, 11, 20), "m2/h", PRACTICE, (0.01, 1000), labour=True),
    _d(
        "enamel_scrape",
        "scraping enamel",
        (2, 4, 8),
        "m2/h",
        PRACTICE,
        (0.01, 1000),
        labour=True,
    ),
    _d(
        "lacquer_scrape",
        "scraping lacquer",
        (0.5, 1, 2),
        "m2/h",
        PRACTICE,
        (0.01, 1000),
        labour=True,
    ),
    _d(
        "hand",
        "scraping or rubbing wet by hand",
        (0.2, 0.4, 0.8),
        "m2/h",
        PRACTICE,
        (0.01, 1000),
        labour=True,
    ),
    _d("rinse", "rinsing", _only(10), "m2/h", PRACTICE, (0.01, 1000), labour=True),
    _d("tape", "taping", _only(20), "m/h", PRACTICE, (0.01, 1000), labour=True),
    _d(
        "dwell",
        "dwell of one application",
        (10, 20, 40),
        "min",
        f"10 to 40 min NAVEDTRA 14022; mild products 30 to 45 min ({PRACTICE}); {SHEET}",
        (0, 2880),
    ),
    _d(
        "coat_thickness",
        "dry film of one old coat where it was not measured",
        (15.24, 30, 58.42),
        "um",
        _DRY_FILM,
        (1, 20000),
    ),
    _d(
        "coat_density",
        "density of dry paint",
        _only(1.4),
        "g/cm3",
        f"{PRACTICE}: 50 um weigh 70 g/m2",
        (0.5, 6),
    ),
    _d(
        "stripper_density",
        "density of the stripper",
        _only(1.05),
        "g/cm3",
        f"{PRACTICE}; {SHEET}",
        (0.5, 3),
    ),
    _d(
        "evaporated",
        "stripper that dries off",
        (0.1, 0.25, 0.5),
        "",
        PRACTICE,
        (0, 1),
        fraction=True,
    ),
    _d("rinse_water", "water of one rinse", (10, 17, 30), "L/m2", PRACTICE, (0, 1000)),
    _d("rinses", "rinses", _only(2), "", PRACTICE, (0, 20), whole=True),
    _d(
        "unknown_coats",
        "coats where nobody knows how many",
        (1, 3, 6),
        "",
        f"an assumption, {PRACTICE}: five to six coats are not rare; any number from low to high "
        "is taken as equally likely, and none is singled out",
        (0, 30),
        whole=True,
        span_only=True,
    ),
    _d(
        "primer_film",
        "dry primer",
        (15.24, 19, 22.86),
        "um",
        "US TO 1-1-8 Table 5-2: MIL-PRF-23377/85582, one coat .0006-.0009 in",
        (1, 1000),
    ),
    _d(
        "primer_solids",
        "volume solids of the primer",
        (30, 39, 50),
        "%",
        f"{MEMORY}; {SHEET}",
        (1, 100),
    ),
    _d(
        "primer_density",
        "density of dry primer",
        _only(1.4),
        "g/cm3",
        f"{PRACTICE}: 50 um weigh 70 g/m2",
        (0.5, 6),
    ),
    _d(
        "transfer",
        "transfer efficiency",
        (0.3, 0.47, 0.65),
        "",
        PRACTICE,
        (0.05, 1),
        fraction=True,
    ),
    _d("line_loss", "left in gun and lines", _only(0.15), "L", PRACTICE, (0, 10)),
    _d("kit", "primer mixed at once", _only(1.0), "L", f"{PRACTICE}; {SHEET}", (0.01, 100)),
    _d("spray_rate", "spraying", (0.08, 0.14, 0.25), "L/min", MEMORY, (0.001, 5)),
    _d("pot_life", "pot life", (2, 4, 8), "h", f"{MEMORY}; {SHEET}", (0.05, 100)),
    _d(
        "topcoat_film",
        "dry topcoat",
        (43.18, 50, 58.42),
        "um",
        "US TO 1-1-8 Table 5-2: MIL-PRF-85285, .0017-.0023 in",
        (1, 1000),
    ),
    _d(
        "topcoat_solids",
        "volume solids of the topcoat",
        (40, 49, 60),
        "%",
        f"{MEMORY}; {SHEET}",
        (1, 100),
    ),
    _d(
        "topcoat_density",
        "density of dry topcoat",
        _only(1.4),
        "g/cm3",
        f"{PRACTICE}: 50 um weigh 70 g/m2",
        (0.5, 6),
    ),
    _d(
        "conversion_coverage",
        "conversion coat covers",
        (10, 14, 20),
        "m2/L",
        f"{MEMORY}; {SHEET}",
        (0.1, 200),
    ),
    _d(
        "brightener_coverage",
        "mixed acid brightener covers",
        (4, 6.3, 10),
        "m2/L",
        f"{MEMORY}; {SHEET}",
        (0.1, 200),
    ),
    _d(
        "brightener_left",
        "left of the corrosion by one attempt",
        (0.2, 0.35, 0.55),
        "",
        "an assumption, no source",
        (0.001, 0.95),
        fraction=True,
    ),
    _d(
        "brightener_goes",
        "attempts with acid brightener",
        _only(2),
        "",
        "FAA AC 43.13-1B: a stronger method when corrosion remains after the second attempt; ask "
        "the inspector before a third",
        (1, 10),
        whole=True,
    ),
    _d(
        "brightener_parts",
        "parts of water to one of brightener",
        _only(5),
        "",
        f"{PRACTICE}; {SHEET}",
        (0, 100),
    ),
    _d(
        "blast_rate",
        "blasting with an open nozzle",
        (400, 890, 2000),
        "um m2/h",
        f"{MEMORY}; in a cabinet 150 to 500",
        (10, 20000),
        labour=True,
    ),
    _d(
        "duty",
        "share of blasting time at the trigger",
        (0.4, 0.56, 0.7),
        "",
        PRACTICE,
        (0.05, 1),
        fraction=True,
    ),
    _d(
        "breakdown",
        "media broken down by one cycle",
        (0.05, 0.087, 0.15),
        "",
        PRACTICE,
        (0.001, 1),
        fraction=True,
    ),
    _d(
        "media_flow",
        "media through one nozzle",
        _only(181.437),
        "kg/h",
        "400 lb/h at 40 psi: Robins AFB article on plastic media",
        (1, 2000),
    ),
    _d(
        "rig",
        "rigging an enclosure for blasting",
        _only(0),
        "h",
        "not counted until the shop enters it",
        (0, 1000),
    ),
    _d(
        "scatter",
        "scatter of a labour rate from panel to panel",
        _only(0.35),
        "",
        f"{PRACTICE}: standard deviation of the logarithm",
        (0, 2),
    ),
)

DEFAULTS: Mapping[str, Default] = MappingProxyType({d.name: d for d in _ALL})


class RateTable(Mapping[str, Default]):
    """The rates in force: every default by name, with the shop's changes in place.

    `rates["lap"].value`; `rates.changed`: the names the shop has set.
    """

    def __init__(self, rates: Mapping[str, Default], changed: tuple[str, ...] = ()) -> None:
        self._rates = MappingProxyType(dict(rates))
        self.changed = changed

    def __getitem__(self, name: str) -> Default:
        return self._rates[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._rates)

    def __len__(self) -> int:
        return len(self._rates)


def rates_of(settings: Mapping[str, Any]) -> RateTable:
    """The rates in force in a shop with these settings (`Shop.settings`); none: the defaults.

    MapperError for an unknown "estimate." key, a value out of range, a range that does not hold its
    value, or a word that is not one of value, low, high, basis.
    """
    rates = dict(DEFAULTS)
    changed = []
    for key, given in settings.items():
        if not str(key).startswith(PREFIX):
            continue
        name = str(key)[len(PREFIX) :]
        if name not in DEFAULTS:
            close = get_close_matches(name, list(DEFAULTS), n=1)
            hint = f"Did you mean {PREFIX + close[0]!r}?" if close else ""
            known = ", ".join(DEFAULTS)
            raise MapperError(
                f"No setting {key!r}.", f"After {PREFIX!r} comes one of {known}.", hint
            )
        rates[name] = _changed(DEFAULTS[name], given)
        changed.append(name)
    return RateTable(rates, tuple(changed))


def _changed(old: Default, given: Any) -> Default:
    """A default with a shop's setting put in."""
    if not isinstance(given, Mapping):
        value = _plain(old, "value", given)
        return replace(old, value=value, low=value, high=value, basis=SHOP)
    allowed = ("value", "low", "high", "basis")
    for word in given:
        if word not in allowed:
            raise MapperError(
                f"{PREFIX}{old.name} has {word!r}.", f"It may have {', '.join(allowed)}."
            )
    value = _plain(old, "value", given.get("value", old.value))
    # A figure given without a range has none; a range given alone keeps the value it had.
    alone = "value" in given
    low = _plain(old, "low", given.get("low", value if alone else old.low))
    high = _plain(old, "high", given.get("high", value if alone else old.high))
    basis = given.get("basis", SHOP)
    if not isinstance(basis, str) or not basis.strip():
        raise MapperError(
            f"{PREFIX}{old.name} has the basis {basis!r}.", "A basis is words.", "Say where from."
        )
    return replace(old, value=value, low=low, high=high, basis=basis)


def _plain(old: Default, word: str, given: Any) -> float:
    name = f"{PREFIX}{old.name}, {word},"
    return float(number(name, given, unit=old.unit, least=old.least, most=old.most))
