"""Amounts are told as people measure them out; what nobody can pour is not printed."""

from __future__ import annotations

import pytest

from mapper.estimate.told import amount, finer, span
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


def test_a_range_names_its_unit_once_where_it_is_the_same() -> None:
    assert span(11.2, 27.5, "L", M) == "11 to 28 L"
    assert span(0.31, 1.9, "h", M) == "20 min to 1.9 h"
    assert span(0.2, 0.5, "h", M) == "12 to 30 min"
    assert span(1e-6, 2e-6, "L", M) == "under 1 ml to under 1 ml"
    assert span(9.8, 16.1, "L", M) == "10 to 16 L"
    assert span(1.0, 6.0, "", M) == "1 to 6"


def test_small_lengths_stand_in_the_finer_unit() -> None:
    assert finer(0.022, "m", I) == (pytest.approx(22.0), "mm")
    assert finer(8.4, "m", I) == (8.4, "m")
    assert finer(0.0, "L", M) == (0.0, "L")
    assert finer(5.0, "m2/h", M) == (5.0, "m2/h")
