"""Acid brightener and conversion coat: litres to mix for bare aluminium.

Bookkeeping of the trade (common practice, no source); the maker's sheet governs mix, time and the
metals each may touch. Not for steel without engineering authority, never for high-strength steel
or magnesium: see `cautions.py`. Every function takes plain numbers or arrays of trials.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from mapper.estimate.chemical import wetted
from mapper.estimate.inputs import Number, number

SPARE = 1.1  # a tenth more than the sheet's coverage (common practice, no source)
ASK_AT = 3  # AC 43.13-1B: a stronger method when corrosion remains after the second attempt


@dataclass(frozen=True, eq=False)
class Mix:
    """Litres of brightener as put on, and litres of concentrate and of water in it."""

    mix: Number
    concentrate: Number
    water: Number


def brighten(area: Number, left: Number, goes: Number, coverage: Number, parts: Number) -> Mix:
    """Mix for `goes` attempts on `area` m2: A (1 - r^n) / ((1 - r) c), each attempt on what the one
    before left.

    left: the share r of the corrosion one attempt leaves, 0 <= r < 1. coverage: c, m2/L of mix.
    parts: parts of water to one of concentrate, 0 for a mix used as it comes. No area: 0.
    """
    number("The coverage", coverage, unit="m2/L", above=0)
    number("The parts of water", parts, least=0)
    mix = number("The mix", wetted(area, left, goes) / coverage)
    concentrate = number("The concentrate", mix / (1.0 + parts))
    return Mix(mix, concentrate, mix - concentrate)


def convert(area: Number, coverage: Number) -> Number:
    """Litres of conversion coat for `area` m2 at `coverage` m2/L, a tenth to spare. No area: 0."""
    number("The area", area, unit="m2", least=0)
    number("The coverage", coverage, unit="m2/L", above=0)
    return number("The conversion coat", SPARE * area / coverage)


def clean(area: Number, rate: Number) -> Number:
    """Hours to clean the corrosion out of `area` m2, all attempts together, at `rate` m2/h of the
    shop's own; 0 where none is entered (a rate of 0). Blending, and having it judged, are apart."""
    number("The area", area, unit="m2", least=0)
    number("The rate of cleaning corrosion", rate, unit="m2/h", least=0)
    known = np.asarray(rate) > 0.0
    return number("hours", np.where(known, area / np.where(known, rate, 1.0), 0.0))
