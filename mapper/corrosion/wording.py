"""Depths and what they leave of the sheet in words: the report and the command line say the same.

Rows are those of `depth_table`, as mappings by column.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from mapper.corrosion.thickness import HALF_WIDTH, NOT_DECIDED
from mapper.units import Units

Row = Mapping[str, Any]

# The field that takes each depth; one of an attempt goes into the record of that attempt.
_FIELDS = {
    "as found": "depth_found",
    "after cleaning": "depth_cleaned",
    "of the blend": "blend_depth",
}

DECISION = "Whether a depth may stay is a licensed person's decision against the approved data."


def answer(row: Row) -> str:
    """The answer in words that stand alone: "above the limit", "below the limit", or why not."""
    if row["answer"] == NOT_DECIDED:
        return f"{NOT_DECIDED}: {_lacking(row)}"
    if row["answer"]:
        return f"{row['answer']} the limit" if row["answer"] == "below" else str(row["answer"])
    return "no limit to compare with" if row["limit_mm"] is None else "cannot be worked out"


def _lacking(row: Row) -> str:
    """What keeps a thickness from being compared with its limit."""
    if row["lacks"] == "gauge":
        is_nominal = row["gauge_is"] == "nominal"
        return "the gauge is nominal, without ±" if is_nominal else "the gauge has no ±"
    return "the depth has no ±" if row["lacks"] == "depth" else "the other face's depth has no ±"


def _to_enter(row: Row, units: Units) -> str:
    """What to enter where only a +/- keeps an answer back; "" for nothing.

    The ± itself is left open: it is that of the instrument, and nobody's but the measurer's.
    """
    if row["answer"] != NOT_DECIDED:
        return ""
    end = "with your instrument's ± for the ? (95 % half-width)"
    if row["lacks"] == "other face":
        return f"To decide it, enter the depth of the finding on the other face {end}."
    name, value = "gauge", row["gauge_mm"]
    if row["lacks"] == "depth":
        name, value = _FIELDS.get(row["depth_is"], "depth_after"), row["depth_mm"]
    number, unit = units.split(units.exact(value, "mm"))
    basis = " and gauge_basis=measured" if (name, row["gauge_is"]) == ("gauge", "nominal") else ""
    where = " in a new attempt" if name == "depth_after" else ""
    how = ", measured beside it on sound sheet," if basis else ""
    said = f'{name}="{number} +/- ? {unit}"{basis}{where}'
    return f"To decide it, enter {said}{how} {end}."


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
    if value is not None and deviation is None:
        # No digit is known better than those of the depths as they were typed, nor much better
        # than those of the gauge: a sheet of ".8 mm" is meant to the hundredth.
        typed = [v for v in (row["depth_mm"], row["other_face_mm"]) if v]
        places = [_place(v, units) for v in typed] + [0.1 * _place(row["gauge_mm"], units)]
        return units.show(value, "mm", tolerance=max(depth_half or 0.0, *places))
    half = None if deviation is None else deviation * HALF_WIDTH
    return _length(value, half, units, "not known")


def limit(row: Row, units: Units) -> str:
    """The limit entered for it."""
    value = row["limit_mm"]
    return "none entered" if value is None else units.told(value, "mm")


def _place(value: float, units: Units) -> float:
    """What the last digit of a length as typed stands for, in mm: 0.032 in to the thousandth."""
    number, unit = units.split(units.told(value, "mm").split(" (")[0])
    # Twice the place: a tolerance that begins with a 1 asks for one digit more.
    return 2.0 * units.parse(f"1e-{len(number.partition('.')[2])} {unit}", "mm")


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
    more = " ".join(w for w in (row["note"], _to_enter(row, units)) if w)
    return f"{line}. {more}".strip() if more else line


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
        "source); without the ± of the gauge and of each depth nothing is decided."
    )
