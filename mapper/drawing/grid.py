"""The grid of a flat map: round stations and % chord, lines that stay apart on paper."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

CHORD_STEPS = (5.0, 10.0, 20.0, 25.0, 50.0)
MM_PER_INCH = 25.4


@dataclass(frozen=True)
class LengthUnit:
    """A unit of length for labels: mm per unit, its sign, and the sign of a bigger one."""

    mm: float
    sign: str


def length_unit(units: str) -> LengthUnit:
    """Millimetres, or inches where the shop works in them."""
    return LengthUnit(MM_PER_INCH, "in") if units == "inch" else LengthUnit(1.0, "mm")


def round_step(least: float) -> float:
    """The smallest of 1, 2, 5 times a power of ten that is at least `least` (above 0)."""
    power = 10.0 ** np.floor(np.log10(least))
    for factor in (1.0, 2.0, 5.0, 10.0):
        if factor * power >= least * (1 - 1e-9):
            return float(factor * power)
    return float(10.0 * power)


def plain_number(value: float) -> str:
    """A number without a needless fraction: 1500, 2.5."""
    return f"{value:.6f}".rstrip("0").rstrip(".") or "0"


def stations_for(low: float, high: float, gap: float, unit: LengthUnit) -> tuple[float, ...]:
    """Round stations (mm) inside (low, high), at least `gap` mm apart, ends left out.

    Empty where the part is shorter than one step.
    """
    step = round_step(gap / unit.mm) * unit.mm
    first, last = int(np.ceil(low / step)), int(np.floor(high / step))
    near = 1e-3 * step
    return tuple(
        i * step for i in range(first, last + 1) if low + near < i * step < high - near
    )  # fmt: skip


def chords_for(length: float, gap: float) -> tuple[float, ...]:
    """Round % chord between 0 and 100 that lie at least `gap` apart on a side `length` deep."""
    for step in CHORD_STEPS:
        if length * step / 100 >= gap:
            return tuple(float(v) for v in np.arange(step, 100.0, step))
    return ()
