"""The steps that a smoothed map of findings is coloured in.

A smoothed value stands on few findings, and chance alone moves it. Steps of findings per m2 are so
wide that the exact intervals of what their middles count do not overlap: places that the record
does not tell apart are not coloured apart.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from shapely import MultiPolygon

from mapper.corrosion.intervals import count_interval

MOST = 5  # steps: more hatches cannot be told apart in black and white
# Shares affected are measured, not counted: steps of half a power of ten, no source.
PERCENT = (0.0, 1.0, 3.0, 10.0, 30.0)


@dataclass(frozen=True, eq=False)
class Band:
    """One step. low, high: findings per m2, or % affected; high None: no upper end. rank: 0 for the
    lowest. region: where on the flat plane, mm."""

    rank: int
    low: float
    high: float | None
    region: MultiPolygon = field(default_factory=MultiPolygon)


def width_area(width: float, inspected: float) -> float:
    """mm2 that a smoothed place counts as much as: 4 pi s2, the square of the bell's sum over the
    sum of its squares (identity); at most all that was inspected. Beside an edge it is less."""
    return min(4.0 * math.pi * width * width, inspected)


def count_steps(area: float, level: float) -> tuple[float, ...]:
    """(MOST,) lower ends of steps of findings per m2, the first 0.

    area: m2 that a place counts as much as, above 0; level: of the exact Poisson intervals. Step
    after step stands for a count whose interval begins above the end of the one before; the border
    is half-way between the two.
    """
    ends = [0.0]
    n, high = 0, count_interval(0, level).high
    while len(ends) < MOST:
        while count_interval(n, level, "two-sided").low <= high:
            n += 1
        interval = count_interval(n, level, "two-sided")
        ends.append(0.5 * (high + interval.low) / area)
        high = interval.high
    return tuple(ends)
