"""Intervals against statsmodels, scipy's own exact tests, and printed values."""

from __future__ import annotations

import math

import pytest
from scipy import stats
from statsmodels.stats.proportion import proportion_confint
from statsmodels.stats.rates import confint_poisson

from mapper.corrosion.intervals import (
    count_interval,
    dispersion,
    per_area,
    ratio_interval,
    share_interval,
)
from mapper.errors import MapperError


def test_ten_found() -> None:
    # Exact Poisson (Garwood 1936), recomputed from the definition, 4 digits.
    interval = count_interval(10)
    assert interval.low == pytest.approx(4.795, abs=5e-4)
    assert interval.high == pytest.approx(18.390, abs=5e-4)
    assert interval.words == "95 % exact, two-sided"


def test_none_found_is_one_sided_and_says_so() -> None:
    # -ln .05 = 2.996 and -ln .025 = 3.689 (definition of the Poisson zero term).
    assert count_interval(0).high == pytest.approx(-math.log(0.05), rel=1e-12)
    assert count_interval(0).sides == "one-sided upper"
    assert count_interval(0, sides="two-sided").high == pytest.approx(3.689, abs=5e-4)
    assert count_interval(0).low == count_interval(0, sides="two-sided").low == 0.0


def test_none_found_on_four_tenths_of_a_square_metre() -> None:
    # Worked example: zero findings in .4 m2, one-sided upper 95 % 7.489 per m2 (definition).
    assert per_area(0, 0.4).high == pytest.approx(7.489, abs=5e-4)


@pytest.mark.parametrize("n", [1, 2, 5, 10, 37, 400])
@pytest.mark.parametrize("level", [0.8, 0.95, 0.99])
def test_counts_as_statsmodels(n: int, level: float) -> None:
    # statsmodels.stats.rates.confint_poisson, method "exact-c" (central exact = Garwood).
    low, high = confint_poisson(n, 1.7, method="exact-c", alpha=1 - level)
    interval = per_area(n, 1.7, level)
    assert (interval.low, interval.high) == pytest.approx((low, high), rel=1e-10)


@pytest.mark.parametrize("n", [0, 1, 6, 40])
def test_cover_of_the_count_interval(n: int) -> None:
    # By definition each end leaves 2.5 % beyond it in the Poisson distribution (scipy's pmf).
    interval = count_interval(n, sides="two-sided")
    assert stats.poisson.cdf(n, interval.high) == pytest.approx(0.025, rel=1e-9)
    if n:
        assert stats.poisson.sf(n - 1, interval.low) == pytest.approx(0.025, rel=1e-9)


@pytest.mark.parametrize(("k", "n"), [(0, 9), (1, 9), (4, 40), (9, 9), (317, 1000)])
@pytest.mark.parametrize("level", [0.9, 0.95])
def test_shares_as_statsmodels_and_scipy(k: int, n: int, level: float) -> None:
    # statsmodels proportion_confint "beta" and scipy's binomtest "exact" are both Clopper-Pearson.
    interval = share_interval(k, n, level)
    low, high = proportion_confint(k, n, alpha=1 - level, method="beta")
    other = stats.binomtest(k, n).proportion_ci(level, method="exact")
    assert (interval.low, interval.high) == pytest.approx((low, high), abs=1e-12)
    assert (interval.low, interval.high) == pytest.approx((other.low, other.high), abs=1e-9)


def test_ratio_of_two_panels_is_not_shown() -> None:
    # Worked example: 6 in 1.2 m2 against 1 in .9 m2, ratio 4.5, exact 95 % .5460-207.0 (recomputed
    # from the conditional binomial), 4 digits.
    interval = ratio_interval(6, 1.2, 1, 0.9)
    assert interval.low == pytest.approx(0.5460, abs=5e-5)
    assert interval.high == pytest.approx(207.0, abs=0.05)
    assert interval.low < 1 < interval.high


def test_ratio_from_scipys_exact_share() -> None:
    # p / (1 - p) x area2 / area1 of scipy's exact interval for p = n1 / (n1 + n2).
    ci = stats.binomtest(8, 11).proportion_ci(0.95, method="exact")
    interval = ratio_interval(8, 2.0, 3, 5.0)
    assert interval.low == pytest.approx(2.5 * ci.low / (1 - ci.low), rel=1e-8)
    assert interval.high == pytest.approx(2.5 * ci.high / (1 - ci.high), rel=1e-8)
    assert ratio_interval(3, 1.0, 0, 1.0).high == math.inf
    assert ratio_interval(0, 1.0, 3, 1.0).low == 0.0


def test_clumped_counts_are_called_clumped() -> None:
    # Worked example: 0, 0, 7, 1, 0, 4, 0, 2 have variance/mean 3.714 (definition, 4 digits).
    found = dispersion([0, 0, 7, 1, 0, 4, 0, 2])
    assert found.ratio == pytest.approx(3.714, abs=5e-4)
    assert found.clumped
    assert "too narrow" in found.words
    # Index of dispersion: chi-square on n - 1 of scipy's one-way test of equal expected counts.
    assert found.p == pytest.approx(stats.chisquare([0, 0, 7, 1, 0, 4, 0, 2]).pvalue, rel=1e-9)


def test_dispersion_is_not_estimated_from_little() -> None:
    few = dispersion([3, 0, 5, 0, 0, 9, 1])
    assert few.ratio is None
    assert "7 equal cells" in few.words
    assert dispersion([0] * 9).ratio is None
    assert dispersion([1] + [0] * 20).ratio is None  # 1.0000000000000002 by rounding
    assert dispersion([]).cells == 0
    even = dispersion([2, 1, 2, 1, 2, 1, 2, 1])
    assert even.ratio is not None
    assert not even.clumped


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: count_interval(-1), "whole number"),
        (lambda: count_interval(True), "whole number"),
        (lambda: count_interval(1, 1.0), "between 0 and 1"),
        (lambda: count_interval(1, sides="lower"), "two-sided"),
        (lambda: per_area(3, 0.0), "Where nobody looked"),
        (lambda: per_area(3, math.nan), "Where nobody looked"),
        (lambda: share_interval(3, 2), "at most n"),
        (lambda: share_interval(0, 0), "n is at least 1"),
        (lambda: ratio_interval(0, 1.0, 0, 1.0), "at least one finding"),
        (lambda: dispersion([1, -2]), "whole number"),
    ],
)
def test_what_is_refused(call: object, words: str) -> None:
    with pytest.raises(MapperError, match=words):
        call()  # type: ignore[operator]
