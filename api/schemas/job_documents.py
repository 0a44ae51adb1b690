"""Jobs on the wire, for the bench alone: planned, written down, and come of it."""

from __future__ import annotations

from typing import Any

from api.schemas.as_written import DayText
from api.schemas.document import Answer
from api.schemas.estimate_parts import LONG, MOST_COUNT
from api.schemas.fields import (
    Choice,
    CurrencyText,
    DecimalText,
    KeyText,
    ListOf,
    Part,
    PatternText,
    StrictBoolean,
    StrictInteger,
    Text,
    UtcTime,
)
from api.schemas.job_plan_documents import PlanDocument, figure
from api.schemas.jobs import (
    MOST_ATTEMPTS,
    MOST_COINS,
    MOST_JOBS,
    MOST_LINE,
    MOST_NOTE,
    MOST_REFERENCE,
    MOST_VISITS,
    OUTCOME,
    OUTCOMES,
    STATUSES,
    ByStage,
    JobIdText,
    WeekText,
)
from api.schemas.listings import SkuText
from api.schemas.quotes import QuoteIdText
from api.schemas.telling import told
from pricing.margin_check.outcome import PARTS


class JobNumberText(PatternText):
    """What people call a job."""

    pattern = "^J[0-9]{4}-[0-9]{4,}$"
    form = "the number of a job, such as J2026-0017"


class JobTotalsDocument(Answer):
    """What a job was to come to."""

    revenue = figure("Without tax, goods and shipping [currency].")
    cost = figure("Making, fees and sending [currency].")
    margin = figure("The difference [currency].")
    minutes = figure("At the bench [min].")


class JobPartDocument(Answer):
    """One part of the difference between planned and realised margin."""

    part = told(Choice, "What it comes from.", PARTS)
    amount = figure("What it did to the margin [currency]; a loss is negative.")


class ResultDocument(Answer):
    """What a completed job came to."""

    revenue = figure("Without tax, goods and shipping [currency].")
    cost = figure("Making, fees and sending [currency].")
    margin = figure("The difference [currency].")
    coins = figure("Coins used; a fraction where taken as planned.")
    minutes = figure("At the bench [min].")
    labour = figure("Wage of these [currency].")
    bridge = told(
        ListOf,
        "From the planned margin to this one: the parts add up to the difference.",
        Part(JobPartDocument),
        most=len(PARTS),
    )
    under_floor = told(StrictBoolean, "Whether the margin is under the floor.")
    cause = told(
        Text, "The part that took the most, of such a job.", most=40, allow_none=True
    )
    assumed = told(
        ListOf,
        "What was not written down and is taken as planned.",
        Text(most=LONG),
        most=MOST_COUNT,
    )


class JobSummaryDocument(Answer):
    """A job as it stands in a list."""

    id = told(JobIdText, "Its name in addresses.")
    number = told(JobNumberText, "What people call it.")
    reference = told(
        Text, "What your own files call it.", most=MOST_REFERENCE, allow_none=True
    )
    status = told(Choice, "Where it stands.", STATUSES)
    version = told(
        StrictInteger, "Counted up by every change.", least=1, most=MOST_COUNT
    )
    quote_id = told(QuoteIdText, "The quote it is for, or null.", allow_none=True)
    sku = told(SkuText, "The listing it is for, or null.", allow_none=True)
    title = told(Text, "What is made.", most=LONG)
    created_at = told(UtcTime, "When it was opened.")
    created_by = told(Text, "By whom: the id of a key, or a name.", most=200)
    completed_at = told(UtcTime, "When it was done, or null.", allow_none=True)
    completed_by = told(Text, "Who said so.", most=200)
    completed_day = told(DayText, "The day in the workshop, or null.", allow_none=True)
    week = told(WeekText, "The week it counts in, or null.", allow_none=True)
    currency = told(CurrencyText, "Every amount is in it (ISO 4217).")
    pieces = told(StrictInteger, "Good pieces promised.", least=1, most=MOST_COUNT)
    planned = told(Part, "What was promised.", JobTotalsDocument)
    realised = told(
        Part, "What came of it; null while it is open.", ResultDocument, allow_none=True
    )


class CoinsDocument(Answer):
    """Coins that were taken at one price."""

    line = told(StrictInteger, "Of which line.", least=0, most=MOST_LINE)
    count = told(StrictInteger, "How many.", least=1, most=MOST_COUNT)
    unit_cost = figure("What each cost [currency].")


class AttemptDocument(Answer):
    """One coin put to work."""

    n = told(StrictInteger, "Its number in the job.", least=1, most=MOST_COUNT)
    line = told(StrictInteger, "Of which line.", least=0, most=MOST_LINE)
    outcome = told(Choice, OUTCOME, OUTCOMES)
    stage = told(KeyText, "Where it was scrapped, or null.", allow_none=True)
    minutes = told(ByStage, "By stage [min].", DecimalText())
    visits = told(ByStage, "By stage.", StrictInteger(least=1, most=MOST_VISITS))
    slug_g = figure("On the scale [g], or null.", null=True)
    bored_g = figure("On the scale [g], or null.", null=True)
    finished_g = figure("On the scale [g], or null.", null=True)
    note = told(Text, "In a line.", most=MOST_NOTE)
    at = told(UtcTime, "When it was written down first.")


class TimerDocument(Answer):
    """A stopwatch that runs."""

    line = told(StrictInteger, "Of which line.", least=0, most=MOST_LINE)
    stage = told(KeyText, "Where it runs.")
    started_at = told(UtcTime, "Since when.")
    started_by = told(Text, "Who started it.", most=200)


class RunningDocument(TimerDocument):
    """A stopwatch that runs, and for how long."""

    minutes = figure("For how long, as of now [min].")
    forgotten = told(
        StrictBoolean, "Whether that is too long to be work: over twelve hours."
    )

    def arranged(self, obj: Any) -> Any:
        """Its members side by side."""
        timer = obj.timer
        return {
            "line": timer.line,
            "stage": timer.stage,
            "started_at": timer.started_at,
            "started_by": timer.started_by,
            "minutes": obj.minutes,
            "forgotten": obj.forgotten,
        }


class JobDocument(JobSummaryDocument):
    """The whole of a job."""

    plan = told(Part, "What was promised.", PlanDocument)
    sold_price = figure("What the buyer paid, or null.", null=True)
    shipping_charged = figure("The same for sending, or null.", null=True)
    tax = figure("Inside both, or null.", null=True)
    fees = figure("Of the channel, or null.", null=True)
    shipping_paid = figure("What sending cost, or null.", null=True)
    recovery_sold = figure("What metal brought in, or null.", null=True)
    labour_rate = figure("Wage of an hour, or null.", null=True)
    consumables_and_tools = figure("Measured, or null.", null=True)
    coins = told(ListOf, "Coins taken.", Part(CoinsDocument), most=MOST_COINS)
    attempts = told(
        ListOf, "Every coin put to work.", Part(AttemptDocument), most=MOST_ATTEMPTS
    )
    timer = told(
        Part, "The stopwatch that runs, or null.", TimerDocument, allow_none=True
    )


class JobPageDocument(Answer):
    """Some jobs."""

    jobs = told(ListOf, "Newest first.", Part(JobSummaryDocument), most=MOST_JOBS)


class AttemptListDocument(Answer):
    """The attempts of a job."""

    attempts = told(
        ListOf, "In their order.", Part(AttemptDocument), most=MOST_ATTEMPTS
    )
