"""Rows of jobs and of what they came to, to values and back."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import fields
from decimal import Decimal

from api.db.job_tables import PARTS
from api.db.mapping import AnyRow, Values
from api.db.quote_mapping import folded
from api.ports.jobs import (
    Job,
    JobLine,
    JobResult,
    JobStage,
    ReadingSums,
    Worked,
)
from pricing.money import tidy

_RESULT = {
    "coins_used": "coins_used",
    "realised_revenue": "revenue",
    "realised_cost": "cost",
    "realised_margin": "margin",
    "minutes": "minutes",
    "labour": "labour",
    "under_floor": "under_floor",
    "cause": "cause",
}
"""Columns of a result, and what each holds."""


def job(row: AnyRow) -> Job:
    """A job; its amounts with two decimals or more, whatever the currency has."""
    return Job(
        seq=row.seq,
        id=row.id,
        number=row.number,
        reference=row.reference,
        status=row.status,
        version=row.version,
        quote_id=row.quote_id,
        sku=row.sku,
        title=row.title,
        created_at=row.created_at,
        created_by=row.created_by,
        completed_at=row.completed_at,
        completed_by=row.completed_by,
        completed_day=row.completed_day,
        week=row.week,
        currency=row.currency,
        pieces=row.pieces,
        floor_margin=tidy(row.floor_margin),
        planned_revenue=tidy(row.planned_revenue),
        planned_cost=tidy(row.planned_cost),
        planned_margin=tidy(row.planned_margin),
        planned_minutes=tidy(row.planned_minutes),
        plan=row.plan,
        money=row.money,
        result=_result(row) if row.status == "completed" else None,
    )


def _result(row: AnyRow) -> JobResult:
    return JobResult(
        coins_used=tidy(row.coins_used, places=0),
        revenue=tidy(row.realised_revenue),
        cost=tidy(row.realised_cost),
        margin=tidy(row.realised_margin),
        parts=parts_of(row),
        minutes=tidy(row.minutes),
        labour=tidy(row.labour),
        under_floor=row.under_floor,
        cause=row.cause,
        assumed=tuple(json.loads(row.assumed)),
    )


def job_values(job: Job) -> Values:
    """The columns of a new job; the database gives its place in the order."""
    return {
        "id": job.id,
        "number": job.number,
        "reference": job.reference,
        "quote_id": job.quote_id,
        "sku": job.sku,
        "title": job.title,
        "created_at": job.created_at,
        "created_by": job.created_by,
        "currency": job.currency,
        "pieces": job.pieces,
        "floor_margin": job.floor_margin,
        "planned_revenue": job.planned_revenue,
        "planned_cost": job.planned_cost,
        "planned_margin": job.planned_margin,
        "planned_minutes": job.planned_minutes,
        "plan": job.plan,
        "search": folded(f"{job.number}\n{job.reference or ''}\n{job.title}"),
        "version": job.version,
        **standing_values(job),
    }


def standing_values(job: Job) -> Values:
    """The columns of a job that may change, but for its version."""
    return {
        "status": job.status,
        "completed_at": job.completed_at,
        "completed_by": job.completed_by,
        "completed_day": job.completed_day,
        "week": job.week,
        "money": job.money,
        **_result_values(job.result),
    }


def _result_values(result: JobResult | None) -> Values:
    if result is None:
        names = (*_RESULT, "assumed", *(f"part_{name}" for name in PARTS))
        return dict.fromkeys(names)
    return {
        **{column: getattr(result, name) for column, name in _RESULT.items()},
        "assumed": json.dumps(result.assumed),
        **_part_values(result.parts),
    }


def parts_of(row: AnyRow) -> dict[str, Decimal]:
    """The parts of the difference between two margins, by name."""
    return {name: tidy(getattr(row, f"part_{name}")) for name in PARTS}


def _part_values(parts: Mapping[str, Decimal]) -> Values:
    return {f"part_{name}": parts[name] for name in PARTS}


def job_line(row: AnyRow) -> JobLine:
    """What a line of a completed job came to."""
    return JobLine(
        line=row.line,
        coin=row.coin,
        coin_name=row.coin_name,
        size_us=tidy(row.size_us),
        pieces=row.pieces,
        coins_planned=tidy(row.coins_planned),
        coins_used=tidy(row.coins_used, places=0),
        planned_margin=tidy(row.planned_margin),
        realised_margin=tidy(row.realised_margin),
        parts=parts_of(row),
        slug=ReadingSums(
            n=row.slug_n, ratio=row.slug_ratio, ratio_sq=row.slug_ratio_sq
        ),
        bored=ReadingSums(
            n=row.bored_n, ratio=row.bored_ratio, ratio_sq=row.bored_ratio_sq
        ),
    )


def line_values(job: int, line: JobLine) -> Values:
    """The columns of such a line."""
    return {
        "job": job,
        "line": line.line,
        "coin": line.coin,
        "coin_name": line.coin_name,
        "size_us": line.size_us,
        "pieces": line.pieces,
        "coins_planned": line.coins_planned,
        "coins_used": line.coins_used,
        "planned_margin": line.planned_margin,
        "realised_margin": line.realised_margin,
        **_part_values(line.parts),
        "slug_n": line.slug.n,
        "slug_ratio": line.slug.ratio,
        "slug_ratio_sq": line.slug.ratio_sq,
        "bored_n": line.bored.n,
        "bored_ratio": line.bored.ratio,
        "bored_ratio_sq": line.bored.ratio_sq,
    }


_OF_STAGES = tuple(each.name for each in fields(JobStage))


def job_stage(row: AnyRow) -> JobStage:
    """What a stage of a completed job came to."""
    found = {name: getattr(row, name) for name in _OF_STAGES}
    exact = {
        name: tidy(value) for name, value in found.items() if isinstance(value, Decimal)
    }
    return JobStage(**(found | exact))


def stage_values(job: int, stage: JobStage) -> Values:
    """The columns of such a stage."""
    return {"job": job, **{name: getattr(stage, name) for name in _OF_STAGES}}


def result_rows(worked: Worked) -> tuple[list[Values], list[Values]]:
    """The rows of the lines and of the stages of a result."""
    seq = worked.job.seq
    lines = [line_values(seq, each) for each in worked.lines]
    return lines, [stage_values(seq, each) for each in worked.stages]
