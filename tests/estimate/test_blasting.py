"""Blasting and bright dips against worked examples and identities."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mapper.errors import MapperError
from mapper.estimate.blasting import POUND, Blasting, blast, bolt_surface, break_even, tube_surface
from mapper.estimate.treatment import brighten, convert

positive = st.floats(0.01, 1000.0)


def _blast(area: float, thickness: float, **changed: float) -> Blasting:
    rates = {"rate": 1000.0, "duty": 0.6, "flow": 181.437, "breakdown": 0.08, "density": 1.4}
    return blast(area, thickness, **(rates | changed))


def test_blasting_example() -> None:
    # Worked example (invented inputs, recomputed from the definitions), 4 digits:
    # 2.4 m2, 200 um, q 1000 um m2/h, b .08.
    found = _blast(2.4, 200.0)
    assert found.trigger_hours == pytest.approx(0.4800, abs=5e-5)
    assert found.hours == pytest.approx(0.8000, abs=5e-5)
    assert found.thrown == pytest.approx(87.09, abs=5e-3)
    assert found.media == pytest.approx(6.967, abs=5e-4)
    assert found.paint == pytest.approx(0.6720, abs=5e-5)
    assert found.waste == pytest.approx(6.967 + 0.672, abs=1e-3)


def test_the_flow_of_one_nozzle() -> None:
    # 400 lb/h at 40 psi (Robins AFB article); the pound by definition.
    flow = 400 * POUND
    assert flow == pytest.approx(181.437, abs=5e-4)


def test_break_even_example() -> None:
    # Worked example: 10 h to rig, 3.854 h/m2 chemical, .3333 h/m2 blasting -> 2.840 m2.
    assert break_even(10.0, 3.854, 0.8 / 2.4) == pytest.approx(2.840, abs=5e-4)


def test_blasting_that_is_no_quicker_never_pays() -> None:
    assert break_even(10.0, 0.3, 0.3) == math.inf
    assert break_even(0.0, 1.0, 0.3) == 0.0
    mixed = break_even(10.0, np.array([1.0, 0.1]), np.array([0.5, 0.5]))
    assert mixed[0] == 20.0
    assert mixed[1] == math.inf


@given(positive, positive, positive)
def test_break_even_is_where_the_hours_are_equal(rig: float, slow: float, quick: float) -> None:
    chemical, blasting = quick + slow, quick
    area = break_even(rig, chemical, blasting)
    assert area * chemical == pytest.approx(rig + area * blasting, rel=1e-9)


def test_bolt_and_tube_examples() -> None:
    # Worked examples: 6 x 40, AF 10, k 4 -> 1066 mm2; 48 of them .05116 m2.
    one = bolt_surface(6.0, 40.0, 10.0, 4.0)
    assert one == pytest.approx(1066, abs=0.5)
    assert 48 * one * 1e-6 == pytest.approx(0.05116, abs=5e-6)
    # 22 mm x 14.5 m less 24 footprints of 19 mm diameter -> .9954 m2.
    assert tube_surface(22.0, 14.5, 24, 19.0) == pytest.approx(0.9954, abs=5e-5)


def test_a_hexagon_without_shank() -> None:
    # Identity of the regular hexagon, its area and perimeter worked from its side.
    side = 10.0 / math.sqrt(3.0)
    hexagon = 3.0 * math.sqrt(3.0) / 2.0 * side**2
    assert bolt_surface(6.0, 0.0, 10.0, 0.0) == pytest.approx(2.0 * hexagon, rel=1e-12)
    assert bolt_surface(6.0, 0.0, 10.0, 4.0) == pytest.approx(2.0 * hexagon + 24.0 * side)


def test_brightener_example() -> None:
    # Worked example: .85 m2, r .35, n 2, c 5, D 3 -> .2295 L mix, .05738 L concentrate.
    found = brighten(0.85, 0.35, 2, 5.0, 3.0)
    assert found.mix == pytest.approx(0.2295, abs=5e-5)
    assert found.concentrate == pytest.approx(0.05738, abs=5.1e-6)  # .057375, rounded up
    assert found.concentrate + found.water == pytest.approx(found.mix, rel=1e-12)


def test_conversion_coat_example() -> None:
    # Worked example: 3.2 m2, c 12 -> .2933 L.
    assert convert(3.2, 12.0) == pytest.approx(0.2933, abs=5e-5)


def test_nothing_to_do_takes_nothing() -> None:
    none = _blast(0.0, 200.0)
    assert (none.hours, none.media, none.paint) == (0.0, 0.0, 0.0)
    assert _blast(2.0, 0.0).hours == 0.0
    assert brighten(0.0, 0.35, 2, 5.0, 3.0).mix == 0.0
    assert convert(0.0, 12.0) == 0.0


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"rate": 0.0}, "rate of blasting"),
        ({"duty": 1.2}, "time at the trigger"),
        ({"breakdown": -0.1}, "breakdown"),
        ({"flow": math.nan}, "media flow"),
    ],
)
def test_values_out_of_range_are_named(changed: dict[str, float], words: str) -> None:
    with pytest.raises(MapperError, match=words):
        _blast(1.0, 100.0, **changed)


def test_more_footprint_than_tube_is_refused() -> None:
    with pytest.raises(MapperError, match="less its footprints"):
        tube_surface(22.0, 0.01, 24, 19.0)


def test_arrays_of_trials() -> None:
    rates = np.array([500.0, 1000.0])
    found = _blast(2.4, 200.0, rate=rates)
    assert found.trigger_hours == pytest.approx([0.96, 0.48])
