from decimal import Decimal
from itertools import pairwise
from math import exp, log, sqrt
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.errors import InvalidInput
from pricing.validity import FEWEST_POINTS, Validity, suggested_validity

SPOT = Decimal("27.50")
FLOOR = Decimal("28.60")


def restless(sigma, points=FEWEST_POINTS):
    """Prices that go up and down by one return, so that its size is their sigma."""
    step = Decimal(exp(sigma))
    return [SPOT * step if i % 2 else SPOT for i in range(points)]


def chance_to_pass(hours, sigma, *, spot=SPOT, floor=FLOOR):
    """By the reflection principle."""
    deviation = sigma * sqrt(float(hours) / 24)
    return 2 * (1 - NormalDist().cdf(log(floor / spot) / deviation))


def simulated_share(hours, sigma, *, seed):
    """Share of walks in many small steps that pass the floor on the way."""
    walks, steps = 4000, 400
    draws = np.random.default_rng(seed)
    one = sigma * sqrt(float(hours) / 24 / steps)
    heights = np.cumsum(draws.normal(0.0, one, size=(walks, steps)), axis=1)
    return np.mean(heights.max(axis=1) > log(FLOOR / SPOT))


@pytest.mark.parametrize(("sigma", "seed"), [(0.006, 1), (0.010, 2), (0.025, 3)])
def test_few_walks_pass_the_floor_in_the_time_suggested(sigma, seed):
    hours = suggested_validity(SPOT, FLOOR, restless(sigma)).hours
    share = simulated_share(hours, sigma, seed=seed)
    # 4000 walks have a standard error of 0.0034; steps miss a little of the path
    assert 0.035 <= share <= 0.055


def test_many_more_walks_pass_it_in_four_times_as_long():
    hours = suggested_validity(SPOT, FLOOR, restless(0.010)).hours
    # 2 · (1 − Φ(1.96 / 2)) = 0.327
    assert 0.29 <= simulated_share(4 * hours, 0.010, seed=4) <= 0.35


@given(st.integers(4, 40), st.integers(101, 130))
def test_the_chance_is_five_percent_wherever_no_bound_cuts_in(thousandths, percent):
    sigma, floor = thousandths / 1000, SPOT * percent / 100
    got = suggested_validity(SPOT, floor, restless(sigma))
    chance = chance_to_pass(got.hours, sigma, floor=floor)
    if got.hours == 720:
        assert chance <= 0.05
    elif got.hours > 24:
        assert 0.0495 <= chance <= 0.0500
    assert 1 <= got.hours <= 720


def test_a_suggestion_says_what_it_stands_on():
    assert suggested_validity(SPOT, FLOOR, restless(0.02, points=60)) == Validity(
        # (ln(28.60 / 27.50) / (1.96 · 0.02))² · 24 = (0.0392207 / 0.0392)² · 24
        hours=Decimal("24.02"),
        sigma_daily=Decimal("0.020000000"),
        points=60,
    )


def test_the_deviation_is_taken_about_zero():
    # a climb of one percent a day has no spread about its mean, and is no calm
    climbing = [SPOT * Decimal("1.01") ** day for day in range(12)]
    got = suggested_validity(SPOT, FLOOR, climbing)
    assert float(got.sigma_daily) == pytest.approx(log(1.01), abs=1e-9)


@pytest.mark.parametrize(
    ("floor", "sigma", "hours"),
    [("27.51", 0.02, "1.00"), ("28.60", 0.10, "1.00"), ("60", 0.001, "720.00")],
)
def test_a_suggestion_lies_between_an_hour_and_thirty_days(floor, sigma, hours):
    got = suggested_validity(SPOT, Decimal(floor), restless(sigma))
    assert str(got.hours) == hours


@pytest.mark.parametrize("floor", [None, SPOT, Decimal("27.49"), Decimal("0.01")])
def test_without_a_floor_above_the_spot_there_is_none(floor):
    assert suggested_validity(SPOT, floor, restless(0.01)) is None


def test_fewer_than_ten_prices_suggest_nothing():
    assert suggested_validity(SPOT, FLOOR, []) is None
    assert suggested_validity(SPOT, FLOOR, restless(0.01, points=9)) is None
    assert suggested_validity(SPOT, FLOOR, restless(0.01, points=10)) is not None


def test_a_history_that_never_moved_suggests_nothing():
    assert suggested_validity(SPOT, FLOOR, [SPOT] * 40) is None
    hardly = [SPOT, SPOT + Decimal("1e-12")] * 20
    assert suggested_validity(SPOT, FLOOR, hardly) is None


def test_one_day_that_moved_is_enough():
    assert suggested_validity(SPOT, FLOOR, [SPOT] * 10 + [FLOOR]) is not None


@pytest.mark.parametrize("wrong", ["0", "-27.50", "NaN", "Infinity", "1E+5000"])
@pytest.mark.parametrize("at", [("spot",), ("spot_at_floor",), ("daily", 3)])
def test_a_figure_that_is_no_price_is_refused(wrong, at):
    daily = restless(0.01)
    if at[0] == "daily":
        daily[3] = Decimal(wrong)
    given_parts = {"spot": SPOT, "spot_at_floor": FLOOR, at[0]: Decimal(wrong)}
    with pytest.raises(InvalidInput, match="give one above 0") as told:
        suggested_validity(given_parts["spot"], given_parts["spot_at_floor"], daily)
    assert told.value.path == at


prices = st.integers(2000, 4000).map(lambda n: n * Decimal("0.01"))
histories = st.lists(prices, min_size=FEWEST_POINTS, max_size=40)


@given(histories, st.integers(2, 1000))
def test_a_suggestion_hangs_on_proportions_alone(daily, times):
    plain = suggested_validity(SPOT, FLOOR, daily)
    assert plain == suggested_validity(
        SPOT * times, FLOOR * times, [price * times for price in daily]
    )


@given(histories, prices, prices)
def test_a_further_floor_never_shortens_a_suggestion(daily, one, other):
    nearer, further = sorted((SPOT + one, SPOT + other))
    near, far = (suggested_validity(SPOT, at, daily) for at in (nearer, further))
    assert (near is None) == (far is None) == (len(set(daily)) == 1)
    assert near is None or near.hours <= far.hours


@given(histories)
def test_the_deviation_is_the_root_of_the_mean_square(daily):
    got = suggested_validity(SPOT, FLOOR, daily)
    returns = [log(b) - log(a) for a, b in pairwise(daily)]
    wanted = sqrt(sum(each * each for each in returns) / len(returns))
    assert (0.0 if got is None else float(got.sigma_daily)) == pytest.approx(
        wanted, abs=2e-9
    )
