"""Intervals for a share, the exact test and the interval of a mean, beside others'.

Published limits are named where they stand; the rest is computed with statsmodels
and scipy.stats, which the project itself does not import.
"""

from decimal import Decimal

import pytest
from scipy import stats
from statsmodels.stats.proportion import proportion_confint
from statsmodels.stats.weightstats import DescrStatsW

from pricing.chance import estimated_chance
from pricing.margin_check.intervals import (
    clopper_pearson,
    exact_binomial_p,
    jeffreys,
    mean_interval,
    wilson,
)
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


# Wilson and Clopper-Pearson limits at 95 %, six decimals. Computed with statsmodels,
# cross-checked with scipy; no published table.
OTHERS = [
    (0, 10, 0.000000, 0.277533, 0.000000, 0.308497),
    (1, 10, 0.017876, 0.404150, 0.002529, 0.445016),
    (5, 10, 0.236593, 0.763407, 0.187086, 0.812914),
    (9, 10, 0.595850, 0.982124, 0.554984, 0.997471),
    (10, 10, 0.722467, 1.000000, 0.691503, 1.000000),
    (0, 25, 0.000000, 0.133192, 0.000000, 0.137185),
    (2, 25, 0.022220, 0.249661, 0.009840, 0.260306),
    (24, 25, 0.804559, 0.992904, 0.796483, 0.998988),
    (28, 30, 0.786765, 0.981523, 0.779265, 0.991822),
    (45, 50, 0.786398, 0.956524, 0.781865, 0.966725),
    (95, 100, 0.888250, 0.978456, 0.887165, 0.983568),
    (190, 200, 0.910422, 0.972617, 0.909972, 0.975766),
]
METHODS = [(wilson, "wilson"), (clopper_pearson, "beta"), (jeffreys, "jeffreys")]


def floats(interval):
    return [float(x) for x in interval]


@pytest.mark.parametrize("row", OTHERS)
def test_wilson_and_exact_limits_as_computed_elsewhere(row):
    failed, tried, *limits = row
    score, exact = wilson(failed, tried), clopper_pearson(failed, tried)
    assert floats((*score, *exact)) == pytest.approx(limits, abs=SHOWN)


@pytest.mark.parametrize(("interval", "method"), METHODS)
@pytest.mark.parametrize("tried", [1, 2, 7, 12, 40, 333, 5000])
def test_every_interval_as_statsmodels_has_it(interval, method, tried):
    for failed in {0, 1, tried // 7, tried // 2, tried - 1, tried}:
        limits = proportion_confint(failed, tried, alpha=0.05, method=method)
        # Our digits end at 1e-9, where money begins.
        assert floats(interval(failed, tried)) == pytest.approx(limits, abs=1e-9)


@pytest.mark.parametrize("confidence", ["0.80", "0.90", "0.99"])
def test_other_confidences_as_statsmodels_has_them(confidence):
    alpha = 1 - float(confidence)
    for interval, method in METHODS[:2]:
        limits = proportion_confint(7, 60, alpha=alpha, method=method)
        found = interval(7, 60, confidence=Decimal(confidence))
        assert floats(found) == pytest.approx(limits, abs=1e-9)


def test_h1_is_the_published_exact_interval():
    # SciPy manual, BinomTestResult.proportion_ci: 7 of 50, 95 % exact.
    published = [0.05819170033997342, 0.26739600249700846]
    assert floats(clopper_pearson(7, 50)) == pytest.approx(published, abs=1e-9)


def test_h2_is_the_exact_90_percent_interval():
    # NIST/SEMATECH e-Handbook 7.2.4.2: 4 of 20 (0.0714 and 0.4010, from memory).
    found = clopper_pearson(4, 20, confidence=Decimal("0.90"))
    assert floats(found) == pytest.approx([0.071354, 0.401028], abs=SHOWN)


def test_h3_meets_the_published_normal_interval():
    # HomeworkSource wafer problem: 171 of 356, 95 % Wald, 0.428 to 0.532; the Wilson
    # limits are computed.
    assert floats(wilson(171, 356)) == pytest.approx([0.428926, 0.532168], abs=SHOWN)


@pytest.mark.parametrize("tried", [1, 8, 9, 23, 60, 187, 1200])
@pytest.mark.parametrize("chance", ["0.0024", "0.02", "0.1", "0.25", "0.5", "0.9"])
def test_the_exact_test_as_scipy_has_it(tried, chance):
    for failed in {0, 1, 2, tried // 10, tried // 4, tried // 2, tried - 1, tried}:
        if not 0 <= failed <= tried:
            continue
        theirs = stats.binomtest(failed, tried, float(chance)).pvalue
        ours = exact_binomial_p(failed, tried, chance=Decimal(chance))
        assert ours == pytest.approx(theirs, rel=1e-9, abs=1e-12)


def test_the_exact_test_of_a_published_example():
    # SciPy manual, binomtest (from memory): 3 of 15 at 0.1, 0.18406106910639114. It is
    # given for the upper tail; no outcome of the lower one is as unlikely.
    found = exact_binomial_p(3, 15, chance=Decimal("0.1"))
    assert found == pytest.approx(0.18406106910639114, rel=1e-9)


@pytest.mark.parametrize("confidence", [0.9, 0.95, 0.97])
def test_the_interval_of_a_mean_as_statsmodels_and_scipy_have_it(confidence):
    values = [8.5, 9.25, 7.0, 12.5, 8.0, 8.75, 10.0, 9.5, 31.0]
    exact = [Decimal(str(value)) for value in values]
    found = mean_interval(
        len(exact),
        sum(exact),
        sum(x * x for x in exact),
        confidence=Decimal(str(confidence)),
    )
    theirs = DescrStatsW(values).tconfint_mean(alpha=1 - confidence)
    assert floats(found) == pytest.approx(theirs, abs=1e-6)
    scale = stats.sem(values)
    again = stats.t.interval(confidence, len(values) - 1, sum(values) / 9, scale)
    assert floats(found) == pytest.approx(again, abs=1e-6)
