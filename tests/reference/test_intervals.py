"""Intervals for a share: our Jeffreys interval beside published and computed ones.

The project has the Jeffreys interval only. Published limits by other methods are
held against it by what is known of the two: the Jeffreys interval lies inside the
exact (Clopper–Pearson) one, and by many counts it meets the plain normal one.
"""

from decimal import Decimal

import pytest
from statsmodels.stats.proportion import proportion_confint

from pricing.chance import estimated_chance
from pricing.price_book import Chance

# 95 % Jeffreys limits and mean (x + ½)/(n + 1), six decimals. Computed with
# statsmodels, cross-checked with scipy's beta quantiles; no published table.
PAIRS = [
    (0, 10, 0.000048, 0.217196, 0.045455),
    (1, 10, 0.011012, 0.381315, 0.136364),
    (5, 10, 0.223529, 0.776471, 0.500000),
    (9, 10, 0.618685, 0.988988, 0.863636),
    (10, 10, 0.782804, 0.999952, 0.954545),
    (0, 25, 0.000019, 0.094683, 0.019231),
    (2, 25, 0.016999, 0.232692, 0.096154),
    (24, 25, 0.827867, 0.995650, 0.942308),
    (28, 30, 0.802906, 0.985888, 0.919355),
    (45, 50, 0.794645, 0.960806, 0.892157),
    (95, 100, 0.893900, 0.980668, 0.945545),
    (190, 200, 0.913125, 0.974007, 0.947761),
]
SHOWN = 5.1e-7


def counted(failed, tried, prudence=None):
    chance = Chance(tried=tried, failed=failed)
    return estimated_chance(chance, prudence=prudence and Decimal(prudence))


@pytest.mark.parametrize(("failed", "tried", "low", "high", "mean"), PAIRS)
def test_twelve_pairs_as_computed_elsewhere(failed, tried, low, high, mean):
    estimate = counted(failed, tried)
    found = [float(x) for x in (estimate.low, estimate.high, estimate.value)]
    assert found == pytest.approx([low, high, mean], abs=SHOWN)


@pytest.mark.parametrize(("failed", "tried"), [pair[:2] for pair in PAIRS])
def test_twelve_pairs_as_statsmodels_has_them(failed, tried):
    limits = proportion_confint(failed, tried, alpha=0.05, method="jeffreys")
    estimate = counted(failed, tried)
    found = [float(estimate.low), float(estimate.high)]
    assert found == pytest.approx(list(limits), abs=1e-9)


def test_h1_lies_inside_the_published_exact_interval():
    # SciPy manual, BinomTestResult.proportion_ci: 7 of 50, 95 % exact.
    estimate = counted(7, 50)
    assert estimate.low > 0.05819170033997342
    assert estimate.high < 0.26739600249700846


def test_h2_lies_inside_the_exact_90_percent_interval():
    # NIST/SEMATECH e-Handbook 7.2.4.2: 4 of 20 (limits from memory, 0.0714 and
    # 0.4010; recomputed with general tools). Our 90 % limits are two quantiles.
    low, high = (counted(4, 20, p).value for p in ("0.05", "0.95"))
    assert low > 0.0714
    assert high < 0.4010


def test_h3_meets_the_published_normal_interval_by_many_counts():
    # HomeworkSource wafer problem: 171 of 356, 95 % Wald, 0.428 to 0.532.
    estimate = counted(171, 356)
    assert float(estimate.low) == pytest.approx(0.428, abs=0.001)
    assert float(estimate.high) == pytest.approx(0.532, abs=0.001)
