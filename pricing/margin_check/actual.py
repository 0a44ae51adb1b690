"""What really happened with a job, as far as somebody wrote it down.

None, or an empty list, means that it was not logged; the plan then stands in for
it and makes no difference. Amounts are in the job's currency, times are attended
minutes [min], masses are what the scale showed [g]. ``line`` is the place of the
line in the plan, from 0.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from decimal import Decimal
from types import MappingProxyType
from typing import Literal

Outcome = Literal["good", "scrapped"]

OUTCOMES: tuple[Outcome, ...] = ("good", "scrapped")

_NO_MINUTES: Mapping[str, Decimal] = MappingProxyType({})
_NO_VISITS: Mapping[str, int] = MappingProxyType({})


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """One coin put to work, which ended as a good ring or as scrap.

    Attributes:
        outcome: how it ended.
        stage: key of the stage that scrapped it; None for a good one.
        minutes: by key of the stage, all visits together [min].
        visits: how often it came to a stage, by its key [visits]. Where any stage is
            named, one that is not had one visit if the piece came that far. Where
            none is, it may have been sent back as often as planned: nobody says.
        slug_g, bored_g, finished_g: what the scale showed [g].
    """

    line: int = 0
    outcome: Outcome = "good"
    stage: str | None = None
    minutes: Mapping[str, Decimal] = field(default_factory=lambda: _NO_MINUTES)
    visits: Mapping[str, int] = field(default_factory=lambda: _NO_VISITS)
    slug_g: Decimal | None = None
    bored_g: Decimal | None = None
    finished_g: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CoinsUsed:
    """Coins of one purchase: ``count`` [coins] at ``unit_cost`` [currency/coin]."""

    line: int = 0
    count: int
    unit_cost: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class JobMoney:
    """What was paid and received for a job; None is not known, and as planned.

    Attributes:
        sold_price: what the buyer paid for the goods, tax and all [currency].
        shipping_charged: the same for sending them [currency].
        tax: all the tax inside both [currency].
        fees: what the channel took [currency].
        shipping_paid: what sending cost [currency].
        recovery_sold: what slugs, filings and scrap brought in [currency].
        labour_rate: wage of an attended hour [currency/h].
        consumables_and_tools: measured use and wear [currency].
    """

    sold_price: Decimal | None = None
    shipping_charged: Decimal | None = None
    tax: Decimal | None = None
    fees: Decimal | None = None
    shipping_paid: Decimal | None = None
    recovery_sold: Decimal | None = None
    labour_rate: Decimal | None = None
    consumables_and_tools: Decimal | None = None


MONEY: tuple[str, ...] = tuple(each.name for each in fields(JobMoney))
"""The names of what can be known of the money."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobActual(JobMoney):
    """What was logged of a whole job: its money, and what was used and done.

    Attributes:
        coins: what was used, with what was paid.
        attempts: every coin put to work.
    """

    coins: tuple[CoinsUsed, ...] = ()
    attempts: tuple[Attempt, ...] = ()
