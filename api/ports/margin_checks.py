"""Sums over the bench log, as the margin check asks for them.

What a job came to was worked out when it was completed; here it is only added up. No
method reads more rows out of the storage than it gives back values.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Protocol

from api.ports.jobs import ReadingSums
from pricing.margin_check.outcome import StageCounts


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Days in the workshop's time zone, the first and the last among them."""

    first: date
    last: date


@dataclass(frozen=True, slots=True, kw_only=True)
class JobSums:
    """What the completed jobs of some days came to together.

    Attributes:
        currency: that of the jobs added up.
        jobs, pieces, coins_used, under_floor: counted [count].
        planned_revenue, planned_cost, planned_margin: as promised [currency].
        revenue, cost, margin: realised [currency].
        parts: realised less planned margin, by name [currency].
        minutes, planned_minutes: attended [min]; ``labour`` their wage [currency].
        week: such as 2026-W48, where sums were asked for by week.
    """

    currency: str
    jobs: int
    pieces: int
    coins_used: Decimal
    under_floor: int
    planned_revenue: Decimal
    planned_cost: Decimal
    planned_margin: Decimal
    revenue: Decimal
    cost: Decimal
    margin: Decimal
    parts: Mapping[str, Decimal]
    minutes: Decimal
    planned_minutes: Decimal
    labour: Decimal
    week: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CoinSums:
    """What the lines of one coin came to; as `JobSums`, without what falls once."""

    coin: str
    coin_name: str
    pieces: int
    coins_planned: Decimal
    coins_used: Decimal
    planned_margin: Decimal
    margin: Decimal
    parts: Mapping[str, Decimal]


@dataclass(frozen=True, slots=True, kw_only=True)
class StageSums(StageCounts):
    """What happened at one stage, summed.

    Attributes:
        labour_efficiency: its share of that part [currency].
        book_version: of the price book the jobs were planned with; 0 where sums
            are over any.
    """

    stage: str
    title: str
    labour_efficiency: Decimal
    book_version: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class CoinReadings:
    """Scale readings of one coin over what the model said."""

    coin: str
    book_version: int
    slug: ReadingSums = field(default_factory=ReadingSums)
    bored: ReadingSums = field(default_factory=ReadingSums)


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedJob:
    """One completed job in a list.

    Attributes:
        floor_margin: that it must not fall under [share of the net price].
        assumed: what was not logged and is taken as planned.
    """

    id: str
    number: str
    title: str
    completed_day: date
    pieces: int
    planned_margin: Decimal
    margin: Decimal
    revenue: Decimal
    parts: Mapping[str, Decimal]
    minutes: Decimal
    planned_minutes: Decimal
    floor_margin: Decimal
    under_floor: bool
    cause: str | None
    assumed: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RingMade:
    """A ring that was made, and how often [pieces]."""

    coin: str
    coin_name: str
    size_us: Decimal
    pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PromisedQuote:
    """A quote that can still have to be kept: open, or accepted and not completed.

    Attributes:
        document: what it stands on, as it was kept.
        coins_taken: written down for its job already [coins].
    """

    number: str
    accepted: bool
    document: str
    coins_taken: int


class MarginCheckStore(Protocol):
    """Sums over jobs that were completed."""

    def sums(self, span: Span) -> tuple[JobSums, ...]:
        """All of the span together, a currency each."""
        ...

    def weekly(self, span: Span, currency: str) -> tuple[JobSums, ...]:
        """Each week that has any, the oldest first."""
        ...

    def coins(self, span: Span, currency: str) -> tuple[CoinSums, ...]:
        """By coin, the one that lost most first."""
        ...

    def stages(self, span: Span, currency: str) -> tuple[StageSums, ...]:
        """By stage, under any version of the price book."""
        ...

    def jobs(self, span: Span, currency: str, *, limit: int) -> tuple[CheckedJob, ...]:
        """At most so many, those under their floor first, then what lost most."""
        ...

    def evidence(self, span: Span) -> tuple[StageSums, ...]:
        """By stage and the version of the price book that planned it."""
        ...

    def readings(self, span: Span) -> tuple[CoinReadings, ...]:
        """By coin and version of the price book; only coins that have a key."""
        ...

    def most_made(self, span: Span, *, limit: int) -> tuple[RingMade, ...]:
        """Rings by how many were made, most first; only coins that have a key."""
        ...

    def promised(self, now: datetime, *, limit: int) -> tuple[PromisedQuote, ...]:
        """At most so many, the newest first."""
        ...
