"""What a feed said, what it may say, and what is said about it.

The figures of ``Limits`` are choices of this project, to be changed per feed.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Literal

from pricing.errors import InvalidInput
from pricing.market_days import aware
from pricing.money import ZERO

Weight = Literal["refuse", "ignore", "hold", "warn"]
Outcome = Literal["refused", "ignored", "held", "accepted"]

_MOST_DIGITS = 30  # before or after the point; beyond, arithmetic could overflow


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What a feed said; nothing about it is trusted but its form.

    Attributes:
        price: of one unit of the metal or currency [currency/unit].
        currency: ISO 4217 code of the price.
        as_of: the feed's own timestamp, with its offset from UTC.
        bid, ask: where the feed gives both [currency/unit], else None.

    Raises:
        InvalidInput: ``as_of`` without its offset.
    """

    price: Decimal
    currency: str
    as_of: datetime
    bid: Decimal | None = None
    ask: Decimal | None = None

    def __post_init__(self) -> None:
        aware(self.as_of)


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """How far a reading may go.

    Attributes:
        lowest, highest: band of prices, both allowed [currency/unit].
        jump: change to the last accepted price, as a share of that.
        spread: ask less bid, as a share of their mean.
        second_source: distance to the second source, as a share of that.
        max_age_hours: age in hours of open market [h].
        future_minutes: how far the feed's clock may be ahead [min].
        frozen_days: market days on which one value looks natural [days].

    Raises:
        InvalidInput: limits that could let nothing or anything through.
    """

    lowest: Decimal = Decimal(1)
    highest: Decimal = Decimal(1000)
    jump: Decimal = Decimal("0.08")
    spread: Decimal = Decimal("0.05")
    second_source: Decimal = Decimal("0.03")
    max_age_hours: Decimal = Decimal(26)
    future_minutes: int = 5
    frozen_days: int = 3

    def __post_init__(self) -> None:
        if not (is_price(self.lowest) and is_price(self.highest)):
            _refuse("lowest", f"{self.lowest} to {self.highest}", "prices above 0")
        if self.lowest >= self.highest:
            _refuse("highest", self.highest, f"more than lowest, {self.lowest}")
        for name in ("jump", "spread", "second_source", "max_age_hours"):
            if not is_price(getattr(self, name)):
                _refuse(name, getattr(self, name), "a figure above 0")
        for name in ("future_minutes", "frozen_days"):
            if getattr(self, name) < 0:
                _refuse(name, getattr(self, name), "0 or more")


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """What was accepted before, of the same thing in the same currency.

    Attributes:
        last: the newest accepted price [currency/unit] and its moment, or None.
        same_price_since: since when each accepted price was the same, or None.
    """

    last: tuple[Decimal, datetime] | None = None
    same_price_since: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One doubt about a reading.

    Attributes:
        code: one of ``CODES``.
        text: what was given, what is allowed and what to do, for the maker.
        weight: what it makes of the reading.
    """

    code: str
    text: str
    weight: Weight


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What becomes of a reading, and every finding in the order of ``CODES``."""

    outcome: Outcome
    findings: tuple[Finding, ...]


def is_price(figure: Decimal) -> bool:
    """Whether ``figure`` [any unit] is a number above 0 of at most 30 digits.

    >>> is_price(Decimal("27.50")), is_price(Decimal("NaN")), is_price(Decimal(0))
    (True, False, False)
    """
    return (
        figure.is_finite() and figure > ZERO and abs(figure.adjusted()) < _MOST_DIGITS
    )


def _refuse(name: str, given: object, allowed: str) -> None:
    raise InvalidInput(
        f"{name} of {given} is not allowed; it must be {allowed}",
        path=("limits", name),
    )
