"""The table of quantities: the unit inside the program, how metric and inch shops show it, and the
unit words a person may type with it. `mapper.units` shows and reads by it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType


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


# How many SI units each is, exactly, by definition (international yard and pound of 1959; gallon of
# 231 cubic inches; standard gravity 9.80665 m/s2). They stand here because pint, which the tests
# hold them against, takes a second to load, and every command shows a number.
_INCH, _POUND, _GALLON = Fraction("0.0254"), Fraction("0.45359237"), 231 * Fraction("0.0254") ** 3
_FORCE = _POUND * Fraction("9.80665")
SIZES: Mapping[str, Fraction] = MappingProxyType(
    {
        "": Fraction(1),
        "1": Fraction(1),
        "percent": Fraction(1, 100),
        "degree": Fraction(1),
        "degC": Fraction(1),
        "degF": Fraction(1),
        "micrometer": Fraction(1, 1_000_000),
        "millimeter": Fraction(1, 1000),
        "centimeter": Fraction(1, 100),
        "meter": Fraction(1),
        "thou": _INCH / 1000,
        "inch": _INCH,
        "foot": 12 * _INCH,
        "liter": Fraction(1, 1000),
        "milliliter": Fraction(1, 1_000_000),
        "gallon": _GALLON,
        "quart": _GALLON / 4,
        "pint": _GALLON / 8,
        "fluid_ounce": _GALLON / 128,
        "gram": Fraction(1, 1000),
        "kilogram": Fraction(1),
        "pound": _POUND,
        "ounce": _POUND / 16,
        "second": Fraction(1),
        "minute": Fraction(60),
        "hour": Fraction(3600),
        "bar": Fraction(100_000),
        "kilopascal": Fraction(1000),
        "psi": _FORCE / _INCH**2,
        "newton": Fraction(1),
        "pound_force": _FORCE,
    }
)
# What a typed unit word means to pint. Only these are read: nothing a person types is evaluated.
MEANING = """
µm um micron microns = micrometer; mm = millimeter; cm = centimeter; m = meter
mil mils thou = thou; in inch inches " = inch; ft foot feet ' = foot
mm2 = millimeter**2; cm2 = centimeter**2; m2 = meter**2
in2 sq_in = inch**2; ft2 sq_ft = foot**2
l litre litres liter liters = liter; ml = milliliter; us_gal gal gallon gallons = gallon
us_qt qt quart quarts = quart; us_pt pt pint pints = pint; us_fl_oz fl_oz = fluid_ounce
kg = kilogram; g = gram; lb lbs = pound; oz = ounce
min mins minute minutes = minute; h hr hrs hour hours = hour; s = second
bar = bar; psi = psi; kpa = kilopascal
°c c = degC; °f f = degF; % = percent; %_iacs %iacs = percent; ° deg = degree
g/m2 = gram/meter**2; oz/ft2 = ounce/foot**2
g/cm3 = gram/centimeter**3; lb/us_gal = pound/gallon
m2/l = meter**2/liter; ft2/us_gal = foot**2/gallon
l/m2 = liter/meter**2; us_gal/ft2 = gallon/foot**2
µm_m2/h um_m2/h = micrometer*meter**2/hour; mil_ft2/h = thou*foot**2/hour
m2/h = meter**2/hour; ft2/h = foot**2/hour; m/h = meter/hour; ft/h = foot/hour
kg/h = kilogram/hour; lb/h = pound/hour; l/min = liter/minute; us_gal/min = gallon/minute
/m2 1/m2 = 1/meter**2; /ft2 1/ft2 = 1/foot**2
n_m nm = newton*meter; lbf_in = pound_force*inch
"""
WORDS = {
    word.replace("_", " "): meaning.strip()
    for words, meaning in (
        pair.split("=") for pair in MEANING.strip().replace("\n", ";").split(";")
    )
    for word in words.split()
}
_METRIC_LENGTHS = ("mm", "cm", "m", "µm", "um", "micron", "microns")
_INCH_LENGTHS = ("in", "inch", "inches", '"', "ft", "foot", "feet", "'", "mil", "mils", "thou")
_LENGTHS = _METRIC_LENGTHS + _INCH_LENGTHS
_AREAS = ("mm2", "cm2", "m2", "in2", "sq in", "ft2", "sq ft")
_TIMES = ("min", "mins", "minute", "minutes", "h", "hr", "hrs", "hour", "hours", "s")
_LIQUIDS = (
    *("l", "litre", "litres", "liter", "liters", "ml", "us gal", "gal", "gallon", "gallons"),
    *("us qt", "qt", "quart", "quarts", "us pt", "pt", "pint", "pints", "us fl oz", "fl oz"),
)
# What people write for a quantity and cannot be taken as it is, with what they mean.
SPELLED: Mapping[tuple[str, str], str] = MappingProxyType(
    {
        ("L", "oz"): "An ounce of a liquid is written fl oz (US fluid ounce); oz is a weight.",
        ("L", "lb"): "It is a volume; what was weighed goes into the field for weight.",
        ("L", "kg"): "It is a volume; what was weighed goes into the field for weight.",
        ("kg", "fl oz"): "It is a weight, in lb or oz; what was poured goes into the volume's.",
        ("kg", "gal"): "It is a weight, in lb or oz; what was poured goes into the volume's.",
        ("kg", "l"): "It is a weight, in kg or g; what was poured goes into the volume's.",
        ("bar", "lbs"): "Pounds to the square inch are written psi.",
        ("bar", "lb"): "Pounds to the square inch are written psi.",
    }
)


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
        *_LIQUIDS,
    ),
    # What is measured out in small: estimates are told in it.
    "ml": _one("ml = milliliter", "US fl oz = fluid_ounce", *_LIQUIDS),
    "g": _one("g = gram", "oz = ounce", "kg", "g", "lb", "lbs", "oz"),
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
    "um m2/h": _one(
        "µm m²/h = micrometer*meter**2/hour",
        "mil ft²/h = thou*foot**2/hour",
        *("µm m2/h", "um m2/h", "mil ft2/h"),
    ),
    "m/h": _one("m/h = meter/hour", "ft/h = foot/hour", "m/h", "ft/h"),
    "kg/h": _one("kg/h = kilogram/hour", "lb/h = pound/hour", "kg/h", "lb/h"),
    "L/min": _one("L/min = liter/minute", "US gal/min = gallon/minute", "l/min", "us gal/min"),
    "1/m2": _one("/m² = 1/meter**2", "/ft² = 1/foot**2", "/m2", "1/m2", "/ft2", "1/ft2"),
    "N m": _one("N m = newton*meter", "lbf in = pound_force*inch", "n m", "nm", "lbf in"),
    "": Quantity("", (Show("", ""),), (Show("", ""),)),
}
