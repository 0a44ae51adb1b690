from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom, nbinom

from pricing.errors import InvalidInput
from pricing.starts import (
    MOST_COINS,
    chance_of_enough,
    coins_to_start,
    cost_per_good_piece,
)

NINE_TENTHS = Decimal("0.90")
CHANCES = st.decimals("0.05", "1", places=3)
CONFIDENCES = st.decimals("0.05", "0.999", places=3)


@given(st.integers(1, 60), CHANCES, CONFIDENCES)
def test_it_is_the_smallest_number_that_is_enough(good, chance, confidence):
    coins = coins_to_start(good, chance_good=chance, confidence=confidence)
    assert binom.sf(good - 1, coins, float(chance)) >= float(confidence) - 1e-9
    assert binom.sf(good - 1, coins - 1, float(chance)) < float(confidence)


@given(st.integers(1, 300), st.integers(0, 600), CHANCES)
def test_chance_of_enough_is_the_binomial_tail(good, started, chance):
    enough = chance_of_enough(good, started=started, chance_good=chance)
    tail = binom.sf(good - 1, started, float(chance))
    assert float(enough) == pytest.approx(tail, abs=1e-9)


@given(st.integers(1, 100), st.integers(0, 100), CHANCES)
def test_enough_of_a_number_is_waiting_no_longer_for_it(good, failures, chance):
    # The last good one comes after so many failures: negative binomial.
    enough = chance_of_enough(good, started=good + failures, chance_good=chance)
    waiting = nbinom.cdf(failures, good, float(chance))
    assert float(enough) == pytest.approx(waiting, abs=1e-9)


@given(st.integers(1, 40), CHANCES, CONFIDENCES)
def test_one_more_piece_takes_at_least_one_more_coin(good, chance, confidence):
    less = coins_to_start(good, chance_good=chance, confidence=confidence)
    more = coins_to_start(good + 1, chance_good=chance, confidence=confidence)
    assert more > less


def test_a_route_without_failures_needs_no_spare_coin():
    coins = coins_to_start(7, chance_good=Decimal(1), confidence=Decimal("0.999"))
    assert coins == 7


@pytest.mark.parametrize(
    ("good", "chance", "confidence", "coins"),
    [(1, "0.9", "0.9", 1), (1, "0.9", "0.99", 2), (1, "0.5", "0.75", 2)],
)
def test_a_confidence_that_is_met_exactly_is_met(good, chance, confidence, coins):
    # 1 − 0.1² is 0.99, whatever binary fractions make of it.
    answer = coins_to_start(
        good, chance_good=Decimal(chance), confidence=Decimal(confidence)
    )
    assert answer == coins


def test_ten_thousand_pieces_are_answered():
    coins = coins_to_start(
        10_000, chance_good=Decimal("0.83"), confidence=Decimal("0.95")
    )
    assert binom.sf(9999, coins, 0.83) >= 0.95 > binom.sf(9999, coins - 1, 0.83)


@pytest.mark.parametrize("confidence", ["0", "1", "-0.1", "95"])
def test_a_confidence_outside_0_to_1_is_refused(confidence):
    with pytest.raises(InvalidInput, match=f"confidence is {confidence};") as caught:
        coins_to_start(1, chance_good=NINE_TENTHS, confidence=Decimal(confidence))
    assert caught.value.path == ("confidence",)


@pytest.mark.parametrize("good", [0, -3])
def test_fewer_than_one_piece_is_refused(good):
    with pytest.raises(InvalidInput, match="at least 1 piece") as caught:
        coins_to_start(good, chance_good=NINE_TENTHS, confidence=Decimal("0.95"))
    assert caught.value.path == ("quantity",)


@pytest.mark.parametrize("chance", ["0", "-0.1", "1.000000001"])
def test_a_chance_that_is_none_is_refused(chance):
    with pytest.raises(InvalidInput, match="above 0 and at most 1") as caught:
        chance_of_enough(1, started=1, chance_good=Decimal(chance))
    assert caught.value.path == ("chance_good",)


@pytest.mark.parametrize(
    ("good", "chance"), [(1, "0.000001"), (MOST_COINS, "0.9"), (MOST_COINS + 1, "1")]
)
def test_an_absurd_number_of_coins_is_refused(good, chance):
    with pytest.raises(InvalidInput, match=r"more than 1,000,000 coins") as caught:
        coins_to_start(good, chance_good=Decimal(chance), confidence=Decimal("0.95"))
    assert caught.value.path == ("quantity",)


def test_the_largest_number_allowed_is_given():
    coins = coins_to_start(
        MOST_COINS, chance_good=Decimal(1), confidence=Decimal("0.95")
    )
    assert coins == MOST_COINS


def test_a_good_piece_carries_the_starts_that_failed():
    cost = cost_per_good_piece(
        Decimal("45.00"), Decimal("5.00"), chance_good=Decimal("0.8")
    )
    assert cost == 50


def test_a_good_piece_costs_its_start_when_nothing_fails():
    cost = cost_per_good_piece(Decimal("45.00"), Decimal(0), chance_good=Decimal(1))
    assert cost == Decimal("45.00")


def test_no_good_piece_has_no_cost():
    with pytest.raises(InvalidInput, match="above 0"):
        cost_per_good_piece(Decimal(1), Decimal(0), chance_good=Decimal(0))
