"""Coins to start for a set: several kinds of coin, and all pieces wanted good.

The kinds fail independently of one another, so the chance that a set is whole is
the product of the chances that each kind suffices. Each of these, against the
coins started, is the distribution function of a negative binomial, which is
log-concave: one coin more of a kind raises the logarithm of the product by less
and less. Giving every further coin to the kind that gains most by it therefore
reaches the confidence with the fewest coins (marginal allocation; tests compare
with trying every combination).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import prod

from pricing import money
from pricing.errors import InvalidInput
from pricing.starts import MOST_COINS, coins_to_start, likely_enough


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Good pieces wanted of one kind of coin.

    Attributes:
        good: pieces [pieces], at least 1.
        chance_good: chance that a start of this kind ends good [fraction].
    """

    good: int
    chance_good: Decimal


def coins_for_set(wanted: Sequence[Wanted], *, confidence: Decimal) -> tuple[int, ...]:
    """Coins of each kind to start, the fewest in all that will do.

    Smallest Σ k_i with Π P(Binomial(k_i, P_i) ≥ good_i) ≥ confidence, the product
    taken at 1e-9. For one kind this is ``coins_to_start``.

    Args:
        wanted: the kinds; none takes no coins.
        confidence: chance that every kind suffices [fraction], above 0, below 1.

    Returns:
        Coins to start of each kind, in their order [coins].

    Raises:
        InvalidInput: an argument out of its range, or more than ``MOST_COINS``
            would be needed.

    >>> pair = [Wanted(good=1, chance_good=Decimal("0.90"))] * 2
    >>> coins_for_set(pair, confidence=Decimal("0.95"))
    (2, 2)
    """
    # No kind can do with fewer than it takes alone, since the others only lower
    # the product: the search begins there.
    coins = [
        coins_to_start(each.good, chance_good=each.chance_good, confidence=confidence)
        for each in wanted
    ]
    now = [_enough(each, k) for each, k in zip(wanted, coins, strict=True)]
    more = [_enough(each, k + 1) for each, k in zip(wanted, coins, strict=True)]
    while money.chance(prod(now)) < confidence:
        if sum(coins) >= MOST_COINS:
            raise InvalidInput(
                f"this set would take more than {MOST_COINS:,} coins; ask for fewer "
                "pieces, or lower the scrap chances",
                path=("quantity",),
            )
        best = max(range(len(coins)), key=lambda i: more[i] / now[i])
        coins[best] += 1
        now[best] = more[best]
        more[best] = _enough(wanted[best], coins[best] + 1)
    return tuple(coins)


def _enough(wanted: Wanted, started: int) -> float:
    return likely_enough(wanted.good, started, float(wanted.chance_good))
