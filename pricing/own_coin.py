"""The customer's own coin: it costs nothing and cannot be replaced."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from pricing import money
from pricing.money import Currency


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnCoinRisk:
    """What the customer has to know before leaving the coin.

    Attributes:
        chance_lost: chance that one coin does not become a ring, at 1e-9.
        compensation: agreed for a lost coin [currency].
        text: both in plain words.
    """

    chance_lost: Decimal
    compensation: Decimal
    text: str


def own_coin_risk(
    chance_good: Decimal, compensation: Decimal, *, currency: Currency
) -> OwnCoinRisk:
    """The chance of losing a coin, said so that a customer understands it.

    Args:
        chance_good: chance that a start ends good [fraction].
        compensation: agreed for a lost coin [currency].
        currency: of the compensation.

    >>> euro = money.currency("EUR")
    >>> own_coin_risk(Decimal("0.86"), Decimal(40), currency=euro).text
    'About 14 in 100 coins fail at the bench and are lost. This coin cannot be \
replaced; 40.00 EUR are agreed if it is lost.'
    """
    lost = 1 - chance_good
    agreed = f"{money.amount(compensation, currency)} {currency.code} are agreed"
    if not compensation:
        agreed = "nothing is agreed"
    return OwnCoinRisk(
        chance_lost=lost,
        compensation=compensation,
        text=(
            f"{_how_often(lost)} at the bench and are lost. This coin cannot be "
            f"replaced; {agreed} if it is lost."
        ),
    )


def _how_often(lost: Decimal) -> str:
    in_hundred = money.half_up(lost * 100, money.ONE)
    if in_hundred >= 1:
        return f"About {in_hundred} in 100 coins fail"
    return "Fewer than 1 in 100 coins fail"
