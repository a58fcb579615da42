"""Low, middle and high: trials that put every rate's range through the formulas.

ln(rate) is normal, ln(p/(1-p)) of a fraction; low and high of a default are its 10 % and 90 %
points. A rate is one unknown number shared by all panels, so it is drawn once per trial and used
everywhere; only the scatter of a labour rate and the shape's tolerance are drawn apart (the scatter
per panel, the tolerance per part). Drawn independently, totals would look surer than they are.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from mapper.errors import MapperError
from mapper.estimate.defaults import RateTable
from mapper.estimate.rate import Default
from mapper.late import Late

if TYPE_CHECKING:
    from scipy import special
else:
    special = Late("scipy.special")

Array = NDArray[np.float64]

TRIALS = 2000
SEED = 20
TAIL = 0.1  # low and high leave one job in ten on either side
Z_TAIL = 1.2815515655446004  # standard normal quantile of .9
HALF_WIDTH = 1.959963984540054  # a +/- is a 95 % half-width


@dataclass(frozen=True)
class Range:
    """low, middle, high: the 10 % point, the median and the 90 % point of the trials."""

    low: float
    middle: float
    high: float


def between(trials: Array, middle: float | None = None) -> Range:
    """10 % and 90 % points of trials, with a middle computed elsewhere (None: their median)."""
    low, median, high = (float(q) for q in np.quantile(trials, (TAIL, 0.5, 1.0 - TAIL)))
    mid = median if middle is None else float(middle)
    return Range(min(low, mid), mid, max(high, mid))


@dataclass(frozen=True, eq=False)
class Trials:
    """Reproducible draws by name: the same seed, name and number of trials give the same draws.

    Each name has its own stream, so adding a rate or a panel leaves all other draws alone. Draws
    are stratified (one in each of `count` equal slices), which fixes the quantiles of one rate.
    """

    rates: RateTable
    count: int = TRIALS
    seed: int = SEED
    _kept: dict[str, Array] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.count < 10:
            raise MapperError(f"{self.count} trials.", "At least 10 are needed.")

    def normal(self, name: str) -> Array:
        """(count,) standard normal draws belonging to `name`."""
        if name not in self._kept:
            order = self._stream(name).permutation(self.count)
            draws = np.asarray(special.ndtri((order + 0.5) / self.count), dtype=np.float64)
            draws.setflags(write=False)
            self._kept[name] = draws
        return self._kept[name]

    def whole(self, name: str, low: int, high: int) -> Array:
        """(count,) whole numbers, each from low to high equally likely."""
        order = self._stream(name).permutation(self.count)
        slices = (order + 0.5) / self.count
        return np.asarray(low + np.floor(slices * (high - low + 1)), dtype=np.float64)

    def rate(self, name: str, panel: str = "") -> Array:
        """(count,) draws of a rate; panel: adds the scatter of that panel to a labour rate."""
        rate = self.rates[name]
        draws = spread(rate, self.normal(f"rate {name}"))
        if rate.labour and panel:
            draws = draws * np.exp(self.rates["scatter"].value * self.normal(f"{name} on {panel}"))
        return draws

    def tolerance(self, part: str, percent: float) -> Array:
        """(count,) factors on the areas of a part whose +/- is `percent` (95 % half-width)."""
        sd = percent / 100.0 / HALF_WIDTH
        return np.maximum(0.0, 1.0 + sd * self.normal(f"shape of {part}"))

    def _stream(self, name: str) -> np.random.Generator:
        digest = hashlib.sha256(f"{self.seed} {name}".encode()).digest()
        return np.random.default_rng(int.from_bytes(digest[:8], "little"))


def spread(rate: Default, normal: Array) -> Array:
    """Values of a rate at standard normal draws: its value at 0, low and high at -/+1.2816.

    Below the middle and above it the logarithm (or ln(p/(1-p)) of a fraction) has its own standard
    deviation, equal where value is sqrt(low x high). No range: the value everywhere.
    """
    if rate.low == rate.high:
        return np.full_like(normal, rate.value)
    ends = np.array([rate.low, rate.value, rate.high])
    if rate.fraction and rate.low > 0.0 and rate.high < 1.0:
        low, middle, high = np.log(ends / (1.0 - ends))
    elif rate.low > 0.0 and not rate.fraction:
        low, middle, high = np.log(ends)
    else:  # a range that begins at nothing has no logarithm: straight, and never out of bounds
        low, middle, high = ends
    sd = np.where(normal < 0.0, middle - low, high - middle) / Z_TAIL
    moved = middle + sd * normal
    if rate.fraction and rate.low > 0.0 and rate.high < 1.0:
        moved = special.expit(moved)
    elif rate.low > 0.0 and not rate.fraction:
        moved = np.exp(moved)
    # Far tails may pass what the formulas can take (all of a coat left, say).
    return np.asarray(np.clip(moved, rate.least, rate.most), dtype=np.float64)
