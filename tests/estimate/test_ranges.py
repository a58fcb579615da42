"""Ranges: ends, shared draws and scatter against closed forms of the normal distribution."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from mapper.errors import MapperError
from mapper.estimate.defaults import DEFAULTS, rates_of
from mapper.estimate.ranges import Trials, between, spread

TRIALS = Trials(rates_of({}), 4000)


@pytest.mark.parametrize("name", ["apply", "lacquer_scrape", "wet_film", "drip", "lacquer_left"])
def test_low_and_high_are_the_ten_and_ninety_percent_points(name: str) -> None:
    rate = DEFAULTS[name]
    found = between(TRIALS.rate(name))
    assert found.low == pytest.approx(rate.low, rel=2e-3)
    assert found.middle == pytest.approx(rate.value, rel=2e-3)
    assert found.high == pytest.approx(rate.high, rel=2e-3)


def test_the_logarithm_of_a_rate_is_normal() -> None:
    # A default (lo, hi): mu = ln sqrt(lo hi), s = ln(hi / lo) / 2.563 (10 % and 90 % points).
    logs = np.log(TRIALS.rate("lacquer_scrape"))  # .5 to 2
    assert logs.mean() == pytest.approx(math.log(math.sqrt(0.5 * 2.0)), abs=1e-3)
    assert logs.std() == pytest.approx(math.log(2.0 / 0.5) / 2.563, rel=2e-3)
    assert stats.kstest(logs, "norm", (logs.mean(), logs.std())).pvalue > 0.9


def test_a_fraction_never_leaves_nought_to_one() -> None:
    left = spread(DEFAULTS["lacquer_left"], np.linspace(-9, 9, 500))
    assert left.min() > 0.0
    assert left.max() <= DEFAULTS["lacquer_left"].most < 1.0


def test_no_range_no_spread_but_labour_scatters() -> None:
    assert np.all(TRIALS.rate("rinse") == 10.0)
    logs = np.log(TRIALS.rate("rinse", "panel") / 10.0)
    assert logs.std() == pytest.approx(0.35, rel=2e-3)
    assert np.all(TRIALS.rate("kit", "panel") == 1.0)  # not labour


def test_twenty_regions_share_their_rate() -> None:
    # Worked example (first order, recomputed from the definition): 20 regions of 10 h each, shared
    # sd .1893 and own scatter .35, give a total sd of 40.97 h; drawn independently 17.80 h.
    z = 1.2815515655446004
    rates = rates_of(
        {
            "estimate.apply": {
                "value": 10.0,
                "low": 10.0 * math.exp(-z * 0.1893),
                "high": 10.0 * math.exp(z * 0.1893),
            }
        }
    )
    trials = Trials(rates, 4000)
    panels = [f"panel {i}" for i in range(20)]
    # To first order 10 h / rate moves by 10 h times the logarithm of the rate.
    shared = sum(10.0 * np.log(trials.rate("apply", p) / 10.0) for p in panels)
    assert np.std(shared) == pytest.approx(40.97, rel=0.03)
    apart = sum(10.0 * np.log(Trials(rates, 4000, i).rate("apply", "p") / 10.0) for i in range(20))
    assert np.std(apart) == pytest.approx(17.80, rel=0.05)


def test_draws_are_the_same_every_time_and_apart_by_name() -> None:
    again = Trials(rates_of({}), 4000)
    assert np.array_equal(TRIALS.rate("apply", "a"), again.rate("apply", "a"))
    other = Trials(rates_of({}), 4000, seed=21)
    assert not np.array_equal(TRIALS.rate("apply"), other.rate("apply"))
    for one, two in (("apply", "hand"), ("wet_film", "drip")):
        r = np.corrcoef(TRIALS.normal(f"rate {one}"), TRIALS.normal(f"rate {two}"))[0, 1]
        assert abs(r) < 0.06
    with pytest.raises(ValueError, match="read-only"):
        TRIALS.normal("rate apply")[0] = 0.0


def test_tolerance_of_the_shape() -> None:
    # A +/- is a 95 % half-width: 2 % of area holds 95 % of the draws.
    factor = TRIALS.tolerance("p", 2.0)
    assert np.mean(np.abs(factor - 1.0) <= 0.02) == pytest.approx(0.95, abs=2e-3)
    assert np.all(TRIALS.tolerance("p", 0.0) == 1.0)


def test_whole_numbers_are_equally_likely() -> None:
    counts = np.bincount(TRIALS.whole("coats", 1, 6).astype(int))
    assert counts[0] == 0
    assert np.ptp(counts[1:]) <= 1


def test_too_few_trials_are_refused() -> None:
    with pytest.raises(MapperError, match="At least 10"):
        Trials(rates_of({}), 5)
