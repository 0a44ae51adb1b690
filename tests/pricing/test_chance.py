from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import beta

from pricing.chance import ChanceEstimate, estimated_chance
from pricing.errors import InvalidInput
from pricing.price_book import Chance

COUNTS = st.integers(0, 5000).flatmap(
    lambda tried: st.tuples(st.just(tried), st.integers(0, tried))
)


def counted(tried, failed, prudence=None):
    chance = Chance(tried=tried, failed=failed)
    return estimated_chance(chance, prudence=prudence)


def test_a_given_rate_is_itself_and_has_no_interval():
    rate = Decimal("0.025")
    expected = ChanceEstimate(value=rate, low=None, high=None)
    assert estimated_chance(Chance(rate=rate)) == expected


def test_prudence_leaves_a_given_rate_alone():
    chance = Chance(rate=Decimal("0.025"))
    estimate = estimated_chance(chance, prudence=Decimal("0.9"))
    assert estimate.value == Decimal("0.025")


@pytest.mark.parametrize("rate", ["0", "1"])
def test_never_and_always_are_rates(rate):
    assert estimated_chance(Chance(rate=Decimal(rate))).value == Decimal(rate)


def test_counts_give_the_mean_of_the_posterior():
    assert counted(140, 3).value == Decimal("0.024822695")  # 3.5 / 141


def test_counts_come_back_with_the_estimate():
    estimate = counted(140, 3)
    assert (estimate.tried, estimate.failed) == (140, 3)


def test_a_stage_that_never_failed_is_still_not_perfect():
    estimate = counted(20, 0)
    assert estimate.value == Decimal("0.023809524")  # 0.5 / 21
    assert estimate.low > 0


def test_a_stage_never_tried_is_one_half_and_wide_open():
    estimate = counted(0, 0)
    assert estimate.value == Decimal("0.500000000")
    assert estimate.low < Decimal("0.01")
    assert estimate.high > Decimal("0.99")


@given(COUNTS)
def test_the_interval_is_the_middle_95_percent_of_the_posterior(counts):
    tried, failed = counts
    low, high = beta.ppf([0.025, 0.975], failed + 0.5, tried - failed + 0.5)
    estimate = counted(tried, failed)
    assert float(estimate.low) == pytest.approx(low, abs=1e-9)
    assert float(estimate.high) == pytest.approx(high, abs=1e-9)


@given(COUNTS)
def test_the_mean_lies_inside_the_interval(counts):
    estimate = counted(*counts)
    assert estimate.low <= estimate.value <= estimate.high


@given(COUNTS, st.decimals("0.01", "0.99", places=2))
def test_prudence_is_the_chance_to_be_on_the_safe_side(counts, prudence):
    tried, failed = counts
    value = float(counted(tried, failed, prudence).value)
    covered = beta.cdf([value - 1e-9, value + 1e-9], failed + 0.5, tried - failed + 0.5)
    assert covered[0] <= float(prudence) <= covered[1]


def test_more_prudence_never_lowers_the_chance():
    values = [counted(60, 2, Decimal(p) / 100).value for p in range(5, 100, 5)]
    assert values == sorted(values)
    assert values[0] < values[-1]


def test_prudence_leaves_the_interval_alone():
    plain, careful = counted(60, 2), counted(60, 2, Decimal("0.9"))
    assert (careful.low, careful.high) == (plain.low, plain.high)


@pytest.mark.parametrize("prudence", ["0", "1", "-0.5", "1.5"])
def test_prudence_outside_0_to_1_is_refused(prudence):
    with pytest.raises(InvalidInput, match="above 0 and below 1") as caught:
        counted(10, 1, Decimal(prudence))
    assert caught.value.path == ("prudence",)


@pytest.mark.parametrize("rate", ["-0.01", "1.01"])
def test_a_rate_outside_0_to_1_is_refused(rate):
    with pytest.raises(InvalidInput, match=f"the rate is {rate}") as caught:
        estimated_chance(Chance(rate=Decimal(rate)), path=("stages", 3, "scrap"))
    assert caught.value.path == ("stages", 3, "scrap", "rate")


@pytest.mark.parametrize(
    "chance", [Chance(), Chance(tried=5), Chance(failed=1)], ids=repr
)
def test_half_a_count_is_refused(chance):
    with pytest.raises(InvalidInput, match="both counts") as caught:
        estimated_chance(chance, path=("redo",))
    assert caught.value.path == ("redo",)


@pytest.mark.parametrize(("tried", "failed"), [(5, 6), (5, -1), (-2, -2)])
def test_impossible_counts_are_refused(tried, failed):
    with pytest.raises(InvalidInput, match=f"{failed} failed of {tried}") as caught:
        counted(tried, failed)
    assert caught.value.path == ("failed",)
