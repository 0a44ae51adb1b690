from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.errors import InvalidInput
from pricing.margin_check.intervals import (
    clopper_pearson,
    exact_binomial_p,
    jeffreys,
    mean_interval,
    wilson,
)

D = Decimal
COUNTS = st.integers(1, 60).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


@pytest.mark.parametrize(
    ("failed", "chance", "p"),
    [(0, "0", 1), (1, "0", 0), (8, "1", 1), (7, "1", 0), (4, "0.5", 1)],
)
def test_what_is_certain_or_the_very_mean(failed, chance, p):
    assert exact_binomial_p(failed, 8, chance=D(chance)) == p


def test_nothing_tried_says_nothing():
    assert exact_binomial_p(0, 0, chance=D("0.1")) == 1


def test_many_tries_are_counted_too():
    assert exact_binomial_p(2000, 100_000, chance=D("0.02")) == pytest.approx(1)
    assert exact_binomial_p(2200, 100_000, chance=D("0.02")) < 1e-4


@pytest.mark.parametrize("chance", ["0.01", "0.2", "0.5", "0.77"])
def test_an_odder_count_has_a_smaller_p(chance):
    ps = [exact_binomial_p(k, 25, chance=D(chance)) for k in range(26)]
    top = ps.index(max(ps))
    assert all(a <= b for a, b in pairwise(ps[: top + 1]))
    assert all(a >= b for a, b in pairwise(ps[top:]))


@pytest.mark.parametrize("chance", ["0.01", "0.05", "0.3"])
@pytest.mark.parametrize("tried", [8, 20, 90])
def test_the_test_errs_in_no_more_than_one_of_twenty(chance, tried):
    ps = [exact_binomial_p(k, tried, chance=D(chance)) for k in range(tried + 1)]
    rate = float(chance)
    likely = [1.0] * (tried + 1)
    for k in range(tried + 1):
        ways = 1.0
        for i in range(k):
            ways *= (tried - i) / (i + 1)
        likely[k] = ways * rate**k * (1 - rate) ** (tried - k)
    assert sum(q for q, p in zip(likely, ps, strict=True) if p < 0.05) <= 0.05


@given(COUNTS)
def test_each_interval_holds_the_share_seen_and_the_exact_one_jeffreys(count):
    failed, tried = count
    exact, score = clopper_pearson(failed, tried), wilson(failed, tried)
    own = jeffreys(failed, tried)
    share = D(failed) / tried
    for low, high in (exact, score):
        assert 0 <= low <= high <= 1
        assert low - D("1e-9") <= share <= high + D("1e-9")
    assert exact.low <= own.low + D("1e-9")
    assert own.high - D("1e-9") <= exact.high


@given(COUNTS)
def test_failed_and_passed_are_each_others_mirror(count):
    failed, tried = count
    for interval in (clopper_pearson, wilson, jeffreys):
        low, high = interval(failed, tried)
        other = interval(tried - failed, tried)
        assert low + other.high == pytest.approx(D(1), abs=D("3e-9"))
        assert high + other.low == pytest.approx(D(1), abs=D("3e-9"))


def test_more_confidence_is_a_wider_interval():
    for interval in (clopper_pearson, wilson):
        narrow, wide = (interval(4, 20, confidence=D(c)) for c in ("0.90", "0.99"))
        assert wide.low < narrow.low < narrow.high < wide.high
    narrow, wide = (
        mean_interval(9, D(18), D(60), confidence=D(c)) for c in ("0.90", "0.99")
    )
    assert wide.low < narrow.low < narrow.high < wide.high


def test_values_that_are_all_one_leave_no_doubt():
    assert mean_interval(3, D(6), D(12)) == (2, 2)
    # sums whose digits were cut: no spread below none
    assert mean_interval(3, D(6), D("11.999999")) == (2, 2)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: exact_binomial_p(3, 2, chance=D("0.1")), "3 failed of 2 tried"),
        (lambda: exact_binomial_p(-1, 2, chance=D("0.1")), "-1 failed of 2"),
        (lambda: exact_binomial_p(1, 2, chance=D("1.1")), "from 0 to 1"),
        (lambda: clopper_pearson(0, 0), "at least 1"),
        (lambda: wilson(0, 0), "at least 1"),
        (lambda: wilson(2, 1), "2 failed of 1"),
        (lambda: mean_interval(1, D(1), D(1)), "at least 2"),
    ],
)
def test_what_is_no_count_is_refused(call, words):
    with pytest.raises(InvalidInput, match=words):
        call()
