"""Chemical stripping against the worked example and by identities."""

from __future__ import annotations

import math

import numpy as np
import pytest

from mapper.errors import MapperError
from mapper.estimate.chemical import (
    Coats,
    Rates,
    rounds,
    strip,
    stripped_from_can,
    wetted,
    worked_area,
)

# The rates of the worked example (invented inputs; results recomputed from the definitions).
EXAMPLE = Rates(
    lap=0.025,
    wet_film=0.75,
    drip=0.1,
    apply=12.0,
    rinse=10.0,
    tape=20.0,
    hand=0.4,
    dwell=25.0,
    coat_density=1.4,
    stripper_density=1.05,
    evaporated=0.3,
    rinse_water=15.0,
    rinses=2,
)


def enamel(count: float = 4, most: float | None = None) -> Coats:
    return Coats("enamel", count, left=0.1, scrape=4.0, thickness=40.0, most=most)


def lacquer(count: float = 1, most: float | None = None) -> Coats:
    return Coats("lacquer", count, left=0.45, scrape=1.0, thickness=40.0, most=most)


def test_worked_example_to_four_digits() -> None:
    # Worked example, no cap: 3.2 m2, 8.4 m; four enamel coats and one lacquer coat. Recomputed from
    # the definitions; the formulas are common practice, no source.
    out = strip(3.2, 8.4, [enamel(), lacquer()], EXAMPLE)
    assert out.worked_area == pytest.approx(3.410, abs=5e-4)
    assert out.rounds == (2, 5)
    assert out.by_kind[0] == pytest.approx(15.00, abs=5e-3)
    assert out.by_kind[1] == pytest.approx(6.086, abs=5e-4)
    assert out.applied_area == pytest.approx(21.09, abs=5e-3)
    assert out.stripper == pytest.approx(17.57, abs=6e-3)
    assert out.apply_hours == pytest.approx(1.757, abs=6e-4)
    assert out.scrape_hours[0] == pytest.approx(3.751, abs=5e-4)
    assert out.scrape_hours[1] == pytest.approx(6.086, abs=5e-4)
    assert out.rinse_hours == pytest.approx(0.3200, abs=5e-5)
    assert out.tape_hours == pytest.approx(0.4200, abs=5e-5)
    assert out.hand_hours == 0.0
    assert out.hours == pytest.approx(12.33, abs=6e-3)
    assert out.dwell_hours == pytest.approx(5.417, abs=5e-4)
    assert out.paint_waste == pytest.approx(0.8960, abs=5e-5)
    assert out.stripper_waste == pytest.approx(12.92, abs=5e-3)
    assert out.sludge == pytest.approx(13.81, abs=5e-3)
    assert out.rinse_water == pytest.approx(96.0, abs=1e-9)


def test_lacquer_stops_at_its_cap_and_the_rest_is_scraped_by_hand() -> None:
    # r .7 would ask for 11 rounds (definition: .7^11 = .0198); the cap of 4 leaves .7^4 = .2401.
    assert rounds(0.7) == 11
    assert rounds(0.7, most=4) == 4
    coat = Coats("lacquer", 1, left=0.7, scrape=1.0, thickness=40.0, most=4)
    out = strip(3.2, 8.4, [coat], EXAMPLE)
    assert out.hand_area == pytest.approx(3.41 * 0.2401, rel=1e-12)
    assert out.hand_hours == pytest.approx(3.41 * 0.2401 / 0.4, rel=1e-12)
    assert out.applied_area == pytest.approx(3.41 * (1 + 0.7 + 0.49 + 0.343), rel=1e-12)
    assert out.hours == pytest.approx(
        out.apply_hours + out.scrape_hours[0] + out.hand_hours + 0.32 + 0.42, rel=1e-12
    )


def test_two_coats_leave_twice_as_much_for_the_hand() -> None:
    coat = Coats("lacquer", 2, left=0.7, scrape=1.0, thickness=40.0, most=4)
    assert strip(1.0, 0.0, [coat], EXAMPLE).hand_area == pytest.approx(2 * 0.2401, rel=1e-12)


def test_no_coats_and_no_area_take_nothing() -> None:
    for out in (
        strip(3.2, 8.4, [], EXAMPLE),
        strip(3.2, 8.4, [enamel(0)], EXAMPLE),
        strip(0.0, 0.0, [enamel()], EXAMPLE),
    ):
        assert out.stripper == out.hours == out.sludge == out.rinse_water == 0.0
        assert out.dwell_hours == out.tape_hours == 0.0


@pytest.mark.parametrize(
    ("left", "goes"),
    [(0.0, 1), (0.01, 1), (0.02, 1), (0.1, 2), (math.sqrt(0.02), 2), (0.2, 3), (0.45, 5)]
    + [(0.02 ** (1 / n), n) for n in (6, 8, 13)],
)
def test_rounds(left: float, goes: int) -> None:
    # ceil(ln .02 / ln r), at least one; exact powers do not tip over by rounding.
    assert rounds(left) == goes


def test_a_coat_that_hardly_moves() -> None:
    # (1 - r^n)/(1 - r) tends to n as r tends to 1 (geometric sum).
    assert wetted(2.0, 1.0 - 1e-12, 4) == pytest.approx(8.0, rel=1e-9)
    assert rounds(0.9999999, most=4) == 4
    assert wetted(2.0, 0.0, 1) == 2.0
    assert wetted(2.0, 0.5, 0) == 0.0
    assert wetted(1.0, 0.3, 6) == pytest.approx(sum(0.3**k for k in range(6)), rel=1e-14)


def test_trials_are_worked_like_single_numbers() -> None:
    left = np.array([0.3, 0.45, 0.7])
    count = np.array([0.0, 1.0, 3.0])
    coats = Coats("lacquer", count, left, scrape=np.array([0.5, 1, 2]), thickness=40.0, most=4)
    many = strip(3.2, 8.4, [enamel(), coats], EXAMPLE)
    for i in range(3):
        one = Coats("lacquer", count[i], left[i], [0.5, 1, 2][i], 40.0, 4)
        single = strip(3.2, 8.4, [enamel(), one], EXAMPLE)
        for field in ("stripper", "hours", "sludge", "hand_area", "dwell_hours", "rinse_water"):
            values = np.broadcast_to(getattr(many, field), 3)
            assert values[i] == pytest.approx(getattr(single, field), rel=1e-12)


def test_worked_area() -> None:
    assert worked_area(3.2, 8.4, 0.025) == pytest.approx(3.410, rel=1e-12)
    assert worked_area(0.0, 0.0, 0.05) == 0.0


def test_can_read_before_and_after() -> None:
    assert stripped_from_can(20.0, 17.5, "L", 1.05) == 2.5
    assert stripped_from_can(20.0, 17.9, "kg", 1.05) == pytest.approx(2.0, rel=1e-12)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: strip(-1.0, 0.0, [enamel()], EXAMPLE), "area is -1 m2"),
        (lambda: strip(1.0, -1.0, [enamel()], EXAMPLE), "perimeter is -1 m"),
        (lambda: rounds(1.0), "less than 1"),
        (lambda: rounds(math.nan), "less than 1"),
        (lambda: enamel(-1), "number of enamel coats"),
        (lambda: Coats("enamel", 1, 0.1, 0.0, 40.0), "scraping rate"),
        (lambda: stripped_from_can(5.0, 6.0, "L", 1.0), "at most 5"),
        (lambda: stripped_from_can(5.0, 4.0, "gal", 1.0), "L or kg"),
    ],
)
def test_what_is_refused(call: object, words: str) -> None:
    with pytest.raises(MapperError, match=words):
        call()  # type: ignore[operator]
