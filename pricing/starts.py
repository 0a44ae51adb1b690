"""From starts to good pieces: how many coins to start, what a good piece costs."""

from __future__ import annotations

from bisect import bisect_left
from decimal import Decimal

from scipy.special import betainc

from pricing import money
from pricing.errors import InvalidInput
from pricing.money import ONE, ZERO

MOST_COINS = 1_000_000
"""Coins to start for one order beyond which the answer is refused [coins]."""


def chance_of_enough(good: int, *, started: int, chance_good: Decimal) -> Decimal:
    """Chance that at least ``good`` of ``started`` coins end good [fraction].

    P(Binomial(started, P) ≥ good) = I_P(good, started − good + 1), with I the
    regularised incomplete beta function.

    Args:
        good: pieces wanted [pieces], at least 1.
        started: coins started [coins].
        chance_good: chance P that a start ends good [fraction].

    Raises:
        InvalidInput: good below 1, or a chance not above 0 and at most 1.

    >>> chance_of_enough(10, started=13, chance_good=Decimal("0.90"))
    Decimal('0.965839279')
    """
    _check_order(good, chance_good)
    return _enough(good, started, float(chance_good))


def coins_to_start(good: int, *, chance_good: Decimal, confidence: Decimal) -> int:
    """Coins to start so that enough end good: the smallest number that will do.

    Smallest k with P(Binomial(k, P) ≥ good) ≥ confidence, the chance taken at
    1e-9.

    Args:
        good: pieces wanted [pieces], at least 1.
        chance_good: chance P that a start ends good [fraction].
        confidence: chance that k coins are enough [fraction], above 0, below 1.

    Returns:
        Coins to start [coins].

    Raises:
        InvalidInput: an argument out of its range, or more than ``MOST_COINS``
            would be needed.

    >>> coins_to_start(
    ...     10, chance_good=Decimal("0.90"), confidence=Decimal("0.95")
    ... )
    13
    """
    _check_order(good, chance_good)
    if not ZERO < confidence < ONE:
        raise InvalidInput(
            f"confidence is {confidence}; give a chance above 0 and below 1, such as "
            "0.95",
            path=("confidence",),
        )
    ways = range(good, MOST_COINS + 1)
    likely = float(chance_good)
    found = bisect_left(ways, confidence, key=lambda k: _enough(good, k, likely))
    if found == len(ways):
        raise InvalidInput(
            f"{good:,} good pieces at a chance of {chance_good} each would take more "
            f"than {MOST_COINS:,} coins; ask for fewer, or lower the scrap chances",
            path=("quantity",),
        )
    return ways[found]


def _check_order(good: int, chance_good: Decimal) -> None:
    if good < 1:
        raise InvalidInput(
            f"the quantity is {good}; ask for at least 1 piece", path=("quantity",)
        )
    _check_chance_good(chance_good)


def _check_chance_good(chance_good: Decimal) -> None:
    if not ZERO < chance_good <= ONE:
        raise InvalidInput(
            f"the chance that a start ends good is {chance_good}; it must be above 0 "
            "and at most 1",
            path=("chance_good",),
        )


def _enough(good: int, started: int, chance_good: float) -> Decimal:
    return money.chance(likely_enough(good, started, chance_good))


def likely_enough(good: int, started: int, chance_good: float) -> float:
    """``chance_of_enough`` [fraction] as it comes, neither checked nor rounded.

    Args:
        good: pieces wanted [pieces].
        started: coins started [coins].
        chance_good: chance that a start ends good [fraction].
    """
    if started < good:
        return 0.0
    return float(betainc(good, started - good + 1, chance_good))


def cost_per_good_piece(
    cost_per_start: Decimal, recovery_per_start: Decimal, *, chance_good: Decimal
) -> Decimal:
    """Cost of one good piece: (cost per start − recovery per start) / P [currency].

    Args:
        cost_per_start: mean cost of one start, good or not [currency].
        recovery_per_start: mean scrap value of one start [currency].
        chance_good: chance P that a start ends good [fraction].

    Raises:
        InvalidInput: the chance is not above 0 and at most 1.

    >>> cost_per_good_piece(Decimal(40), Decimal(4), chance_good=Decimal("0.9"))
    Decimal('4E+1')
    """
    _check_chance_good(chance_good)
    return (cost_per_start - recovery_per_start) / chance_good
