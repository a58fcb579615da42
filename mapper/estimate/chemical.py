"""Chemical stripping: how much stripper, how many hours, how much waste.

The formulas are the trade's usual bookkeeping (common practice, no source): each application takes
off all but a fraction of a coat, the next one wets only what is left, and after a number of goes
the rest is scraped or rubbed wet by hand. Every function takes plain numbers or arrays of trials.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from mapper.errors import MapperError
from mapper.estimate.inputs import Number, number

FINISHED = 0.02  # a coat counts as off when this fraction of its area is left


@dataclass(frozen=True, eq=False)
class Coats:
    """Coats of one kind in a stack, stripped one after another.

    name: words ("enamel"). count: how many (0 allowed). left: fraction of a coat left by one
    application, 0 <= left < 1. scrape: m2/h. thickness: um of each coat. most: most applications
    a coat gets (None: no cap).
    """

    name: str
    count: Number
    left: Number
    scrape: Number
    thickness: Number
    most: float | None = None

    def __post_init__(self) -> None:
        number(f"The number of {self.name} coats", self.count, least=0)
        number(f"What one application leaves of {self.name}", self.left, least=0, below=1)
        number(f"The scraping rate of {self.name}", self.scrape, unit="m2/h", above=0)
        number(f"The thickness of {self.name}", self.thickness, unit="um", least=0)
        if self.most is not None:
            number(f"The most applications for {self.name}", self.most, least=1)


@dataclass(frozen=True, eq=False)
class Rates:
    """Everything else the formulas need, in the units of the field's comment."""

    lap: Number  # m, how far an application runs over the edge of what is stripped
    wet_film: Number  # mm; 1 mm is 1 L/m2
    drip: Number  # fraction of the stripper lost before it works
    apply: Number  # m2/h
    rinse: Number  # m2/h
    tape: Number  # m/h
    hand: Number  # m2/h, what is left after the last application
    dwell: Number  # min per application
    coat_density: Number  # g/cm3, dry paint
    stripper_density: Number  # kg/L
    evaporated: Number  # fraction of the stripper that dries off
    rinse_water: Number  # L/m2 per rinse
    rinses: Number = 2.0

    def __post_init__(self) -> None:
        for name, unit in (("apply", "m2/h"), ("rinse", "m2/h"), ("tape", "m/h"), ("hand", "m2/h")):
            number(f"The rate {name!r}", getattr(self, name), unit=unit, above=0)
        number("The lap", self.lap, unit="m", least=0)
        number("The wet film", self.wet_film, unit="mm", above=0)
        number("The drip loss", self.drip, least=0, below=1)
        number("The evaporated fraction", self.evaporated, least=0, most=1)
        number("The dwell", self.dwell, unit="min", least=0)
        number("The density of the paint", self.coat_density, unit="g/cm3", above=0)
        number("The density of the stripper", self.stripper_density, unit="kg/L", above=0)
        number("The rinse water", self.rinse_water, unit="L/m2", least=0)
        number("The number of rinses", self.rinses, least=0)


@dataclass(frozen=True, eq=False)
class Stripping:
    """What stripping one region takes. m2, m, L, kg, hours; `hours` is labour, `dwell_hours` is
    waiting (it overlaps between regions and is never added to labour)."""

    area: Number
    worked_area: Number  # with the lap all round
    applied_area: Number  # all applications together
    by_kind: tuple[Number, ...]  # applied_area of each kind of coat, in the order given
    rounds: tuple[Number, ...]  # applications for one coat of each kind
    hand_area: Number
    stripper: Number  # L
    apply_hours: Number
    scrape_hours: tuple[Number, ...]
    hand_hours: Number
    rinse_hours: Number
    tape_hours: Number
    hours: Number
    dwell_hours: Number
    paint_waste: Number  # kg, dry
    stripper_waste: Number  # kg, wet
    sludge: Number  # kg, the two together
    rinse_water: Number  # L, to be collected


def worked_area(area: Number, perimeter: Number, lap: Number) -> Number:
    """A + w P in m2: the region with the lap of an application all round it. Empty region: 0."""
    number("The area", area, unit="m2", least=0)
    number("The perimeter", perimeter, unit="m", least=0)
    number("The lap", lap, unit="m", least=0)
    return area + lap * perimeter


