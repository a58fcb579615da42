"""Numbers as people read and type them: metric or inch, always with their unit.

Inside the program there is one unit for each quantity (mm, mm2, L, kg, um, min, g/m2, bar, C ...);
here they are shown, labelled and read in the shop's own. Factors are exact, by definition.

Thousands are grouped by a narrow no-break space, and the decimal sign is the point (ISO 80000-1):
a comma would mean thousands to one reader and a decimal to another, so it is refused.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from decimal import Decimal
from difflib import get_close_matches
from fractions import Fraction
from functools import cache, lru_cache
from itertools import pairwise

from mapper.errors import MapperError
from mapper.quantities import QUANTITIES, SIZES, SPELLED, WORDS, Quantity, Show

SYSTEMS = ("metric", "inch")
GAP = "\u202f"
MOST = 1e30  # of a number that is typed, in whatever unit
_DIGITS = 3  # significant digits shown where no tolerance is given, whole numbers never cut


@cache
def _size(expression: str) -> Fraction:
    """How many SI units a pint expression of products, quotients and powers is, exactly."""
    over, *under = expression.split("/")
    size = Fraction(1)
    for sign, words in ((1, over), *((-1, u) for u in under)):
        for word in words.replace("**", "^").split("*"):
            name, _, power = word.partition("^")
            size *= SIZES[name] ** (sign * int(power or 1))
    return size


@cache
def _line(source: str, target: str) -> tuple[float, float, Fraction, Fraction]:
    """target = factor * source + offset, both pint expressions: as floats, then as fractions."""
    # Degrees Fahrenheit are the one unit that does not begin where the others do.
    if source != target and "degF" in (source, target):
        up, zero = Fraction(9, 5), Fraction(32)
        factor, offset = (up, zero) if target == "degF" else (1 / up, -zero / up)
    else:
        factor, offset = _size(source) / _size(target), Fraction(0)
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


def count_of(number: int, one: str, many: str = "") -> str:
    """ "1 entry", "2 entries": a count with the word that goes with it. many: "" adds an s."""
    return f"{grouped(str(number))} {one if number == 1 else many or f'{one}s'}"


_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?")
_FRACTION = re.compile(r"([+-]?)(?:(\d+)(?:\s+|-))?(\d+)\s*/\s*(\d+)")
_GROUPS = re.compile(r"(?<=\d)[\u202f\u00a0 ](?=\d{3}(?!\d|\s*/))")
# A unit word with another number behind it: "2 ft 6", "6'-3 1/2", "1 h 20 min".
_MORE = re.compile(r"""([^\W\d_]+(?: [^\W\d_]+)*|['"])\s*(?:(?<=\S)-)?(\.?\d.*)""")
# Hours and minutes as a clock shows them: "1:20". Minutes and seconds are never written so.
_CLOCK, _TIMED = re.compile(r"^(\d{1,3}):([0-5]\d)$"), ("min", "h")
# The unit of a last number that has none.
_NEXT = {"foot": "in", "hour": "min"}
_FEW = 20  # a column stays in the smaller unit up to so many times where it begins
_TYPED = 7  # significant digits that a person may have typed; more come of a conversion
_LONG = 3  # so many more digits than another unit needs were not typed


def _plain(word: str) -> str:
    """A unit word as `WORDS` has it: "fl. oz." is "fl oz"."""
    plain = word.replace("²", "2").replace("³", "3").replace("μ", "µ").replace(". ", " ")
    return " ".join(plain.split()).lower().rstrip(".")


def _terms(given: str) -> list[tuple[str, str]]:
    """(number, unit word) of each term typed; [] where it does not begin with a number."""
    terms: list[tuple[str, str]] = []
    while match := _FRACTION.match(given) or _NUMBER.match(given):
        tail = given[match.end() :].strip()
        more = None if _plain(tail) in WORDS else _MORE.fullmatch(tail)
        if more is None:
            return [*terms, (match.group(), tail)]
        terms.append((match.group(), more.group(1)))
        given = more.group(2)
    return []


def _fraction(number: str, text: str) -> Fraction:
    """A number's text as an exact fraction; MapperError where it is none that can be used."""
    match = _FRACTION.fullmatch(number)
    # So far beyond any measurement that what is worked out from it stays finite too.
    large = len(number) > 60 if match else abs(float(number)) > MOST
    if large:
        raise MapperError(f"{text[:80]!r} is too large.", f"A finite number, up to {MOST:g}.")
    if match is None:
        return Fraction(number)
    sign, whole, top, bottom = match.groups()
    if int(bottom) == 0:
        raise MapperError(f"{text!r} divides by nothing.", "A fraction such as 3/16.")
    value = Fraction(int(top), int(bottom)) + int(whole or 0)
    return -value if sign == "-" else value


def _check_terms(terms: list[tuple[Fraction, str]], text: str) -> None:
    """MapperError unless units grow smaller from term to term and none reaches the one before."""
    for (number, larger), (rest, smaller) in pairwise(terms):
        whole = number.denominator == 1
        step = _line(larger, smaller)[2] if whole else 0
        if not whole or step <= 1 or rest >= step:
            raise MapperError(
                f"{text!r} does not add up.",
                "Whole larger units first, then less than one of them: 2 ft 6 1/2 in, 1 h 20 min.",
                "Write it again, or in one unit.",
            )


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

    def column(self, values: Sequence[float], unit: str, percent: float = 0.0) -> list[str]:
        """Values as `show` gives them, all in one unit, so that a reader compares them at a glance:
        that of the smallest, where the largest is no great number in it. percent: a relative +/-
        that sets the digits; 0 for none."""
        if not values:
            return []
        quantity, way = _quantity(unit), self._way(max(values, key=abs), unit)
        large = self._ways(unit)[0]
        small = self._way(min(values, key=abs), unit)
        most = max(abs(_convert(v, quantity.inside, large.pint)) for v in values)
        way = small if most < _FEW * large.below else way
        numbers = [_convert(v, quantity.inside, way.pint) for v in values]
        return [
            f"{rounded(n, abs(n) * percent / 100 or None)} {way.label}".strip() for n in numbers
        ]

    def measured(self, value: float, plus_minus: float | None, unit: str) -> str:
        """A value with its +/-, both to the place of the +/-: "0.12 ± 0.02 mm"."""
        if plus_minus is None:
            return self.show(value, unit)
        way = self._ways(unit)[0]
        half = abs(plus_minus * _line(_quantity(unit).inside, way.pint)[0])
        text = f"{rounded(self.number(value, unit), half)} ± {rounded(half, half)}"
        return f"{text} {way.label}" if way.label else text

    def exact(self, value: float, unit: str, *, width: bool = False) -> str:
        """A value as it was typed, which `parse` reads back to the last bit.

        In the shop's unit where few digits say it, else in the other system's ("0.12 mm" in an inch
        shop), else in the shop's with every digit. width: a +/-, without a zero point.
        """
        typed = self._typed(value, unit, width)
        if typed is not None:
            return typed[0]
        way = self._way(value, unit)
        text = plain_number(self._in(value, unit, way, width))
        return f"{text} {way.label}" if way.label else text

    def told(self, value: float, unit: str) -> str:
        """A value for a reader: the digits typed; where they were typed in the other system's unit,
        the shop's with sensible digits before them: "0.004724 in (0.12 mm)"."""
        typed = self._typed(value, unit)
        if typed is not None and typed[1]:
            return typed[0]
        shown = self.show(value, unit, digits=4)
        return shown if typed is None else f"{shown} ({typed[0]})"

    def _in(self, value: float, unit: str, way: Show, width: bool) -> float:
        factor = _line(_quantity(unit).inside, way.pint)[2]
        return float(Fraction(value) * factor) if width else self._of(value, unit, way)

    @staticmethod
    def _of(value: float, unit: str, way: Show) -> float:
        return _convert(value, _quantity(unit).inside, way.pint)

    def _typed(self, value: float, unit: str, width: bool = False) -> tuple[str, bool] | None:
        """(the shortest text of few digits that is exactly the value, whether in the shop's own
        units); None where there is none."""
        return _shortest(self, value, unit, width)

    def parse(self, text: str, unit: str) -> float:
        """The value inside the program of what a person typed: "1 1/4 in", "3.2 m2", "12",
        "2 ft 6 1/2", "6'-3", "1 h 20 min".

        A number without a unit word is in the shop's unit (`label`); behind feet it is inches,
        behind hours minutes. Fractions are read for any quantity. Raises MapperError for a comma,
        an unknown unit word, no number, and terms that do not go together.
        """
        given = _CLOCK.sub(r"\1 h \2 min", text.strip()) if unit in _TIMED else text.strip()
        if "," in given:
            raise MapperError(
                f"{text!r} has a comma.",
                "A number has a decimal point and no comma.",
                f"Type {given.replace(',', '.')!r} if the comma is a decimal sign.",
            )
        terms = [
            (_fraction(number, text), self._word(word, unit) if word else self._ways(unit)[0].pint)
            for number, word in self._terms(given, text, unit)
        ]
        target = _quantity(unit).inside
        # What was typed is a fraction, so that 3/32 in is 2.38125 mm to the last bit.
        if len(terms) == 1:
            return _convert(*terms[0], target)
        _check_terms(terms, text)
        total = sum(abs(number) * _line(source, target)[2] for number, source in terms)
        return float(-total if given.startswith("-") else total)

    def parse_width(self, text: str, unit: str) -> float:
        """As `parse`, for a difference or a +/-: a temperature's zero point does not count."""
        value = self.parse(text, unit)
        word = self.split(text)[1]
        source = self._word(word, unit) if word else self._ways(unit)[0].pint
        if not _line(source, _quantity(unit).inside)[1]:
            return value
        return value - _convert(0.0, source, _quantity(unit).inside)

    def split(self, text: str) -> tuple[str, str]:
        """A typed number and its unit word, "" for none; no number gives ("", the text). Of several
        ("2 ft 6 in") the last word is cut off."""
        given = _GROUPS.sub("", text.strip())
        terms = _terms(given)
        if not terms:
            return "", given
        word = terms[-1][1]
        if len(terms) > 1 and not word:
            return given, _NEXT.get(WORDS.get(_plain(terms[-2][1]), ""), "")
        return given[: len(given) - len(word)].rstrip(), word

    def _terms(self, given: str, text: str, unit: str) -> list[tuple[str, str]]:
        terms = _terms(_GROUPS.sub("", given))
        if not terms:
            raise MapperError(
                f"{text!r} is no number.",
                f"Allowed: a number such as 12 or 0.5, with or without {self._allowed(unit)}.",
            )
        if len(terms) > 1 and not terms[-1][1]:
            before = self._word(terms[-2][1], unit)
            if before not in _NEXT:
                raise MapperError(
                    f"{text!r} does not say what the {terms[-1][0]} is in.",
                    "Only inches after feet and minutes after hours may be left out.",
                    "Write the unit behind it.",
                )
            terms[-1] = (terms[-1][0], _NEXT[before])
        return terms

    def _word(self, word: str, unit: str) -> str:
        plain = _plain(word)
        if plain not in _quantity(unit).words:
            raise MapperError(
                f"{word!r} is no unit for this.",
                f"Allowed: {self._allowed(unit)}." if _quantity(unit).words else "It has no unit.",
                self._meant(plain, unit),
            )
        return WORDS[plain]

    def _meant(self, plain: str, unit: str) -> str:
        """What somebody who wrote that unit word may have meant, in words."""
        close = get_close_matches(plain, _quantity(unit).words, n=1)
        near = f"Did you mean {close[0]!r}?" if close else ""
        bare = f"Without a unit it is in {self.label(unit)}." if self.label(unit) else ""
        return SPELLED.get((unit, plain)) or near or bare

    def _allowed(self, unit: str) -> str:
        """One word of each unit, as first in the table: its other spellings go without saying."""
        words = {WORDS[word]: word for word in reversed(_quantity(unit).words)}
        return ", ".join(reversed(words.values())) or "nothing behind it"


def plain_number(value: float, digits: int | None = None) -> str:
    """A number's shortest text without exponent or grouping; to that many significant digits."""
    text = f"{Decimal(repr(float(value)) if digits is None else f'{value:.{digits}g}'):f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return text if float(text) else "0"


# A job shows the same gauges, times and sizes again and again.
@lru_cache(maxsize=20_000)
def _shortest(units: Units, value: float, unit: str, width: bool) -> tuple[str, bool] | None:
    first = units._way(value, unit)
    ours = (first, *(w for w in units._ways(unit) if w != first))
    other = Units("metric" if units.system == "inch" else "inch")
    for way in (*ours, other._way(value, unit), *other._ways(unit)):
        found = _few(units, value, unit, way, width)
        # "3 fl oz" is no 0.0234375 US gal: long digits of a liquid came of a smaller measure.
        if found and found[1] > _LONG and unit == "L":
            small = _few(units, value, unit, units._ways("ml")[0], width)
            found = small if small and small[1] <= found[1] - _LONG else found
        if found:
            return found[0], way in ours
    return None


def _few(units: Units, value: float, unit: str, way: Show, width: bool) -> tuple[str, int] | None:
    """(the shortest text that is exactly the value, its digits) in one way; None where many."""
    number = units._in(value, unit, way, width)
    factor, offset = _line(way.pint, _quantity(unit).inside)[2:]
    for digits in range(1, _TYPED + 1):
        text = plain_number(number, digits)
        if float(Fraction(text) * factor + (0 if width else offset)) == value:
            return f"{text} {way.label}".strip(), digits
    return None
