"""Defaults say what they rest on, and a shop's changes are checked."""

from __future__ import annotations

import math

import pytest

from mapper.errors import MapperError
from mapper.estimate.defaults import DEFAULTS, rates_of
from mapper.estimate.rate import PREFIX
from mapper.units import Units

INCH = 25.4


@pytest.mark.parametrize("name", list(DEFAULTS))
def test_every_default_has_its_range_and_basis(name: str) -> None:
    rate = DEFAULTS[name]
    assert rate.least <= rate.low <= rate.value <= rate.high <= rate.most
    assert any(
        w in rate.basis
        for w in (
            *("no source", "from memory", "NAVEDTRA 14022", "US TO 1-1-8"),
            *("FAA AC 43.13-1B", "Robins AFB", "until the shop enters it"),
        )
    )
    words = rate.words(Units("metric"))
    assert rate.basis in words
    assert rate.label in words
    if not rate.span_only:
        # A short length or a small can is told in mm or ml.
        assert any(f"{rate.value * many:.3g}" in words for many in (1.0, 1000.0))


@pytest.mark.parametrize("name", [n for n, d in DEFAULTS.items() if d.low < d.high])
def test_middles_are_the_medians_of_their_ranges(name: str) -> None:
    # A range's ends are its 10 % and 90 % points, so its median is sqrt(low x high), or half-way in
    # ln(p / (1 - p)) for a fraction; two digits are kept.
    rate = DEFAULTS[name]
    if rate.span_only:
        return
    if rate.fraction:
        middle = (math.log(rate.low / (1 - rate.low)) + math.log(rate.high / (1 - rate.high))) / 2
        median = 1 / (1 + math.exp(-middle))
    else:
        median = math.sqrt(rate.low * rate.high)
    assert rate.value == pytest.approx(median, rel=0.06)


def test_ranges_that_were_read() -> None:
    # NAVEDTRA 14022: dwell 10-40 min.
    assert (DEFAULTS["dwell"].low, DEFAULTS["dwell"].high) == (10, 40)
    # US TO 1-1-8 Table 5-2: primer, one coat .0006-.0009 in.
    primer = DEFAULTS["primer_film"]
    assert primer.low == pytest.approx(0.0006 * INCH * 1000, rel=1e-12)
    assert primer.high == pytest.approx(0.0009 * INCH * 1000, rel=1e-12)
    # The same table: topcoat to .0023 in a coat.
    assert DEFAULTS["coat_thickness"].high == pytest.approx(0.0023 * INCH * 1000, rel=1e-12)


def test_a_shop_puts_in_its_own_figures() -> None:
    rates = rates_of(
        {
            "estimate.lap": 0.03,
            "estimate.apply": {"value": 9, "low": 7, "high": 12, "basis": "our 14 logs"},
            "estimate.hand": {"low": 0.1},
            "units.paper": "A3",  # another room's
        }
    )
    assert rates.changed == ("lap", "apply", "hand")
    lap = rates["lap"]
    assert (lap.low, lap.value, lap.high) == (0.03, 0.03, 0.03)
    assert "own figure" in lap.basis
    assert (rates["apply"].low, rates["apply"].high) == (7, 12)
    assert "our 14 logs" in rates["apply"].words(Units("metric"))
    assert (rates["hand"].low, rates["hand"].value, rates["hand"].high) == (0.1, 0.4, 0.8)
    assert rates["drip"] is DEFAULTS["drip"]
    assert rates_of({}).changed == ()


def test_a_basis_follows_the_units_of_the_shop() -> None:
    # 6 m2/h is 64.6 ft2/h (definition of the foot).
    assert "64.6 to 215" in DEFAULTS["apply"].words(Units("inch"))
    assert "ft²/h" in DEFAULTS["apply"].words(Units("inch"))


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"estimate.laps": 0.02}, "Did you mean 'estimate.lap'"),
        ({"estimate.": 1}, "No setting"),
        ({"estimate.lap": -0.1}, "at least 0"),
        ({"estimate.lap": 3}, "at most 0.5 m"),
        ({"estimate.lap": "0.02"}, "must be a number"),
        ({"estimate.lap": True}, "must be a number"),
        ({"estimate.lap": math.nan}, "at least 0"),
        ({"estimate.lap": {"value": 0.02, "low": 0.03}}, "lies in its range"),
        ({"estimate.lap": {"middle": 0.02}}, "may have value, low, high, basis"),
        ({"estimate.lap": {"value": 0.02, "basis": " "}}, "A basis is words"),
        ({"estimate.rinses": 1.5}, "whole number"),
        ({"estimate.lacquer_left": 1.0}, "at most 0.95"),
    ],
)
def test_what_is_refused(settings: dict[str, object], words: str) -> None:
    with pytest.raises(MapperError) as caught:
        rates_of(settings)
    assert words in str(caught.value)
    assert PREFIX in str(caught.value)
