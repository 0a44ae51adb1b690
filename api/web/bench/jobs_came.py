"""What came of a completed job: margin, bridge and what was taken as planned."""

from __future__ import annotations

from typing import Any

from api.ports.jobs import Job, JobResult
from api.services.margin_checks.check import hourly
from api.services.margin_checks.flags import PART_WORDS
from api.web.bench.jobs_words import assumed_words
from api.web.bench.margin_bridge import MarginChange, in_page
from api.web.visit import Visit
from pricing import money


def came_of(visit: Visit, job: Job, result: JobResult) -> dict[str, Any]:
    """What the page of a completed job shows of it."""
    return {
        "result": result,
        "words": PART_WORDS,
        "change": result.margin - job.planned_margin,
        "hourly": hourly(result, money.currency(job.currency)),
        "assumed": assumed_words(result.assumed),
        "picture": in_page(_change(job, result), visit.locale),
    }


def _change(job: Job, result: JobResult) -> MarginChange:
    return MarginChange(
        name=job.number,
        planned=job.planned_margin,
        realised=result.margin,
        parts=result.parts,
        currency=job.currency,
    )
