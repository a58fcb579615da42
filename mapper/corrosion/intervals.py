"""Exact intervals for counts and shares, and the test whether counts are too clumped for them.

Findings per m2 are counts on an area: the exact (Garwood) interval turns the Poisson distribution
round, so its cover is never below what is said. Findings often clump, which makes it too narrow:
`dispersion` says so. Quantiles come from scipy; n counts, areas in m2.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from mapper.errors import MapperError
from mapper.late import Late

if TYPE_CHECKING:
    from scipy import special
else:
    # scipy.stats has the same by name, and takes a second to load.
    special = Late("scipy.special")

LEVEL = 0.95
FEWEST_CELLS = 8  # under eight equal cells the dispersion is not estimated (common practice)
CLUMPED = 1.0


@dataclass(frozen=True)
class Interval:
    """low..high of something at `level`. sides: "two-sided", or "one-sided upper" (low is 0)."""

    low: float
    high: float
    level: float
    sides: str

    def scaled(self, factor: float) -> Interval:
        """The same interval in another unit: both ends times `factor`."""
        return Interval(self.low * factor, self.high * factor, self.level, self.sides)

    @property
    def words(self) -> str:
        """How it was made, for print: "95 % exact, two-sided"."""
        return f"{self.level * 100:g} % exact, {self.sides}"


@dataclass(frozen=True)
class Dispersion:
    """Variance over mean of counts in equal cells.

    ratio: None where it is not estimated. p: chance of a ratio this large if findings fell
    independently (chi-square on n - 1). clumped: ratio above 1. words: what to print.
    """

    cells: int
    ratio: float | None
    p: float | None
    clumped: bool
    words: str


def _count(n: int) -> int:
    if isinstance(n, bool) or not isinstance(n, int | np.integer) or n < 0:
        raise MapperError(f"The count is {n!r}.", "It must be a whole number, 0 or more.")
    return int(n)


def _level(level: float) -> float:
    if not 0.0 < level < 1.0:
        raise MapperError(f"The level is {level!r}.", "It must lie between 0 and 1, such as 0.95.")
    return float(level)


def _area(area: float) -> float:
    if not (math.isfinite(area) and area > 0.0):
        raise MapperError(
            f"The inspected area is {area!r} m2.",
            "It must be more than 0.",
            "Where nobody looked there is no number of findings per m2.",
        )
    return float(area)


def count_interval(n: int, level: float = LEVEL, sides: str = "") -> Interval:
    """Exact Poisson (Garwood) interval for the expected count when n were found.

    sides: "two-sided" or "one-sided upper"; "" takes the one-sided upper bound for 0 found and the
    two-sided interval otherwise. At 95 %: n = 0 gives 0..2.996 one-sided, 0..3.689 two-sided.
    """
    n, level = _count(n), _level(level)
    sides = sides or ("one-sided upper" if n == 0 else "two-sided")
    if sides == "one-sided upper":
        return Interval(0.0, float(special.gammaincinv(n + 1, level)), level, sides)
    if sides != "two-sided":
        raise MapperError(f"sides is {sides!r}.", 'It is "two-sided" or "one-sided upper".')
    tail = (1.0 - level) / 2.0
    low = float(special.gammaincinv(n, tail)) if n else 0.0
    return Interval(low, float(special.gammaincinv(n + 1, 1.0 - tail)), level, sides)


def per_area(n: int, area: float, level: float = LEVEL, sides: str = "") -> Interval:
    """Exact interval of findings per m2 from n on `area` m2 inspected (more than 0)."""
    return count_interval(n, level, sides).scaled(1.0 / _area(area))


def share_interval(k: int, n: int, level: float = LEVEL) -> Interval:
    """Exact (Clopper-Pearson) two-sided interval for a share when k of n equal cells are affected.

    n at least 1. It takes the cells as independent of each other; affected area that runs over many
    cells makes it too narrow.
    """
    k, n, level = _count(k), _count(n), _level(level)
    if n < 1 or k > n:
        raise MapperError(f"{k} of {n} cells.", "k is at most n and n is at least 1.")
    tail = (1.0 - level) / 2.0
    low = float(special.betaincinv(k, n - k + 1, tail)) if k else 0.0
    high = float(special.betaincinv(k + 1, n - k, 1.0 - tail)) if k < n else 1.0
    return Interval(low, high, level, "two-sided")


def ratio_interval(n1: int, area1: float, n2: int, area2: float, level: float = LEVEL) -> Interval:
    """Exact interval of (n1 / area1) / (n2 / area2), given n1 + n2 (conditional binomial).

    high is infinity when n2 is 0. An interval that holds 1 does not show a difference. MapperError
    when neither place has a finding.
    """
    n1, n2 = _count(n1), _count(n2)
    if n1 + n2 == 0:
        raise MapperError("No findings in either place.", "A ratio needs at least one finding.")
    share = share_interval(n1, n1 + n2, level)
    scale = _area(area2) / _area(area1)
    high = math.inf if share.high >= 1.0 else scale * share.high / (1.0 - share.high)
    return Interval(scale * share.low / (1.0 - share.low), high, level, "two-sided")


def dispersion(counts: Sequence[int]) -> Dispersion:
    """Variance (n - 1) over mean of the counts in equal, wholly inspected cells.

    Not estimated under eight cells or with fewer than two findings. Above 1 the findings clump and
    the Poisson interval is too narrow.
    """
    values = [_count(c) for c in counts]
    cells = len(values)
    if cells < FEWEST_CELLS:
        words = f"Clumping not estimated: {cells} equal cells inspected, {FEWEST_CELLS} are needed."
        return Dispersion(cells, None, None, False, words)
    mean = float(np.mean(values))
    if sum(values) < 2:  # one finding has the ratio 1 wherever it lies
        words = f"Clumping not estimated: {sum(values)} findings in {cells} equal cells."
        return Dispersion(cells, None, None, False, words)
    ratio = float(np.var(values, ddof=1)) / mean
    p = float(special.chdtrc(cells - 1, ratio * (cells - 1)))
    clumped = ratio > CLUMPED * (1.0 + 1e-9)
    if clumped:
        words = (
            f"Findings clump: variance/mean {ratio:.3g} over {cells} equal cells, so the interval "
            "is too narrow."
        )
    else:
        words = f"Variance/mean {ratio:.3g} over {cells} equal cells: no sign of clumping."
    return Dispersion(cells, ratio, p, clumped, words)
