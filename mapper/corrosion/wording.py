"""Depths and what they leave of the sheet in words: the report and the command line say the same.

Rows are those of `depth_table`, as mappings by column.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from mapper.corrosion.thickness import HALF_WIDTH
from mapper.units import Units

Row = Mapping[str, Any]

DECISION = "Whether a depth may stay is a licensed person's decision against the approved data."


def answer(row: Row) -> str:
    """The answer in words that stand alone: "above the limit", "below the limit", or why not."""
    if row["answer"]:
        return f"{row['answer']} the limit" if row["answer"] == "below" else str(row["answer"])
    return "no limit to compare with" if row["limit_mm"] is None else "cannot be worked out"


def depth(row: Row, units: Units) -> str:
    """The depth that governs, with its +/-."""
    return _length(row["depth_mm"], row["depth_plus_minus_mm"], units, "not measured")


def gauge(row: Row, units: Units) -> str:
    """The gauge of the sheet, with its +/-."""
    value, half = row["gauge_mm"], row["gauge_plus_minus_mm"]
    # Without a +/- the digits typed are all there is: more would claim what nobody measured.
    if value is not None and half is None:
        return units.told(value, "mm")
    return _length(value, half, units, "not known")


def remaining(row: Row, units: Units) -> str:
    """What is left of the sheet; a reader is shown 95 %, as depths and gauges are entered."""
    deviation = row["remaining_sd_mm"]
    value, depth_half = row["remaining_mm"], row["depth_plus_minus_mm"]
    if value is not None and deviation is None and depth_half:
        # A nominal gauge has no +/-, but the depth has: no digit is known better than that one's.
        return units.show(value, "mm", tolerance=depth_half)
    half = None if deviation is None else deviation * HALF_WIDTH
    return _length(value, half, units, "not known")


def limit(row: Row, units: Units) -> str:
    """The limit entered for it."""
    value = row["limit_mm"]
    return "none entered" if value is None else units.told(value, "mm")


def _length(value: float | None, plus_minus: float | None, units: Units, none: str) -> str:
    return none if value is None else units.measured(value, plus_minus, "mm")


def detail(row: Row, units: Units) -> str:
    """What a reader has to know beside the numbers, in one line; "" for nothing."""
    words = [
        f"depth {row['depth_is']}" if row["depth_is"] else "",
        row["grade"] and f"grade {row['grade']}",
        f"gauge {row['gauge_is']}" if row["gauge_mm"] is not None else "",
        f"limit from {row['limit_from']}" if row["limit_from"] else "",
    ]
    if row["worst_mm"] is not None and row["worst_mm"] != row["depth_mm"]:
        words.append(f"deepest ever measured {units.told(row['worst_mm'], 'mm')}")
    if row["other_face_mm"]:
        words.append(f"other face {units.told(row['other_face_mm'], 'mm')} deep, taken off too")
    line = "; ".join(w for w in words if w)
    return f"{line}. {row['note']}".strip() if row["note"] else line


def in_short(row: Row, units: Units) -> str:
    """A finding's depth and what remains in one line, for a screen."""
    numbers = f"depth {depth(row, units)}, gauge {gauge(row, units)}"
    return f"{numbers}; remaining {remaining(row, units)}; limit {limit(row, units)}: {answer(row)}"


def how(factor: float) -> str:
    """How the answer comes about. factor: standard deviations that the shop asks for."""
    return (
        "The latest valid depth counts. ± is a 95 % half-width. Remaining is the gauge less the "
        "depth, and less what lies over it on the other face. It is said to be above or below the "
        f"limit when it is {factor:g} standard deviations clear of it (common practice, no "
        "source); a nominal gauge without its tolerance says neither."
    )
