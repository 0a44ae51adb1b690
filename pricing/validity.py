"""How long a quoted price may hold before the metal is likely to eat its margin.

The logarithm of the spot is taken for a walk without drift, with the daily
variance of the stored history. Such a walk passes a height h above its start
within T days with chance 2·(1 − Φ(h / (σ·√T))), the reflection principle [1];
5 % is reached at h = 1.96·σ·√T. History is no promise: the figure is a
suggestion, and the maker decides.

References:
    [1] Louis Bachelier, Théorie de la spéculation, 1900; in any text on Brownian
        motion (from memory). Checked by simulation in the tests.
    [2] Φ(1.96) = 0.975, the two-sided 5 % point of the normal distribution
        (any printed table, to the two decimals used).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise
from math import fsum, log, sqrt

from pricing.errors import InvalidInput
from pricing.money import ZERO, arithmetic, chance, hours_at_most
from pricing.spot_reading import is_price

FEWEST_POINTS = 10
"""Daily prices without which nothing is suggested: nine returns [count]."""
SHORTEST_HOURS = 1.0
"""Shortest time suggested [h]."""
LONGEST_HOURS = 720.0
"""Longest time suggested: 30 days [h]."""

_NORMAL_POINT = 1.96  # [2]
_HOURS_A_DAY = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class Validity:
    """How long a quote may hold, and what that stands on.

    Attributes:
        hours: the suggestion [h], at 0.01, never rounded up.
        sigma_daily: standard deviation of the daily logarithmic return.
        points: daily prices it was found from [count].
    """

    hours: Decimal
    sigma_daily: Decimal
    points: int


def suggested_validity(
    spot: Decimal, spot_at_floor: Decimal | None, daily: Sequence[Decimal]
) -> Validity | None:
    """Longest time in which spot passes the floor break-even with 5 % chance at most.

    T = (ln(spot_at_floor / spot) / (1.96 · σ))² days, between 1 hour and 30
    days; where T is under the hour, the chance is above 5 %. σ is the root of
    the mean square of the daily returns ln(p₂ / p₁): about zero and not about
    their mean, because the walk is taken to have no drift, so that a steady
    climb shortens the time too. A day is a market day; promised as 24 hours of
    the clock, the time is on the safe side over a weekend.

    None where nothing can be suggested, and the policy's own hours stand: there
    is no floor above the spot, fewer than ``FEWEST_POINTS`` daily prices, or none
    of them ever moved (a price that was not kept up looks calm and is not).

    Args:
        spot: the price of today [currency/ozt].
        spot_at_floor: where the margin is down to its floor [currency/ozt], or
            None where that never happens.
        daily: one price a market day, oldest first [currency/ozt].

    Raises:
        InvalidInput: a price that is not above zero.

    >>> calm = [Decimal(27), Decimal("27.27")] * 5
    >>> suggested_validity(Decimal("27.50"), Decimal("28.60"), calm)
    Validity(hours=Decimal('97.06'), sigma_daily=Decimal('0.009950331'), points=10)
    """
    _check(spot, "spot")
    if spot_at_floor is None:
        return None
    _check(spot_at_floor, "spot_at_floor")
    if spot_at_floor <= spot or len(daily) < FEWEST_POINTS:
        return None
    with arithmetic():
        sigma = _daily_sigma(daily)
        height = log(spot_at_floor / spot)
    if sigma == ZERO:
        return None
    days = (height / (_NORMAL_POINT * float(sigma))) ** 2
    hours = max(SHORTEST_HOURS, min(LONGEST_HOURS, days * _HOURS_A_DAY))
    return Validity(hours=hours_at_most(hours), sigma_daily=sigma, points=len(daily))


def _daily_sigma(daily: Sequence[Decimal]) -> Decimal:
    for i, price in enumerate(daily):
        _check(price, "daily", i)
    squares = [log(after / before) ** 2 for before, after in pairwise(daily)]
    return chance(sqrt(fsum(squares) / len(squares)))


def _check(price: Decimal, *path: str | int) -> None:
    if not is_price(price):
        raise InvalidInput(
            f"{str(price)[:30]} is no price; give one above 0 with at most 30 digits",
            path=path,
        )
