"""Spreading rates against identities and printed examples; litres and pots against worked ones."""

from __future__ import annotations

import pytest

from mapper.errors import MapperError
from mapper.estimate.paint import (
    dry_mass,
    litres,
    pots,
    spreading_rate,
    spreading_rate_us,
    wet_film,
    with_line_loss,
)

GALLON = 3.785411784  # L, by definition 231 in3 of 25.4 mm
FT2 = 0.09290304  # m2, by definition


def test_printed_examples() -> None:
    # Public coating guides, 4 digits: 65 % solids at 5 mil 208.5 ft2/gal and at 125 um 5.2 m2/L.
    assert spreading_rate_us(65, 5) == pytest.approx(208.5, abs=0.05)
    assert spreading_rate(65, 125) == pytest.approx(5.2, rel=1e-12)
    # 52 % solids, 35 % transfer, 1.5 mil -> 194.6 ft2/gal.
    assert 0.35 * spreading_rate_us(52, 1.5) == pytest.approx(194.6, abs=0.05)


def test_the_constant_of_the_inch_form() -> None:
    # Identity 231 x 1000 / 144 = 1604.17 ft2 mil per US gallon.
    assert spreading_rate_us(100, 1) == pytest.approx(1604.17, abs=0.005)
    # The two forms are one rate: by the definitions of gallon, foot and mil.
    assert spreading_rate_us(48, 1.2) * FT2 / GALLON == pytest.approx(
        spreading_rate(48, 1.2 * 25.4), rel=1e-12
    )


def test_a_gallon_on_a_hundred_square_feet() -> None:
    # Public coating guides: 16 mil wet (16.04 by the identity).
    assert wet_film(GALLON, 100 * FT2) / 25.4 == pytest.approx(16.04, abs=0.005)
    # 1 L/m2 is 1 mm (identity).
    assert wet_film(1.0, 1.0) == 1000.0


def test_primer_and_topcoat_examples() -> None:
    # Worked example, 6.4 m2 (invented inputs, recomputed from the definitions), 4 digits.
    primer = with_line_loss(litres(6.4, 40, 20, 0.55), 0.15)
    assert primer == pytest.approx(0.7318, abs=5e-5)
    topcoat = with_line_loss(litres(6.4, 50, 50, 0.55), 0.15)
    assert topcoat == pytest.approx(1.314, abs=5e-4)
    mixed = pots(topcoat, kit=1.0, spray_rate=9.0, pot_life=4.0)
    assert mixed.count == 2
    assert mixed.discarded == pytest.approx(0.6864, abs=5e-5)


def test_pot_life_makes_the_pot_smaller_than_the_kit() -> None:
    mixed = pots(2.0, kit=1.0, spray_rate=1.5, pot_life=0.4)
    assert mixed.each == pytest.approx(0.6)
    assert mixed.count == 4
    assert mixed.discarded == pytest.approx(0.4)
    exact = pots(3 * 0.1, kit=0.1, spray_rate=9.0, pot_life=4.0)
    assert exact.count == 3  # .30000000000000004 is three pots, not four
    assert exact.discarded == 0.0


def test_nothing_to_paint() -> None:
    assert litres(0.0, 40, 20, 0.5) == 0.0
    assert with_line_loss(0.0, 0.15) == 0.0
    assert pots(0.0, 1.0, 9.0, 4.0).count == 0


def test_dry_coat_mass() -> None:
    # Identity: 50 um at 1.4 g/cm3 is 70 g/m2.
    assert dry_mass(1.0, 50, 1.4) == pytest.approx(0.070, rel=1e-12)
    # Balance example: 1.6 m2 repainted at 98 g/m2 = 70 um at 1.4 g/cm3 (identity).
    assert dry_mass(1.6, 70, 1.4) == pytest.approx(1.6 * 0.098, rel=1e-12)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: spreading_rate(0, 20), "volume solids is 0 %"),
        (lambda: spreading_rate(101, 20), "at most 100 %"),
        (lambda: spreading_rate("40", 20), "must be a number"),
        (lambda: spreading_rate(40, 0), "dry film is 0 um"),
        (lambda: litres(1.0, 40, 20, 1.2), "transfer efficiency is 1.2"),
        (lambda: wet_film(1.0, 0.0), "area is 0 m2"),
        (lambda: pots(1.0, 0.0, 1.0, 1.0), "kit is 0 L"),
    ],
)
def test_what_is_refused(call: object, words: str) -> None:
    with pytest.raises(MapperError, match=words):
        call()  # type: ignore[operator]
