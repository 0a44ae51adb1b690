"""The bench log as the services hand it on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Literal

from pricing.margin_check.outcome import StageCounts

JobStatus = Literal["open", "completed"]
JOB_STATUSES: tuple[JobStatus, ...] = ("open", "completed")

Outcome = Literal["open", "good", "scrapped"]
OUTCOMES: tuple[Outcome, ...] = ("open", "good", "scrapped")
"""What became of an attempt; an open one is still at the bench."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobResult:
    """What a completed job came to, worked out once.

    Attributes:
        coins_used: of all lines [coins]; a fraction where taken as planned.
        revenue, cost, margin: realised [currency].
        parts: what realised less planned margin is made of, by name, in the order
            of `pricing.margin_check.PARTS`; they add up to it [currency].
        minutes: at the bench [min]; ``labour`` what they cost [currency].
        under_floor: whether the margin is under the policy's floor; ``cause`` is
            then the part that took the most.
        assumed: what was not logged and is taken as planned, as paths.
    """

    coins_used: Decimal
    revenue: Decimal
    cost: Decimal
    margin: Decimal
    parts: Mapping[str, Decimal]
    minutes: Decimal
    labour: Decimal
    under_floor: bool
    cause: str | None
    assumed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """The work done for a quote or for a ready-made listing.

    Attributes:
        seq: where it stands in the order of opening; 0 until it is stored.
        id: unguessable, the job's name in the API.
        number: what people call it, as in J2026-0017.
        reference: what the maker's own files call it, unique; None for nothing.
        version: counted up by every change of it or of its attempts.
        quote_id, sku: what it is for; exactly one of them.
        created_by, completed_by: the id of a key or a name.
        completed_day: in the workshop's time zone then; ``week`` is that day's, as
            in 2026-W48.
        floor_margin: margin over net that it must not fall under [share].
        planned_minutes: for all good pieces, lost starts included [min].
        plan: canonical JSON text of the figures that were promised.
        money: canonical JSON text of what was paid and received, as far as known.
        result: of a completed job.
    """

    seq: int = 0
    id: str
    number: str
    reference: str | None = None
    status: JobStatus = "open"
    version: int = 1
    quote_id: str | None = None
    sku: str | None = None
    title: str
    created_at: datetime
    created_by: str
    completed_at: datetime | None = None
    completed_by: str = ""
    completed_day: date | None = None
    week: str | None = None
    currency: str
    pieces: int
    floor_margin: Decimal
    planned_revenue: Decimal
    planned_cost: Decimal
    planned_margin: Decimal
    planned_minutes: Decimal
    plan: str
    money: str = "{}"
    result: JobResult | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldAttempt:
    """What is told of one coin put to work.

    Attributes:
        line: of the job's plan, from 0.
        stage: where it was scrapped; None unless it was.
        minutes: at each stage that was timed [min]; ``visits`` to a stage [count].
        slug_g, bored_g, finished_g: scale readings [g].
    """

    line: int = 0
    outcome: Outcome
    stage: str | None = None
    minutes: Mapping[str, Decimal] = field(default_factory=dict)
    visits: Mapping[str, int] = field(default_factory=dict)
    slug_g: Decimal | None = None
    bored_g: Decimal | None = None
    finished_g: Decimal | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedAttempt(ToldAttempt):
    """One coin put to work, as it is written down.

    Attributes:
        n: its number within the job, from 1; 0 until it is stored.
        entry: by which a file that comes again is known; None for none.
    """

    n: int = 0
    entry: str | None = None
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedCoins:
    """Coins taken for a line, at what each cost [currency].

    ``entry`` is that of the row of a file that told of them; None for none.
    """

    line: int = 0
    count: int
    unit_cost: Decimal
    entry: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StageTimer:
    """A stopwatch that runs for a job."""

    line: int = 0
    stage: str
    started_at: datetime
    started_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingSums:
    """Scale readings over what the model says: how many, and their sums [1]."""

    n: int = 0
    ratio: Decimal = Decimal(0)
    ratio_sq: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class JobLine:
    """What one line of a completed job came to; as `JobResult`, with its coin.

    Attributes:
        coin: key; empty for one that came with the request.
        size_us: finger size [US size].
        coins_planned: starts for all good pieces [count].
        slug, bored: of the scale readings.
    """

    line: int
    coin: str
    coin_name: str
    size_us: Decimal
    pieces: int
    coins_planned: Decimal
    coins_used: Decimal
    planned_margin: Decimal
    realised_margin: Decimal
    parts: Mapping[str, Decimal]
    slug: ReadingSums = field(default_factory=ReadingSums)
    bored: ReadingSums = field(default_factory=ReadingSums)


@dataclass(frozen=True, slots=True, kw_only=True)
class JobStage(StageCounts):
    """What one stage of a line of a completed job came to.

    Attributes:
        labour_efficiency: its share of that part [currency].
        scrap_chance, redo_chance: planned, a visit.
    """

    line: int
    stage: str
    title: str
    labour_efficiency: Decimal
    scrap_chance: Decimal
    redo_chance: Decimal | None


@dataclass(frozen=True, slots=True, kw_only=True)
class JobFilter:
    """Which jobs are asked for; what is None or empty does not matter.

    Attributes:
        week: completed in it, as in 2026-W48.
        text: found in number, reference or title, in capital or small letters of
            any alphabet; no character in it has a meaning of its own.
    """

    status: JobStatus | None = None
    week: str | None = None
    quote_id: str | None = None
    sku: str | None = None
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobLog:
    """All that was written down for a job, beside the job itself."""

    attempts: tuple[LoggedAttempt, ...] = ()
    coins: tuple[LoggedCoins, ...] = ()
    timer: StageTimer | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """A completed job with the lines and stages of its result."""

    job: Job
    lines: tuple[JobLine, ...]
    stages: tuple[JobStage, ...]
