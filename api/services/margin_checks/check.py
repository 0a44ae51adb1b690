"""What a margin check says, as values."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Literal, Protocol

from api.ports.margin_checks import CheckedJob, CoinSums, JobSums, Span, StageSums
from pricing import money
from pricing.iso_week import IsoWeek
from pricing.margin_check.evidence import (
    Finding,
    StageEvidence,
    StandardsEvidence,
    TooFew,
)
from pricing.margin_check.outcome import PARTS
from pricing.margin_check.proposal import Proposal
from pricing.money import ZERO, Currency

FlagCode = Literal["under_floor", "scrap_differs", "redo_differs", "minutes_differ"]
FLAG_CODES: tuple[FlagCode, ...] = (
    "under_floor",
    "scrap_differs",
    "redo_differs",
    "minutes_differ",
)
"""What needs attention."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Flag:
    """Something that needs attention.

    Attributes:
        subject: number of a job, or key of a stage.
        title: of it, for a person.
        evidence: in one line.
        n: pieces, tries or attempts it rests on [count].
    """

    code: FlagCode
    subject: str
    title: str
    evidence: str
    n: int


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedStage:
    """A stage of the price book with what the window says of it.

    Attributes:
        standards: of jobs that were planned with the standard in force.
        scrap_chance, redo_chance: of the book [fraction]; None: never sent back.
        judgements: what differs, and where there are too few tries to say.
    """

    standards: StandardsEvidence
    scrap_chance: Decimal
    redo_chance: Decimal | None
    judgements: tuple[Finding | TooFew, ...]

    @property
    def evidence(self) -> StageEvidence:
        """What each standard rests on, in one: as people are told."""
        scrap, redo = self.standards.scrap, self.standards.redo
        return replace(
            self.standards.minutes,
            tried=scrap.tried,
            failed=scrap.failed,
            counted=redo.counted,
            redone=redo.redone,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenPromises:
    """What is promised in open and accepted quotes, and not made yet.

    Attributes:
        quotes, accepted: how many there are, how many of them accepted [count].
        coins: to be started for them, less those taken already [coins].
        fine_ozt: silver in these coins, which is still to be bought [ozt].
        per_unit_of_spot: what one more unit of spot does to their margin
            [currency]; of coins that were taken it does nothing any more.
        left_out: how many quotes were not looked at, because they are too many, in
            another currency or kept by another program [count].
    """

    quotes: int
    accepted: int
    coins: Decimal
    fine_ozt: Decimal
    per_unit_of_spot: Decimal
    left_out: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MarginCheck:
    """Some days at the bench, planned against realised.

    Attributes:
        span: the days; ``week`` where they are one.
        currency: of the price book, and of every amount.
        sums: over its jobs.
        other_currencies: jobs in other currencies, which are left out [count].
        coins, stages: what they came to, one by one.
        jobs: under their floor, and what lost most; ``jobs_left_out`` says how many
            are not listed [count].
        window: days that the stages are judged by.
        trend: twelve weeks that end with the last day's, the oldest first.
    """

    span: Span
    week: IsoWeek | None
    currency: Currency
    timezone: str
    sums: JobSums
    other_currencies: int
    coins: tuple[CoinSums, ...]
    stages: tuple[StageSums, ...]
    jobs: tuple[CheckedJob, ...]
    window: Span
    judged: tuple[JudgedStage, ...]
    flags: tuple[Flag, ...]
    proposals: tuple[Proposal, ...]
    promises: OpenPromises
    trend: tuple[JobSums, ...]

    @property
    def name(self) -> str:
        """What the days are called: the week, or from when to when."""
        if self.week is not None:
            return str(self.week)
        return f"{self.span.first} to {self.span.last}"

    @property
    def attention(self) -> bool:
        """Whether anything needs attention, listed or not."""
        return bool(self.flags or self.sums.under_floor)

    @property
    def jobs_left_out(self) -> int:
        """Jobs that are not listed [count]."""
        return self.sums.jobs - len(self.jobs)


def no_jobs(currency: Currency, week: str | None = None) -> JobSums:
    """The sums over no job."""
    zero = currency.step - currency.step
    names = (
        "planned_revenue", "planned_cost", "planned_margin", "revenue", "cost",
        "margin", "labour",
    )  # fmt: skip
    return JobSums(
        currency=currency.code,
        jobs=0,
        pieces=0,
        coins_used=ZERO,
        under_floor=0,
        parts=dict.fromkeys(PARTS, zero),
        minutes=ZERO,
        planned_minutes=ZERO,
        week=week,
        **dict.fromkeys(names, zero),
    )


class Earning(Protocol):
    """What earned something at the bench: a job, or sums over jobs."""

    @property
    def margin(self) -> Decimal: ...  # noqa: D102 - as of `JobSums`
    @property
    def labour(self) -> Decimal: ...  # noqa: D102
    @property
    def minutes(self) -> Decimal: ...  # noqa: D102


def hourly(sums: Earning, currency: Currency) -> Decimal | None:
    """What an hour at the bench earned: margin and wage over its hours.

    None where nothing was attended.
    """
    if not sums.minutes:
        return None
    with money.arithmetic():
        earned = (sums.margin + sums.labour) * 60 / sums.minutes
    return money.amount(earned, currency)
