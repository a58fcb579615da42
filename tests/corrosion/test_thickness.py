"""Depth grades and remaining thickness against printed bounds and the worked example."""

from __future__ import annotations

import math

import pytest

from mapper.corrosion.thickness import (
    ABOVE,
    AGAIN,
    BELOW,
    FACTOR,
    NOT_DECIDED,
    Remaining,
    against,
    distance_in_sd,
    grade,
    remaining,
)
from mapper.errors import MapperError
from mapper.job.fields import Measured

INCH = 25.4


@pytest.mark.parametrize(
    ("inches", "word"),
    [
        (0.0, "none"),
        (0.0001, "light"),
        (0.001, "light"),
        (0.00101, "moderate"),
        (0.010, "moderate"),
        (0.0101, "severe"),
        (0.3, "severe"),
    ],
)
def test_depth_grades(inches: float, word: str) -> None:
    # NAVEDTRA 14022; TM 1-1520-238-23 1.49.14: light to .001 in, moderate to .010 in, severe above;
    # the bounds belong to the lower grade.
    assert grade(inches * INCH) == word


def sd(value: float) -> float:
    """A standard deviation as the +/- (95 % half-width) that is recorded."""
    return value * 1.959963984540054


def test_the_worked_example_is_too_close_to_tell() -> None:
    # Worked example (definition): .80 +/- .05 less .12 +/- .02 as one standard deviation each is
    # .68 +/- .0539; a limit of .65 is .557 standard deviations away.
    left = remaining(Measured(0.80, sd(0.05)), [Measured(0.12, sd(0.02))], nominal=False)
    assert left.thickness == pytest.approx(0.68, rel=1e-12)
    assert left.sd == pytest.approx(0.0539, abs=5e-5)
    assert distance_in_sd(left, 0.65) == pytest.approx(0.557, abs=5e-4)
    assert against(left, 0.65) == AGAIN


def test_three_answers_and_their_edges() -> None:
    # Definition: above when remaining - 1.645 sd >= limit, below when remaining + 1.645 sd < limit.
    left = Remaining(1.0, 0.1)
    assert against(left, 1.0 - 0.1645) == ABOVE
    assert against(left, 1.0 - 0.1644) == AGAIN
    assert against(left, 1.0 + 0.1645) == AGAIN
    assert against(left, 1.0 + 0.1646) == BELOW
    assert against(left, 0.9, factor=0.5) == ABOVE
    assert FACTOR == 1.645
    assert "pass" not in (ABOVE + BELOW + AGAIN + NOT_DECIDED)


def test_a_stated_plus_minus_is_a_95_percent_half_width() -> None:
    left = remaining(Measured(0.80, 0.098), [], nominal=False)
    assert left.sd == pytest.approx(0.05, abs=1e-5)


def test_nominal_gauge_without_tolerance_is_never_above() -> None:
    left = remaining(Measured(5.0), [Measured(0.01, 0.001)], nominal=True)
    assert left.sd is None
    assert "nominal" in left.why_not
    assert against(left, 0.1) == NOT_DECIDED
    assert left.lacks == 0
    with_tolerance = remaining(Measured(5.0, 0.1), [Measured(0.01, 0.001)], nominal=True)
    assert against(with_tolerance, 0.1) == ABOVE


def test_a_depth_without_plus_minus_is_never_above() -> None:
    left = remaining(Measured(5.0, 0.1), [Measured(0.01)], nominal=False)
    assert left.sd is None
    assert against(left, 0.1) == NOT_DECIDED
    assert left.lacks == 1


def test_outer_and_inner_depths_both_come_off() -> None:
    pits = [Measured(0.10, sd(0.03)), Measured(0.20, sd(0.04))]
    left = remaining(Measured(0.80, 0.0), pits, nominal=False)
    assert left.thickness == pytest.approx(0.5, rel=1e-12)
    assert left.sd == pytest.approx(0.05, rel=1e-12)  # 3-4-5


def test_through_the_sheet() -> None:
    left = remaining(Measured(0.4), [Measured(0.3), Measured(0.3)], nominal=True)
    assert left.thickness == 0.0
    assert against(left, 0.3) == BELOW


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: grade(-0.1), "0 mm or more"),
        (lambda: grade(math.nan), "0 mm or more"),
        (lambda: remaining(Measured(0.0), [], nominal=True), "more than 0 mm"),
        (lambda: remaining(Measured(1.0), [Measured(-0.1)], nominal=True), "0 mm or more"),
        (lambda: against(Remaining(1.0, 0.1), 0.0), "limit is 0.0 mm"),
        (lambda: against(Remaining(1.0, 0.1), 0.5, factor=-1.0), "factor is -1.0"),
    ],
)
def test_what_is_refused(call: object, words: str) -> None:
    with pytest.raises(MapperError, match=words):
        call()  # type: ignore[operator]
