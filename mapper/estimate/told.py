"""Amounts of an estimate as people measure them out: in the unit of their size, to the digits that
the range leaves, and never less than can be poured, weighed or taped."""

from __future__ import annotations

import math

from mapper.units import Units

# Unit inside the program: the finer one that small amounts are told in, how many of it there are,
# and below how much of the first one (metric, inch): in the shop's own label, so that nobody reads
# 0.0813 US gal where a cup is meant.
_FINER = {
    "L": ("ml", 1000.0, 0.1, 0.25),
    "kg": ("g", 1000.0, 0.1, 1.0),
    "h": ("min", 60.0, 1.0, 1.0),
    "m": ("mm", 1000.0, 0.1, 1.0),
    "mm": ("um", 1000.0, 0.0, 0.1),  # a wet film is read in mil, a metric comb in tenths of mm
    "m2": ("mm2", 1e6, 0.01, 0.1),
}
# The least that is measured out, in the unit shown (metric, inch): common practice, no source.
_STEPS = {
    "ml": (1.0, 0.1),
    "g": (1.0, 0.1),
    "min": (1.0, 1.0),
    "mm": (1.0, 0.1),
    "mm2": (1.0, 0.01),
}
_KEEP = 2  # significant digits that a middle keeps, however wide its range


def finer(value: float, unit: str, units: Units, like: float | None = None) -> tuple[float, str]:
    """A value and its unit, in the finer unit where it is small; as given where there is none.

    like: the value by which the unit is chosen (None: its own), so that a range has one unit.
    """
    small = _FINER.get(unit)
    size = abs(value if like is None else like)
    if small is None or not size:
        return value, unit
    name, many, *below = small
    if units.number(size, unit) >= below[units.system == "inch"]:
        return value, unit
    return value * many, name


def amount(
    value: float,
    unit: str,
    units: Units,
    half: float = 0.0,
    keep: int = _KEEP,
    like: float | None = None,
) -> str:
    """An amount with its unit: "4.6 US gal", "3.2 US fl oz", "under 1 min"; counts as they are.

    value, half (half the width of its range, 0 for none): in the unit inside the program. The last
    digit is of the place of `half`, but `keep` significant digits are always there. like: as for
    `finer`.
    """
    if not unit:
        return f"{value:.0f}" if value == round(value) else units.show(value, unit, digits=keep)
    inside, name = finer(value, unit, units, like)
    shown = units.show(inside, name, digits=12)
    digits, label = units.split(shown)
    number = abs(float(digits))
    if not number:
        return units.show(inside, name)
    one = abs(inside) / number  # of the unit shown, in the unit inside the program
    step = _STEPS.get(name, (0.0, 0.0))[units.system == "inch"]
    if number < step:
        return f"under {step:g} {label}"
    # Twice a place: a tolerance that begins with a 1 asks for one digit more.
    place = 2.0 * 10.0 ** (math.floor(math.log10(number) + 1e-12) - keep + 1)
    width = half * abs(inside / value) / one
    asked = min(width, place) or place / 10.0
    return units.show(inside, name, tolerance=max(asked, 2.0 * step) * one)


def span(
    low: float, middle: float, high: float, unit: str, units: Units, like: float | None = None
) -> tuple[str, str]:
    """A middle, and its range with the unit once: ("12 L", "9.8 to 16 L"). All three are in the
    unit of the middle, or of `like`."""
    half = (high - low) / 2.0
    by = middle if like is None else like
    words = [
        amount(v, unit, units, half, keep, by) for v, keep in ((low, 1), (middle, _KEEP), (high, 1))
    ]
    number, label = units.split(words[0])
    if words[0] == words[2]:
        return words[1], words[0]
    same = number and units.split(words[2])[1] == label
    return words[1], f"{number if same else words[0]} to {words[2]}"


def like_whole(whole: float, left: float) -> float:
    """By which value the unit of what is left is chosen: that of the whole, so that both are read
    together, unless less than a quarter is left."""
    return min(whole, 4.0 * left)