def rounds(left: Number, *, most: float | None = None, finished: float = FINISHED) -> Number:
    """Applications until at most `finished` of a coat is left: ceil(ln finished / ln left).

    left: fraction one application leaves, 0 <= left < 1 (0: one application does it). most: the
    cap; without one a coat that hardly moves asks for hundreds. At least 1.
    """
    number("What one application leaves", left, least=0, below=1)
    number("The finished fraction", finished, above=0, below=1)
    # log of 0 is meant: minus infinity gives one application; 1e-9 keeps .1^2 = .01 at two.
    with np.errstate(divide="ignore"):
        needed = np.maximum(1.0, np.ceil(np.log(finished) / np.log(left) - 1e-9))
    capped = needed if most is None else np.minimum(needed, number("The cap", most, least=1))
    return number("Applications", capped)


def wetted(area: Number, left: Number, goes: Number) -> Number:
    """A (1 - r^n) / (1 - r): m2 wetted by n goes when each wets only what is left. 0 goes: 0."""
    number("The area", area, unit="m2", least=0)
    number("What one application leaves", left, least=0, below=1)
    number("The number of applications", goes, least=0)
    # Through expm1, so that r near 1 tends to n areas instead of losing its digits.
    with np.errstate(divide="ignore"):
        ln = np.log(left)
    return number("The wetted area", area * np.expm1(goes * ln) / np.expm1(ln))


def strip(
    area: Number,
    perimeter: Number,
    coats: Sequence[Coats],
    rates: Rates,
    taped: Number | None = None,
) -> Stripping:
    """What it takes to strip `coats` off a region of `area` m2 and worked `perimeter` m.

    A coat is scraped by hand at the end only where the cap stopped it above 2 %; below that the
    last scraping has it. Tape goes once along `taped` m (None: the perimeter). Without
    coats (or with an empty region) everything is 0, rinsing and taping included. MapperError for
    values out of range.
    """
    nothing = np.zeros(np.broadcast(area, perimeter, *(c.count for c in coats)).shape)
    any_coats = np.asarray(sum((c.count for c in coats), nothing)) > 0
    size = number("The area", np.where(any_coats, area, 0.0) + nothing, unit="m2", least=0)
    edge = np.where(np.asarray(size) > 0, perimeter, 0.0)
    reach = worked_area(size, edge, rates.lap)
    by_kind, goes, scrape_hours = [], [], []
    hand = nothing
    paint = nothing
    waits = nothing
    for coat in coats:
        n = rounds(coat.left, most=coat.most)
        applied = coat.count * wetted(reach, coat.left, n)
        by_kind.append(number("area", applied))
        goes.append(n)
        scrape_hours.append(number("hours", applied / coat.scrape))
        rest = np.power(coat.left, n)
        hand = hand + coat.count * reach * np.where(rest > FINISHED * (1 + 1e-9), rest, 0.0)
        paint = paint + coat.count * coat.thickness * rates.coat_density * size / 1000.0
        waits = waits + np.where(np.asarray(size) > 0, coat.count * n, 0.0)
    applied_area = sum(by_kind, nothing)
    litres = applied_area * rates.wet_film / (1.0 - rates.drip)
    apply_hours = applied_area / rates.apply
    hand_hours = hand / rates.hand
    rinse_hours = size / rates.rinse
    along = number("The edge taped", perimeter if taped is None else taped, unit="m", least=0)
    tape_hours = np.where(np.asarray(size) > 0, along, 0.0) / rates.tape
    wet = litres * rates.stripper_density * (1.0 - rates.evaporated)
    labour = apply_hours + sum(scrape_hours, nothing) + hand_hours + rinse_hours + tape_hours
    return Stripping(
        area=size,
        worked_area=number("area", reach),
        applied_area=number("area", applied_area),
        by_kind=tuple(by_kind),
        rounds=tuple(goes),
        hand_area=number("area", hand),
        stripper=number("stripper", litres),
        apply_hours=number("hours", apply_hours),
        scrape_hours=tuple(scrape_hours),
        hand_hours=number("hours", hand_hours),
        rinse_hours=number("hours", rinse_hours),
        tape_hours=number("hours", tape_hours),
        hours=number("hours", labour),
        dwell_hours=number("dwell", waits * rates.dwell / 60.0),
        paint_waste=number("paint", paint),
        stripper_waste=number("stripper", wet),
        sludge=number("sludge", paint + wet),
        rinse_water=number("water", size * rates.rinses * rates.rinse_water),
    )


def stripped_from_can(before: float, after: float, unit: str, density: float) -> float:
    """Litres used, from a can read before and after in "L" or "kg" (density kg/L).

    MapperError when the can got fuller or the unit is another.
    """
    if unit not in ("L", "kg"):
        raise MapperError(f"The can was read in {unit!r}.", "It is read in L or kg.")
    number("The can before", before, unit=unit, least=0)
    number("The can after", after, unit=unit, least=0, most=before)
    number("The density", density, unit="kg/L", above=0)
    used = before - after
    return used if unit == "L" else used / density
