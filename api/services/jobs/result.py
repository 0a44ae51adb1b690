"""What a job came to, worked out once, when it is completed or corrected."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from api.ports.jobs import (
    Job,
    JobLine,
    JobLog,
    JobResult,
    JobStage,
    ReadingSums,
    Worked,
)
from api.services.jobs.plan import plan_members, read_plan
from api.services.jobs.terms import actual_of, read_money
from pricing import money
from pricing.errors import InvalidInput
from pricing.iso_week import IsoWeek
from pricing.margin_check.bridge import JobCheck, LineCheck, check_job
from pricing.margin_check.outcome import counts_of
from pricing.margin_check.plan import PlannedLine
from pricing.money import ZERO
from pricing.price_book import PriceBook


def completed(
    job: Job, log: JobLog, *, at: datetime, by: str, book: PriceBook
) -> Worked:
    """The job as done at a moment, with what it came to.

    Raises:
        InvalidInput: figures that cannot be, all of them listed by their paths; or the
            moment is in a year that is not kept.
    """
    day, week = _day_and_week(at, ZoneInfo(book.timezone))
    done = replace(
        job,
        status="completed",
        completed_at=at,
        completed_by=by,
        completed_day=day,
        week=str(week),
    )
    return worked_out(done, log)


def _day_and_week(at: datetime, zone: ZoneInfo) -> tuple[date, IsoWeek]:
    try:
        IsoWeek.of(at.date())  # the first moments of all have no day in other zones
        day = at.astimezone(zone).date()
        return day, IsoWeek.of(day)
    except InvalidInput as error:
        raise InvalidInput(error.message, path=("completed_at",)) from error


def worked_out(job: Job, log: JobLog) -> Worked:
    """A completed job with what it came to.

    Raises:
        InvalidInput: figures that cannot be, all of them listed by their paths.
    """
    plan = read_plan(job.plan)
    check = check_job(plan, actual_of(read_money(job.money), log))
    sizes = [Decimal(each["size_us"]) for each in plan_members(job.plan)["lines"]]
    return Worked(
        job=replace(job, result=_result(check)),
        lines=tuple(_lines(check, sizes)),
        stages=tuple(_stages(check, plan.lines)),
    )


def _result(check: JobCheck) -> JobResult:
    return JobResult(
        coins_used=sum((line.coins_used for line in check.lines), ZERO),
        revenue=check.realised.revenue,
        cost=check.realised.cost,
        margin=check.realised.margin,
        parts=check.parts,
        minutes=check.minutes,
        labour=check.labour,
        under_floor=check.under_floor,
        cause=check.cause,
        assumed=check.assumed,
    )


def _lines(check: JobCheck, sizes: Sequence[Decimal]) -> Iterator[JobLine]:
    for place, (line, size) in enumerate(zip(check.lines, sizes, strict=True)):
        yield JobLine(
            line=place,
            coin=line.coin_key,
            coin_name=line.coin_name,
            size_us=size,
            pieces=line.pieces,
            coins_planned=line.coins_planned,
            coins_used=line.coins_used,
            planned_margin=line.planned_margin,
            realised_margin=line.realised_margin,
            parts=line.parts,
            slug=_sums(line.slug_ratios),
            bored=_sums(line.bored_ratios),
        )


def _sums(ratios: Sequence[Decimal]) -> ReadingSums:
    with money.arithmetic():
        return ReadingSums(
            n=len(ratios),
            ratio=money.half_up(sum(ratios, ZERO), money.CHANCE_STEP),
            ratio_sq=money.half_up(
                sum((each * each for each in ratios), ZERO), money.CHANCE_STEP
            ),
        )


def _stages(check: JobCheck, plan: Sequence[PlannedLine]) -> Iterator[JobStage]:
    for place, (line, planned) in enumerate(zip(check.lines, plan, strict=True)):
        yield from _stages_of(place, line, planned)


def _stages_of(place: int, line: LineCheck, planned: PlannedLine) -> Iterator[JobStage]:
    for stage, was in zip(line.stages, planned.stages, strict=True):
        yield JobStage(
            line=place,
            stage=stage.key,
            title=stage.title,
            **counts_of(stage),
            labour_efficiency=stage.labour_efficiency,
            scrap_chance=was.scrap_chance,
            redo_chance=was.redo_chance,
        )
