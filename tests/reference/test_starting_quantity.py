"""How many to start: published binomial answers and a table of starting quantities.

Each test names its source.
"""

from decimal import Decimal
from math import ceil

import pytest
from scipy.stats import binom, nbinom

from pricing.starts import chance_of_enough, coins_to_start

# Smallest number to start so that at least ``good`` come out with the confidence.
# Computed with scipy.stats.binom.sf; no published table. Columns: good, chance,
# confidence, start, chance with that many, chance with one fewer, good/chance up.
TABLE = [
    (1, "0.90", "0.95", 2, 0.990000, 0.900000, 2),
    (1, "0.80", "0.99", 3, 0.992000, 0.960000, 2),
    (1, "0.50", "0.95", 5, 0.968750, 0.937500, 2),
    (5, "0.90", "0.95", 7, 0.974309, 0.885735, 6),
    (10, "0.90", "0.95", 13, 0.965839, 0.889130, 12),
    (10, "0.80", "0.95", 16, 0.973343, 0.938949, 13),
    (10, "0.95", "0.99", 13, 0.996897, 0.980432, 11),
    (20, "0.90", "0.90", 24, 0.914925, 0.807269, 23),
    (20, "0.85", "0.95", 27, 0.960236, 0.916673, 24),
    (50, "0.90", "0.95", 60, 0.965791, 0.933411, 56),
]
ROWS = pytest.mark.parametrize("row", TABLE, ids=str)
SHOWN = 5.1e-7  # six decimals


def enough_of(good, started, chance):
    found = chance_of_enough(good, started=started, chance_good=Decimal(chance))
    return float(found)


def exactly(good, started, chance):
    return enough_of(good, started, chance) - enough_of(good + 1, started, chance)


@ROWS
def test_start_so_many(row):
    good, chance, confidence, start, _, _, mean = row
    found = coins_to_start(
        good, chance_good=Decimal(chance), confidence=Decimal(confidence)
    )
    assert found == start
    assert found >= mean == ceil(good / Decimal(chance))


@ROWS
def test_so_many_are_enough_and_one_fewer_is_not(row):
    good, chance, confidence, start, enough, one_fewer, _ = row
    assert enough_of(good, start, chance) == pytest.approx(enough, abs=SHOWN)
    assert enough_of(good, start - 1, chance) == pytest.approx(one_fewer, abs=SHOWN)
    assert enough >= float(confidence) > one_fewer


@ROWS
def test_two_general_distributions_say_the_same(row):
    good, chance, _, start, *_ = row
    found = enough_of(good, start, chance)
    tail = binom.sf(good - 1, start, float(chance))
    waiting = nbinom.cdf(start - good, good, float(chance))
    assert [found, found] == pytest.approx([tail, waiting], abs=1e-9)


def test_g1_ten_in_a_row():
    # Gauthmath exam question: at 0.8 each, all n succeed with 0.10737 for n = 10.
    assert enough_of(10, 10, "0.8") == pytest.approx(0.10737, abs=5e-6)
    assert enough_of(10, 10, "0.8") == pytest.approx(0.8**10, abs=1e-9)


def test_g1_slip_of_the_source():
    # The same page gives 0.1024 for exactly 15 of 20; 0.174560 recomputed here.
    assert exactly(15, 20, "0.8") == pytest.approx(0.174560, abs=SHOWN)


def test_g2_exactly_five_of_nine():
    # qammunity 3115749: 0.00744.
    assert exactly(5, 9, "0.9") == pytest.approx(0.00744, abs=5e-6)


def test_g3_exactly_three_of_ten_fail():
    # questionai.com: 0.010475059441406.
    assert exactly(7, 10, "0.95") == pytest.approx(0.010475059441406, abs=1e-9)


def test_g4_at_most_seven_of_nine():
    # algebra.com 1201223: 0.70 (0.699661 recomputed here).
    at_most = 1 - enough_of(8, 9, "0.75")
    assert at_most == pytest.approx(0.70, abs=0.005)
    assert at_most == pytest.approx(0.699661, abs=SHOWN)
