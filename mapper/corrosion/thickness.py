"""Depth grades and what is left of a sheet: arithmetic for an inspector, never a decision.

A +/- is a 95 % half-width and is turned into a standard deviation here. The answers are "above the
limit", "below", "too close to tell: measure again", and "not decided" where a +/- is missing, which
no second measurement of the same kind would give; which damage may stay is a licensed person's
decision against the structural repair data.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from mapper.errors import MapperError
from mapper.job.fields import Measured

HALF_WIDTH = 1.959963984540054  # standard normal quantile of .975
FACTOR = 1.645  # one-sided 95 %; common practice, no source; a shop setting, printed
FACTOR_KEY = "corrosion.factor"

# NAVEDTRA 14022; TM 1-1520-238-23 1.49.14: light to .001 in, moderate to .010 in, severe above;
# a bound belongs to the lower grade. .001 and .010 in are .0254 and .254 mm.
GRADES = (("light", 0.0254), ("moderate", 0.254), ("severe", math.inf))
GRADE_SOURCE = "NAVEDTRA 14022; TM 1-1520-238-23 1.49.14"

ABOVE = "above the limit"
BELOW = "below"
AGAIN = "too close to tell: measure again"
NOT_DECIDED = "not decided"


def grade(depth: float) -> str:
    """ "light", "moderate" or "severe" for a depth in mm; "none" for 0. MapperError below 0."""
    if not (math.isfinite(depth) and depth >= 0.0):
        raise MapperError(f"The depth is {depth!r} mm.", "It must be 0 mm or more.")
    if depth == 0.0:
        return "none"
    # 1e-9: a depth typed as .001 in must not leave its grade by the last bit of a conversion.
    return next(word for word, most in GRADES if depth <= most * (1.0 + 1e-9))


def deviation(measured: Measured) -> float | None:
    """Standard deviation of a value from its +/- (95 % half-width); None where none is stated."""
    return None if measured.plus_minus is None else measured.plus_minus / HALF_WIDTH


@dataclass(frozen=True)
class Remaining:
    """What is left of a sheet, mm. sd: its standard deviation, None where a part of it is not
    stated. sure False: a nominal gauge without a tolerance, or a depth without +/-, is in it."""

    thickness: float
    sd: float | None
    why_not: str = ""  # what keeps it from being compared, in words
    lacks: int | None = None  # whose +/- is missing: 0 the gauge, 1 the first depth, 2 the next

    @property
    def sure(self) -> bool:
        """True where every part of it has its uncertainty."""
        return self.sd is not None


def remaining(gauge: Measured, depths: Iterable[Measured], *, nominal: bool) -> Remaining:
    """Gauge less the depths that lie over each other (outer and inner face), mm.

    Deviations add as squares: they are measured apart. No depths: the gauge. nominal: the gauge is
    from papers; without an entered tolerance it never gives "above the limit". A hole through the
    sheet leaves 0, never less.
    """
    if gauge.value <= 0.0:
        raise MapperError(f"The gauge is {gauge.value:g} mm.", "It must be more than 0 mm.")
    pits = list(depths)
    for pit in pits:
        if pit.value < 0.0:
            raise MapperError(f"The depth is {pit.value:g} mm.", "It must be 0 mm or more.")
    left = max(0.0, gauge.value - sum(p.value for p in pits))
    deviations = [deviation(m) for m in (gauge, *pits)]
    if deviations[0] is None:
        words = "the gauge is nominal, without a tolerance" if nominal else "the gauge has no +/-"
        return Remaining(left, None, words, 0)
    stated = [d for d in deviations if d is not None]
    if len(stated) < len(deviations):
        return Remaining(left, None, "a depth has no +/-", deviations.index(None))
    return Remaining(left, math.sqrt(sum(d * d for d in stated)))


def against(left: Remaining, limit: float, factor: float = FACTOR) -> str:
    """ABOVE when thickness - factor x sd >= limit, BELOW when thickness + factor x sd < limit, else
    AGAIN. Without its uncertainty a thickness is NOT_DECIDED, and BELOW only when it is through."""
    if not (math.isfinite(limit) and limit > 0.0):
        raise MapperError(f"The limit is {limit!r} mm.", "It must be more than 0 mm.")
    if not (math.isfinite(factor) and factor >= 0.0):
        raise MapperError(f"The factor is {factor!r}.", "It must be 0 or more.")
    if left.sd is None:
        return BELOW if left.thickness == 0.0 else NOT_DECIDED
    margin = factor * left.sd
    # Rounding in the last bit must not turn "just above" into "too close".
    if left.thickness - margin >= limit * (1.0 - 1e-12):
        return ABOVE
    return BELOW if left.thickness + margin < limit else AGAIN


def distance_in_sd(left: Remaining, limit: float) -> float | None:
    """How many standard deviations the thickness is above the limit; None without uncertainty."""
    return None if not left.sd else (left.thickness - limit) / left.sd
