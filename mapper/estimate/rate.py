"""One starting value of an estimate: its range, its limits, and what it rests on."""

from __future__ import annotations

from dataclasses import dataclass

from mapper.errors import MapperError
from mapper.estimate.inputs import number
from mapper.estimate.told import finer
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

        # All of a range stands in the unit of its upper end.
        most, name = finer(self.high, self.unit, units)
        many = most / self.high if self.high else 1.0

        def number(value: float) -> str:
            return plain_number(units.number(value * many, name), 3)

        unit = f" {units.label(name)}" if self.unit else ""
        span = f"{number(self.low)} to {number(self.high)}"
        if self.low == self.high:
            return f"{self.label} {number(self.value)}{unit} (no range known): {self.basis}"
        if self.span_only:
            return f"{self.label} {span}{unit}: {self.basis}"
        return f"{self.label} {number(self.value)}{unit} ({span}): {self.basis}"


def start(
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


def only(value: float) -> tuple[float, float, float]:
    return (value, value, value)
