"""The table of depths: what remains, beside the limit, never a decision."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from mapper.corrosion.depths import DEPTHS
from mapper.corrosion.thickness import against, remaining
from mapper.corrosion.wording import answer
from mapper.job.fields import Measured
from mapper.report.depth import table
from mapper.report.numbers import PartNumbers
from mapper.units import Units


def row(depth: Measured, gauge: Measured, limit: float | None, **more: Any) -> dict[str, Any]:
    left = remaining(gauge, [depth], nominal=False)
    made: dict[str, Any] = dict.fromkeys(DEPTHS)
    made |= {
        "entry": "e", "skin": "skin", "panel": "upper", "face": "outer",
        "depth_mm": depth.value, "depth_plus_minus_mm": depth.plus_minus,
        "depth_is": "after cleaning", "worst_mm": depth.value, "grade": "moderate",
        "other_face_mm": 0.0, "gauge_mm": gauge.value, "gauge_plus_minus_mm": gauge.plus_minus,
        "gauge_is": "measured", "remaining_mm": left.thickness, "remaining_sd_mm": left.sd,
        "limit_mm": limit, "limit_from": "sheet 3, B" if limit else "", "note": "",
        "answer": against(left, limit) if limit else "",
    }  # fmt: skip
    return made | more


def printed(*rows: dict[str, Any], units: str = "metric") -> Any:
    book = SimpleNamespace(shop=SimpleNamespace(settings={}))
    lookup: Any = SimpleNamespace(number={"e": "7"}, book=book)
    return table(PartNumbers(depths=rows), Units(units), lookup)


def test_nothing_recorded_is_no_table() -> None:
    assert printed() == ()


def test_below_its_limit_is_said() -> None:
    """.025 +/- .0005 in less .006 +/- .001 in leaves .019 in: 1.75 sd under .020 in (computed by
    hand: sd = sqrt(.0005^2 + .001^2)/1.96 = .00057 in)."""
    mm = 25.4
    (made,) = printed(
        row(Measured(0.006 * mm, 0.001 * mm), Measured(0.025 * mm, 0.0005 * mm), 0.02 * mm),
        units="inch",
    )
    cells = made.rows[0]
    assert cells[0] == "7" and cells[-1] == "below the limit"
    assert "0.019" in cells[5] and "in" in cells[5] and "mm" not in " ".join(cells)
    assert "limit from sheet 3, B" in made.details[0]


def test_too_close_and_no_limit_are_told_apart() -> None:
    close = row(Measured(0.12, 0.04), Measured(0.8, 0.1), 0.65)
    none = row(Measured(0.12, 0.04), Measured(0.8, 0.1), None)
    assert answer(close) == "too close to tell: measure again"
    assert answer(none) == "no limit to compare with"


def test_no_word_of_a_decision_is_given() -> None:
    (made,) = printed(row(Measured(0.05, 0.02), Measured(0.8, 0.03), 0.4))
    text = " ".join([*made.rows[0], *made.details, *made.foot]).lower()
    assert made.rows[0][-1] == "above the limit"
    assert "licensed person's decision" in text
    assert "pass" not in text and "serviceable" not in text and "acceptable" not in text


def test_a_gauge_without_a_tolerance_and_a_limit_keep_the_digits_typed() -> None:
    """A nominal .4 mm is not known to a micrometre: "0.400 mm" would say so."""
    given = row(Measured(0.12, 0.02), Measured(0.4, None), 0.35, other_face_mm=0.05)
    (made,) = printed(given)
    assert made.rows[0][4] == "0.4 mm" and made.rows[0][6] == "0.35 mm"
    assert "other face 0.05 mm deep" in made.details[0]
    (inch,) = printed(given | {"gauge_mm": 0.8128, "limit_mm": 0.635}, units="inch")
    assert inch.rows[0][4] == "0.032 in" and inch.rows[0][6] == "0.025 in"
