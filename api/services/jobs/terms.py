"""What is said of a job: what it is for, money, coins and attempts."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal
from types import MappingProxyType
from typing import Any
from zoneinfo import ZoneInfo

from api.ports.jobs import JobLog, LoggedAttempt, LoggedCoins, ToldAttempt
from pricing.margin_check.actual import (
    MONEY,
    Attempt,
    CoinsUsed,
    JobActual,
    JobMoney,
)
from pricing.price_book import PriceBook
from pricing.ring_size import RingSize

MOST_ATTEMPTS = 1000
"""Attempts of one job [count]."""
MOST_COINS = 100
"""Purchases that the coins of one job come from [count]."""
LARGEST_AMOUNT = Decimal(10**9)
"""What an amount has to stay under [currency]."""
MOST_MINUTES = Decimal(10000)
"""Longest time that one attempt may be at one stage [min]."""
MOST_VISITS = 1000
MOST_GRAMS = Decimal(10000)
PLACES = 4
"""Decimals of an amount, of minutes and of a mass."""


NO_MONEY = JobMoney()
_NOON = time(12)
_NO_MINUTES: Mapping[str, Decimal] = MappingProxyType({})


@dataclass(frozen=True, slots=True, kw_only=True)
class AttemptAsk(ToldAttempt):
    """One attempt as it is to be written down."""

    def logged(self, n: int, at: datetime, entry: str | None = None) -> LoggedAttempt:
        """It as it is written down, under its number; ``entry`` as of that."""
        return LoggedAttempt(
            n=n,
            line=self.line,
            outcome=self.outcome,
            stage=self.stage,
            minutes=self.minutes,
            visits=self.visits,
            slug_g=self.slug_g,
            bored_g=self.bored_g,
            finished_g=self.finished_g,
            note=self.note,
            entry=entry,
            at=at,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class LogAsk:
    """What is to be written down for a job.

    Attributes:
        money: all that is known of it.
        coins: taken, with what each cost; none for not known.
        attempts: in place of those that are there; None leaves them.
        completed_at: when the job was done; None leaves that as it is.
    """

    money: JobMoney = NO_MONEY
    coins: tuple[LoggedCoins, ...] = ()
    attempts: tuple[AttemptAsk, ...] | None = None
    completed_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class JobAsk:
    """What a job is to be opened for: a quote, or pieces of a ready-made listing.

    Attributes:
        quote: id or number of an accepted quote; None for a listing.
        sku: of a listing; ``size`` and ``quantity`` say which pieces and how many.
        spot_price: of a troy ounce, to plan the listing's pieces with [the book's
            currency/ozt]; None takes the one in force.
        reference: what the maker's own files call it; None for nothing.
    """

    quote: str | None = None
    sku: str | None = None
    size: RingSize | None = None
    quantity: int = 1
    spot_price: Decimal | None = None
    reference: str | None = None


def moment_of(said: date | datetime, book: PriceBook, *, now: datetime) -> datetime:
    """The moment that is meant: noon of a day in the workshop, or now if sooner."""
    if isinstance(said, datetime):
        return said
    zone = ZoneInfo(book.timezone)
    noon = datetime.combine(said, _NOON, zone)
    return min(noon, now) if said == now.astimezone(zone).date() else noon


def money_text(money: JobMoney) -> str:
    """The canonical JSON text of what is known."""
    figures = ((name, getattr(money, name)) for name in MONEY)
    known = {name: f"{figure:f}" for name, figure in figures if figure is not None}
    return json.dumps(known, sort_keys=True, separators=(",", ":"))


def read_money(text: str) -> JobMoney:
    """What was known."""
    members: dict[str, Any] = json.loads(text)
    return JobMoney(**{name: Decimal(figure) for name, figure in members.items()})


def actual_of(money: JobMoney, log: JobLog) -> JobActual:
    """What really happened, as `pricing.margin_check` takes it; open attempts apart."""
    return JobActual(
        **{name: getattr(money, name) for name in MONEY},
        coins=tuple(
            CoinsUsed(line=x.line, count=x.count, unit_cost=x.unit_cost)
            for x in log.coins
        ),
        attempts=tuple(attempt_of(x) for x in log.attempts if x.outcome != "open"),
    )


def attempt_of(attempt: ToldAttempt, *, minutes: bool = True) -> Attempt:
    """An attempt as `pricing.margin_check` takes it; one still open as a good one.

    Args:
        attempt: as it was told.
        minutes: whether these are told, too.
    """
    return Attempt(
        line=attempt.line,
        outcome="scrapped" if attempt.outcome == "scrapped" else "good",
        stage=attempt.stage,
        minutes=attempt.minutes if minutes else _NO_MINUTES,
        visits=attempt.visits,
        slug_g=attempt.slug_g,
        bored_g=attempt.bored_g,
        finished_g=attempt.finished_g,
    )
