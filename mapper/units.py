"""Numbers as people read and type them: metric or inch, always with their unit.

Inside the program there is one unit for each quantity (mm, mm2, L, kg, um, min, g/m2, bar, C ...);
here they are shown, labelled and read in the shop's own. Factors come from pint.

Thousands are grouped by a narrow no-break space, and the decimal sign is the point (ISO 80000-1):
a comma would mean thousands to one reader and a decimal to another, so it is refused.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cache
from typing import Any

from mapper.errors import MapperError

SYSTEMS = ("metric", "inch")
GAP = "\u202f"
_DIGITS = 3  # significant digits shown where no tolerance is given, whole numbers never cut


@dataclass(frozen=True)
class Show:
    """One way to show a quantity: its label, and pint's expression of it. below: shown in the
    next, smaller way where the number here would be smaller than this."""

    label: str
    pint: str
    below: float = 0.0


@dataclass(frozen=True)
class Quantity:
    """One quantity: the unit inside the program (pint's expression), how each system shows it, and
    the unit words a person may type with it. The first way to show it is that of columns."""

    inside: str
    metric: tuple[Show, ...]
    inch: tuple[Show, ...]
    words: tuple[str, ...] = ()


# What a typed unit word means to pint. Only these are read: nothing a person types is evaluated.
_MEANING = """
µm um micron microns = micrometer; mm = millimeter; cm = centimeter; m = meter
mil mils thou = thou; in inch inches " = inch; ft foot feet ' = foot
mm2 = millimeter**2; cm2 = centimeter**2; m2 = meter**2
in2 sq_in = inch**2; ft2 sq_ft = foot**2
l litre litres = liter; ml = milliliter; us_gal gal = gallon; us_qt = quart
us_fl_oz = fluid_ounce; kg = kilogram; g = gram; lb lbs = pound; oz = ounce
min = minute; h hour hours = hour; s = second; bar = bar; psi = psi; kpa = kilopascal
°c c = degC; °f f = degF; % = percent; %_iacs %iacs = percent; ° deg = degree
g/m2 = gram/meter**2; oz/ft2 = ounce/foot**2
g/cm3 = gram/centimeter**3; lb/us_gal = pound/gallon
m2/l = meter**2/liter; ft2/us_gal = foot**2/gallon
l/m2 = liter/meter**2; us_gal/ft2 = gallon/foot**2
m2/h = meter**2/hour; ft2/h = foot**2/hour; m/h = meter/hour; ft/h = foot/hour
kg/h = kilogram/hour; lb/h = pound/hour; l/min = liter/minute; us_gal/min = gallon/minute
/m2 1/m2 = 1/meter**2; /ft2 1/ft2 = 1/foot**2
n_m nm = newton*meter; lbf_in = pound_force*inch
"""
_WORDS = {
    word.replace("_", " "): meaning.strip()
    for words, meaning in (
        pair.split("=") for pair in _MEANING.strip().replace("\n", ";").split(";")
    )
    for word in words.split()
}
_METRIC_LENGTHS = ("mm", "cm", "m", "µm", "um", "micron", "microns")
_INCH_LENGTHS = ("in", "inch", "inches", '"', "ft", "foot", "feet", "'", "mil", "mils", "thou")
_LENGTHS = _METRIC_LENGTHS + _INCH_LENGTHS
_AREAS = ("mm2", "cm2", "m2", "in2", "sq in", "ft2", "sq ft")
_TIMES = ("min", "h", "hour", "hours", "s")


def _one(metric: str, inch: str, *words: str) -> Quantity:
    """A quantity that each system shows in one way, each "label = pint's expression"; inside the
    program it is in the metric one."""
    ways = [Show(label.strip(), pint.strip()) for label, pint in map(_halves, (metric, inch))]
    return Quantity(ways[0].pint, (ways[0],), (ways[1],), words)


def _halves(text: str) -> list[str]:
    return text.split("=")


QUANTITIES: dict[str, Quantity] = {
    "mm": _one("mm = millimeter", "in = inch", *_LENGTHS),
    "m": _one("m = meter", "ft = foot", *_LENGTHS),
    "um": _one("µm = micrometer", "mil = thou", *_LENGTHS),
    "mm2": Quantity(
        "millimeter**2",
        (Show("m²", "meter**2", 0.01), Show("mm²", "millimeter**2")),
        (Show("ft²", "foot**2", 0.1), Show("in²", "inch**2")),
        _AREAS,
    ),
    "m2": _one("m² = meter**2", "ft² = foot**2", *_AREAS),
    "L": _one(
        "L = liter",
        "US gal = gallon",
        "l",
        "litre",
        "litres",
        "ml",
        "us gal",
        "gal",
        "us qt",
        "us fl oz",
    ),
    "kg": _one("kg = kilogram", "lb = pound", "kg", "g", "lb", "lbs", "oz"),
    "min": _one("min = minute", "min = minute", *_TIMES),
    "h": _one("h = hour", "h = hour", *_TIMES),
    "bar": _one("bar = bar", "psi = psi", "bar", "psi", "kpa"),
    "C": _one("°C = degC", "°F = degF", "°c", "c", "°f", "f"),
    "%": _one("% = percent", "% = percent", "%"),
    "%IACS": _one("% IACS = percent", "% IACS = percent", "% iacs", "%iacs", "%"),
    "deg": _one("° = degree", "° = degree", "°", "deg"),
    "g/m2": _one("g/m² = gram/meter**2", "oz/ft² = ounce/foot**2", "g/m2", "oz/ft2"),
    "g/cm3": _one("g/cm³ = gram/centimeter**3", "lb/US gal = pound/gallon", "g/cm3", "lb/us gal"),
    "m2/L": _one("m²/L = meter**2/liter", "ft²/US gal = foot**2/gallon", "m2/l", "ft2/us gal"),
    "L/m2": _one("L/m² = liter/meter**2", "US gal/ft² = gallon/foot**2", "l/m2", "us gal/ft2"),
    "m2/h": _one("m²/h = meter**2/hour", "ft²/h = foot**2/hour", "m2/h", "ft2/h"),
    "m/h": _one("m/h = meter/hour", "ft/h = foot/hour", "m/h", "ft/h"),
    "kg/h": _one("kg/h = kilogram/hour", "lb/h = pound/hour", "kg/h", "lb/h"),
    "L/min": _one("L/min = liter/minute", "US gal/min = gallon/minute", "l/min", "us gal/min"),
    "1/m2": _one("/m² = 1/meter**2", "/ft² = 1/foot**2", "/m2", "1/m2", "/ft2", "1/ft2"),
    "N m": _one("N m = newton*meter", "lbf in = pound_force*inch", "n m", "nm", "lbf in"),
    "": Quantity("", (Show("", ""),), (Show("", ""),)),
}


# pint takes up to a second to load, so the one factor that every metric list needs is here too; a
# test holds it equal to pint's.
_QUICK = {
    ("millimeter**2", "meter**2"): Fraction(1, 1_000_000),
    ("meter**2", "millimeter**2"): Fraction(1_000_000),
}


@cache
def _registry() -> Any:
    # Loaded on first use for the same reason. Fractions keep its factors exact (25.4, not 25.3999).
    import pint

    return pint.UnitRegistry(non_int_type=Fraction)


@cache
def _line(source: str, target: str) -> tuple[float, float, Fraction, Fraction]:
    """target = factor * source + offset, both pint expressions: as floats, then as fractions."""
    factor, offset = Fraction(1), Fraction(0)
    if (source, target) in _QUICK:
        factor = _QUICK[source, target]
    elif source != target:
        registry = _registry()
        offset = Fraction(registry.Quantity(Fraction(0), source).to(target).magnitude)
        factor = Fraction(registry.Quantity(Fraction(1), source).to(target).magnitude) - offset
    return float(factor), float(offset), factor, offset


def _convert(value: float | Fraction, source: str, target: str) -> float:
    factor, offset, exact_factor, exact_offset = _line(source, target)
    if offset or isinstance(value, Fraction):
        return float(Fraction(value) * exact_factor + exact_offset)
    # Dividing by 25.4 and multiplying by 1 / 25.4 differ in the last bit: take the exact one.
    return value / exact_factor.denominator if exact_factor.numerator == 1 else value * factor


def _quantity(unit: str) -> Quantity:
    found = QUANTITIES.get(unit)
    if found is None:
        raise MapperError(f"There is no unit {unit!r}.", f"Units: {', '.join(QUANTITIES)}.")
    return found


def grouped(text: str) -> str:
    """A decimal number's text with its thousands grouped: "-12345.678" to "-12 345.678"."""
    sign, digits = ("-", text[1:]) if text.startswith("-") else ("", text)
    whole, point, rest = digits.partition(".")
    if not whole.isdigit():
        return text
    return f"{sign}{int(whole):,}".replace(",", GAP) + point + rest


def rounded(value: float, tolerance: float | None = None, digits: int = _DIGITS) -> str:
    """A number's text, grouped: to the place of its tolerance, or to `digits` significant digits.

    tolerance: half-width in the number's own unit; the last digit shown is of the place of its
    first digit, or one further where that digit is 1 (so rounding never eats more than about a
    third of it). Without one, whole numbers are never cut. NaN and infinity have no text:
    MapperError.
    """
    if not math.isfinite(value):
        raise MapperError(f"The number is {value}.", "Only finite numbers can be shown.")
    if tolerance is not None and math.isfinite(tolerance) and tolerance > 0:
        first = f"{tolerance:.1e}"
        decimals = -int(first.split("e")[1]) + (first[0] == "1")
    elif value == 0:
        decimals = 0
    else:
        decimals = max(0, digits - 1 - math.floor(math.log10(abs(value)) + 1e-12))
    if decimals <= 0:
        number = round(value, decimals)
        return grouped(f"{number + 0.0:.0f}" if number else "0")
    text = f"{value:.{min(decimals, 12)}f}"
    return grouped(text if float(text) else text.lstrip("-"))


_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?")
_FRACTION = re.compile(r"([+-]?)(?:(\d+)(?:\s+|-))?(\d+)\s*/\s*(\d+)")
_GROUPS = re.compile(r"(?<=\d)[\u202f\u00a0 ](?=\d{3}(?!\d))")


class Units:
    """The units a shop shows, enters, prints and exports in: "metric" or "inch"."""

    def __init__(self, system: str = "metric") -> None:
        if system not in SYSTEMS:
            raise MapperError(f"The units are {system!r}.", f"Allowed: {', '.join(SYSTEMS)}.")
        self.system = system

    def __repr__(self) -> str:
        return f"Units({self.system!r})"

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Units) and other.system == self.system

    def __hash__(self) -> int:
        return hash(self.system)

    def _ways(self, unit: str) -> tuple[Show, ...]:
        quantity = _quantity(unit)
        return quantity.metric if self.system == "metric" else quantity.inch

    def _way(self, value: float, unit: str) -> Show:
        ways = self._ways(unit)
        small = value and abs(_convert(value, _quantity(unit).inside, ways[0].pint)) < ways[0].below
        return ways[1] if small else ways[0]

    def label(self, unit: str) -> str:
        """How the shop's unit for it is written at the head of a column: "mm2" gives "m²"."""
        return self._ways(unit)[0].label

    def number(self, value: float, unit: str) -> float:
        """The number in the unit of `label(unit)`, in full precision: for columns and CSV."""
        return _convert(value, _quantity(unit).inside, self._ways(unit)[0].pint)

    def inside(self, value: float, unit: str) -> float:
        """The way back of `number`: a number in the shop's unit as the program keeps it."""
        return _convert(value, self._ways(unit)[0].pint, _quantity(unit).inside)

    def show(
        self,
        value: float,
        unit: str,
        *,
        tolerance: float | None = None,
        digits: int = _DIGITS,
        with_label: bool = True,
    ) -> str:
        """A value with its unit: show(3.2e6, "mm2") is "3.20 m²".

        unit: the one inside the program. tolerance: half-width in that unit, sets the last digit
        (see `rounded`). Small areas are shown in mm² or in² where a label stands with them.
        with_label=False gives the number alone, in the unit of `label`.
        """
        quantity = _quantity(unit)
        way = self._way(value, unit) if with_label else self._ways(unit)[0]
        factor = _line(quantity.inside, way.pint)[0]
        number = _convert(value, quantity.inside, way.pint)
        text = rounded(number, None if tolerance is None else abs(tolerance * factor), digits)
        return f"{text} {way.label}" if with_label and way.label else text

    def with_tolerance(self, value: float, unit: str, percent: float) -> str:
        """A value with a relative +/-, its digits rounded to it: "3.20 m² ± 2 %"."""
        shown = self.show(value, unit, tolerance=abs(value) * percent / 100 or None)
        return f"{shown} ± {percent:g} %"

    def measured(self, value: float, plus_minus: float | None, unit: str) -> str:
        """A value with its +/-, both to the place of the +/-: "0.12 ± 0.02 mm"."""
        if plus_minus is None:
            return self.show(value, unit)
        way = self._ways(unit)[0]
        half = abs(plus_minus * _line(_quantity(unit).inside, way.pint)[0])
        text = f"{rounded(self.number(value, unit), half)} ± {rounded(half, half)}"
        return f"{text} {way.label}" if way.label else text

    def exact(self, value: float, unit: str) -> str:
        """A value as it was entered, for a form or `show ID`; inches to 10 digits."""
        way = self._way(value, unit)
        number = _convert(value, _quantity(unit).inside, way.pint)
        text = plain_number(number, None if self.system == "metric" else 10)
        return f"{text} {way.label}" if way.label else text

    def parse(self, text: str, unit: str) -> float:
        """The value inside the program of what a person typed: "1 1/4 in", "3.2 m2", "12".

        A number without a unit word is in the shop's unit (`label`). Fractions are read for any
        quantity. Raises MapperError for a comma, an unknown unit word, or no number.
        """
        given = text.strip()
        if "," in given:
            raise MapperError(
                f"{text!r} has a comma.",
                "A number has a decimal point and no comma.",
                f"Type {given.replace(',', '.')!r} if the comma is a decimal sign.",
            )
        number, word = self._split(given, text, unit)
        target = _quantity(unit).inside
        source = self._word(word, unit) if word else self._ways(unit)[0].pint
        # What was typed is a fraction, so that 3/32 in is 2.38125 mm to the last bit.
        return _convert(number, source, target)

    def parse_width(self, text: str, unit: str) -> float:
        """As `parse`, for a difference or a +/-: a temperature's zero point does not count."""
        value = self.parse(text, unit)
        word = self.split(text)[1]
        source = self._word(word, unit) if word else self._ways(unit)[0].pint
        if not _line(source, _quantity(unit).inside)[1]:
            return value
        return value - _convert(0.0, source, _quantity(unit).inside)

    def split(self, text: str) -> tuple[str, str]:
        """A typed number and its unit word, "" for none; no number gives ("", the text)."""
        given = _GROUPS.sub("", text.strip())
        match = _FRACTION.match(given) or _NUMBER.match(given)
        end = match.end() if match else 0
        return given[:end], given[end:].strip()

    def _split(self, given: str, text: str, unit: str) -> tuple[Fraction, str]:
        given = _GROUPS.sub("", given)
        fraction = _FRACTION.match(given)
        match = fraction or _NUMBER.match(given)
        if match is None:
            raise MapperError(
                f"{text!r} is no number.",
                f"Allowed: a number such as 12 or 0.5, with or without {self._allowed(unit)}.",
            )
        if fraction is None:
            if not math.isfinite(float(match.group())):
                raise MapperError(f"{text!r} is too large.", "A finite number.")
            number = Fraction(match.group())
        else:
            sign, whole, top, bottom = fraction.groups()
            if int(bottom) == 0:
                raise MapperError(f"{text!r} divides by nothing.", "A fraction such as 3/16.")
            number = Fraction(int(top), int(bottom)) + int(whole or 0)
            number = -number if sign == "-" else number
        return number, given[match.end() :].strip()

    def _word(self, word: str, unit: str) -> str:
        plain = " ".join(word.replace("²", "2").replace("³", "3").replace("μ", "µ").split())
        plain = plain.lower()
        if plain not in _quantity(unit).words:
            raise MapperError(
                f"{word!r} is no unit for this.",
                f"Allowed: {self._allowed(unit)}." if _quantity(unit).words else "It has no unit.",
                f"Without a unit it is in {self.label(unit)}." if self.label(unit) else "",
            )
        return _WORDS[plain]

    def _allowed(self, unit: str) -> str:
        return ", ".join(_quantity(unit).words) or "nothing behind it"


def plain_number(value: float, digits: int | None = None) -> str:
    """A number's shortest text without exponent or grouping; to that many significant digits."""
    text = f"{Decimal(repr(float(value)) if digits is None else f'{value:.{digits}g}'):f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return text if float(text) else "0"
