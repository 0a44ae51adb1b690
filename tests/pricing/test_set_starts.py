import random
from decimal import Decimal
from fractions import Fraction
from math import isclose, prod

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing import money, set_starts
from pricing.errors import InvalidInput
from pricing.set_starts import Wanted, coins_for_set
from pricing.starts import coins_to_start, likely_enough
from tests.oracles.whole_sets import best_set

HUNDREDTH = Decimal("0.01")
CONFIDENCES = ("0.5", "0.8", "0.9", "0.95", "0.99", "0.123456789")


def wanted(good, chance):
    return Wanted(good=good, chance_good=Decimal(chance))


def random_set(rng):
    """Up to three kinds, few pieces of each: few enough to try everything."""
    kinds = [
        wanted(rng.randint(1, 4), rng.randint(45, 100) * HUNDREDTH)
        for _ in range(rng.randint(1, 3))
    ]
    return kinds, Decimal(rng.choice(CONFIDENCES))


def chance_of(kinds, coins):
    return prod(
        likely_enough(kind.good, k, float(kind.chance_good))
        for kind, k in zip(kinds, coins, strict=True)
    )


@pytest.mark.parametrize("seed", range(10))
def test_no_other_combination_does_with_fewer_coins_or_is_likelier(seed):
    rng = random.Random(seed)  # noqa: S311 - repeatable, nothing secret
    for _ in range(30):
        kinds, confidence = random_set(rng)
        found = coins_for_set(kinds, confidence=confidence)
        exact = [(kind.good, Fraction(kind.chance_good)) for kind in kinds]
        fewest, best = best_set(exact, Fraction(confidence))
        assert sum(found) == fewest, (kinds, confidence)
        assert isclose(chance_of(kinds, found), best, rel_tol=1e-12)


def fewest_by_table(kinds, confidence):
    """The fewest coins for a larger set: the best chance for every total, by kind."""
    best = {0: 1.0}
    for kind in kinds:
        longer: dict[int, float] = {}
        for total, chance in best.items():
            for k in range(kind.good, kind.good + 40):
                reached = chance * likely_enough(kind.good, k, float(kind.chance_good))
                longer[total + k] = max(longer.get(total + k, 0.0), reached)
        best = longer
    return min(total for total, p in best.items() if money.chance(p) >= confidence)


@pytest.mark.parametrize("seed", range(6))
def test_larger_sets_take_the_fewest_coins(seed):
    rng = random.Random(seed)  # noqa: S311 - repeatable, nothing secret
    kinds = [
        wanted(rng.randint(1, 20), rng.randint(75, 99) * HUNDREDTH) for _ in range(5)
    ]
    confidence = Decimal(rng.choice(CONFIDENCES[1:5]))
    found = coins_for_set(kinds, confidence=confidence)
    assert sum(found) == fewest_by_table(kinds, confidence)


@given(
    good=st.integers(1, 1000),
    chance=st.integers(20, 100).map(lambda n: n * HUNDREDTH),
    confidence=st.integers(1, 10**9 - 1).map(lambda n: n * Decimal("1e-9")),
)
def test_one_kind_alone_takes_what_it_takes_alone(good, chance, confidence):
    alone = coins_to_start(good, chance_good=chance, confidence=confidence)
    found = coins_for_set([wanted(good, chance)], confidence=confidence)
    assert found == (alone,)


def test_two_that_would_do_alone_take_one_coin_more_together():
    # 1 − 0.2² = 0.96 each; 0.96² = 0.9216, and (1 − 0.2³) × 0.96 = 0.95232
    pair = [wanted(1, "0.80")] * 2
    assert coins_for_set(pair, confidence=Decimal("0.95")) == (3, 2)
    assert coins_for_set(pair, confidence=Decimal("0.92")) == (2, 2)


def test_the_kind_that_fails_most_has_the_spare_coins():
    kinds = [wanted(3, "0.99"), wanted(3, "0.60")]
    sure, risky = coins_for_set(kinds, confidence=Decimal("0.95"))
    assert sure - 3 < risky - 3


def test_without_failures_no_coin_is_spare():
    kinds = [wanted(2, 1), wanted(5, 1)]
    assert coins_for_set(kinds, confidence=Decimal("0.999999999")) == (2, 5)


def test_no_kinds_take_no_coins():
    assert coins_for_set([], confidence=Decimal("0.95")) == ()


@pytest.mark.parametrize(
    ("kind", "confidence", "where"),
    [
        (wanted(0, "0.9"), "0.95", ("quantity",)),
        (wanted(1, "0"), "0.95", ("chance_good",)),
        (wanted(1, "0.9"), "1", ("confidence",)),
    ],
)
def test_what_cannot_be_counted_is_refused(kind, confidence, where):
    with pytest.raises(InvalidInput) as refused:
        coins_for_set([wanted(1, "0.9"), kind], confidence=Decimal(confidence))
    assert refused.value.path == where


def test_a_set_that_takes_more_coins_than_can_be_counted_is_refused(monkeypatch):
    monkeypatch.setattr(set_starts, "MOST_COINS", 4)
    pair = [wanted(1, "0.80")] * 2
    assert coins_for_set(pair, confidence=Decimal("0.92")) == (2, 2)
    with pytest.raises(InvalidInput, match="more than 4 coins; ask for fewer"):
        coins_for_set(pair, confidence=Decimal("0.95"))
