"""Amounts are told as people measure them out; what nobody can pour is not printed."""

from __future__ import annotations

import pytest

from mapper.estimate.told import amount, finer, like_whole, span
from mapper.units import Units

M, I = Units("metric"), Units("inch")  # noqa: E741
GALLON = 231 * 0.0254**3 * 1000  # L, by definition


@pytest.mark.parametrize(
    ("value", "unit", "half", "metric", "inch"),
    [
        # Half a range of 8 L leaves whole litres of 17.57 L, and tenths of 4.64 US gal.
        (17.57, "L", 8.0, "18 L", "4.6 US gal"),
        (17.57, "L", 0.0, "17.6 L", "4.64 US gal"),
        # 128 US fl oz to the gallon: .05738 L is 1.94 of them.
        (0.05738, "L", 0.02, "57 ml", "1.9 US fl oz"),
        (0.0984e-3 * GALLON, "L", 1e-5, "under 1 ml", "under 0.1 US fl oz"),
        (12.33, "h", 5.0, "12 h", "12 h"),
        (0.42, "h", 0.1, "25 min", "25 min"),
        (123.4, "h", 40.0, "120 h", "120 h"),
        (0.005, "h", 0.001, "under 1 min", "under 1 min"),
        (0.022, "m", 0.0, "22 mm", "0.9 in"),
        (0.1, "kg", 0.03, "0.10 kg", "3.5 oz"),
        (13.81, "kg", 4.0, "14 kg", "30 lb"),
        (0.0003, "m2", 3e-6, "300 mm²", "0.47 in²"),
        (1e-10, "m2", 0.0, "under 1 mm²", "under 0.01 in²"),
        (3.2, "m2", 0.05, "3.20 m²", "34.4 ft²"),
        (2.0, "", 1.0, "2", "2"),
        (0.0, "L", 0.0, "0 L", "0 US gal"),
    ],
)
def test_an_amount_has_the_unit_of_its_size_and_no_more_digits_than_its_range(
    value: float, unit: str, half: float, metric: str, inch: str
) -> None:
    assert amount(value, unit, M, half) == metric
    assert amount(value, unit, I, half) == inch


def test_a_range_has_one_unit_and_names_it_once() -> None:
    assert span(11.2, 17.57, 27.5, "L", M) == ("18 L", "11 to 28 L")
    # By its middle: never "21 US fl oz to 0.44 US gal".
    assert span(0.16 * GALLON, 0.26 * GALLON, 0.44 * GALLON, "L", I) == (
        "0.26 US gal",
        "0.16 to 0.44 US gal",
    )
    assert span(0.31, 0.9, 1.9, "h", M) == ("54 min", "20 to 110 min")
    assert span(0.2, 0.3, 0.5, "h", M) == ("18 min", "12 to 30 min")
    assert span(1e-6, 2e-6, 3e-6, "L", M) == ("under 1 ml", "under 1 ml")
    assert span(1.0, 3.0, 6.0, "", M) == ("3", "1 to 6")
    assert span(0.0, 0.0, 11.0, "h", M) == ("0 h", "0 to 11 h")


def test_what_is_left_is_read_beside_the_whole() -> None:
    whole, left = 0.26 * GALLON, 0.234 * GALLON
    assert amount(left, "L", I, like=like_whole(whole, left)) == "0.234 US gal"
    assert amount(0.01 * GALLON, "L", I, like=like_whole(whole, 0.01 * GALLON)) == "1.3 US fl oz"


def test_small_lengths_stand_in_the_finer_unit() -> None:
    assert finer(0.022, "m", I) == (pytest.approx(22.0), "mm")
    assert finer(8.4, "m", I) == (8.4, "m")
    assert finer(0.0, "L", M) == (0.0, "L")
    assert finer(0.87, "mm", M) == (0.87, "mm")
    assert finer(0.87, "mm", I) == (870.0, "um")
    assert finer(5.0, "m2/h", M) == (5.0, "m2/h")
