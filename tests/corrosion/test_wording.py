"""What depths leave of the sheet in words: the same on screen and in the report."""

from __future__ import annotations

from typing import Any

import pytest

from mapper.corrosion import wording
from mapper.units import Units

M, I = Units("metric"), Units("inch")  # noqa: E741
ROW: dict[str, Any] = {
    "depth_mm": 0.127, "depth_plus_minus_mm": 0.0254, "depth_is": "after cleaning",
    "worst_mm": 0.127, "grade": "moderate", "other_face_mm": 0.0, "gauge_mm": 0.8128,
    "gauge_plus_minus_mm": 0.0254, "gauge_is": "measured", "remaining_mm": 0.6858,
    "remaining_sd_mm": 0.0254 * 2**0.5 / 1.959964, "limit_mm": 0.6096,
    "limit_from": "a manual, page 4", "answer": "above the limit", "lacks": "", "note": "",
}  # fmt: skip


def test_a_depth_in_an_inch_shop() -> None:
    # .005 of .032 leaves .027; two +/- of .001 make sqrt(2) x .001 = .0014.
    assert wording.in_short(ROW, I) == (
        "depth 0.0050 ± 0.0010 in, gauge 0.0320 ± 0.0010 in; remaining 0.0270 ± 0.0014 in; "
        "limit 0.024 in: above the limit"
    )
    assert wording.detail(ROW, I) == (
        "depth after cleaning; grade moderate; gauge measured; limit from a manual, page 4"
    )


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"answer": "below"}, "below the limit"),
        ({"answer": "too close to tell: measure again"}, "too close to tell: measure again"),
        ({"answer": "", "limit_mm": None}, "no limit to compare with"),
        ({"answer": "", "gauge_mm": None}, "cannot be worked out"),
    ],
)
def test_every_answer_stands_alone(change: dict[str, Any], says: str) -> None:
    assert wording.answer(ROW | change) == says
    assert wording.in_short(ROW | change, M).endswith(f": {says}")


def test_what_is_not_there_is_said() -> None:
    bare = ROW | {k: None for k in ROW if k.endswith("_mm")} | {"other_face_mm": 0.0, "answer": ""}
    assert wording.in_short(bare, M) == (
        "depth not measured, gauge not known; remaining not known; limit none entered: "
        "no limit to compare with"
    )
    more = ROW | {"worst_mm": 0.2, "other_face_mm": 0.1, "note": "Ask."}
    assert "deepest ever measured 0.2 mm; other face 0.1 mm deep" in wording.detail(more, M)
    assert wording.detail(more, M).endswith(". Ask.")
    assert "1.645 standard deviations" in wording.how(1.645)


def test_a_nominal_gauge_lends_what_remains_no_digits() -> None:
    """.8 mm nominal less .127 +/- .03 is .673: told to the hundredth that the depth is known to."""
    row = ROW | {"depth_plus_minus_mm": 0.03, "gauge_mm": 0.8, "gauge_plus_minus_mm": None}
    row |= {"remaining_mm": 0.673, "remaining_sd_mm": None}
    assert wording.remaining(row, M) == "0.67 mm"


def test_without_a_plus_minus_it_says_what_to_enter() -> None:
    """Measuring the depth again would not help: what is missing is the gauge's own ±."""
    row = ROW | {"answer": "not decided", "lacks": "gauge", "gauge_plus_minus_mm": None}
    row |= {"remaining_sd_mm": None}
    assert wording.answer(row) == "not decided: the gauge has no ±"
    assert wording.detail(row, I).endswith(
        'To decide it, enter gauge="0.032 +/- ? in" with your instrument\'s ± for the ? '
        "(95 % half-width)."
    )
    nominal = row | {"gauge_is": "nominal"}
    assert wording.answer(nominal) == "not decided: the gauge is nominal, without ±"
    assert 'gauge="0.032 +/- ? in" and gauge_basis=measured, measured' in wording.detail(nominal, I)
    deep = row | {"lacks": "depth"}
    assert wording.answer(deep) == "not decided: the depth has no ±"
    assert 'depth_cleaned="0.005 +/- ? in"' in wording.detail(deep, I)
    tried = deep | {"depth_is": "after an attempt"}
    assert 'depth_after="0.005 +/- ? in" in a new attempt' in wording.detail(tried, I)
    assert "To decide" not in wording.detail(ROW, I)


def test_what_remains_has_the_digits_of_what_was_typed() -> None:
    """.032 less .009 is .023 in to the thousandth; .0230 would be known to a tenth of that."""
    row = ROW | {"gauge_mm": 0.8128, "depth_mm": 0.2286, "remaining_mm": 0.5842}
    row |= dict.fromkeys(("depth_plus_minus_mm", "gauge_plus_minus_mm", "remaining_sd_mm"))
    assert wording.remaining(row, I) == "0.023 in"
    assert wording.remaining(row | {"gauge_mm": 0.8, "remaining_mm": 0.5714}, M) == "0.57 mm"
