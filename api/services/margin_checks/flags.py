"""What needs attention, with the evidence for it in one line each."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from api.ports.margin_checks import CheckedJob, JobSums
from api.services.margin_checks.check import (
    Flag,
    FlagCode,
    JudgedStage,
    MarginCheck,
)
from pricing import money
from pricing.margin_check.evidence import Finding
from pricing.money import Currency

_STAGES_NAMED = 3
"""Stages that the headline names [count]."""

_CODES: Mapping[str, FlagCode] = {
    "scrap": "scrap_differs",
    "redo": "redo_differs",
    "minutes": "minutes_differ",
}
PART_WORDS: Mapping[str, str] = {
    "price": "price",
    "fees": "fees",
    "metal_price": "price of the coins",
    "spoilage": "spoilage",
    "recovery": "recovery",
    "labour_rate": "wage",
    "labour_efficiency": "bench time",
    "overhead": "overhead",
    "consumables_and_tools": "consumables and tools",
    "shipping": "shipping",
    "tax": "tax",
    "plan": "the plan itself",
}
"""Parts of the bridge, and causes, as a person calls them."""


def flags_of(
    jobs: Iterable[CheckedJob], judged: Iterable[JudgedStage], currency: Currency
) -> tuple[Flag, ...]:
    """Jobs under their floor first, then stages that differ from the book."""
    return (*_of_jobs(jobs, currency), *_of_stages(judged))


def _of_jobs(jobs: Iterable[CheckedJob], currency: Currency) -> Iterator[Flag]:
    for job in jobs:
        if job.under_floor:
            yield Flag(
                code="under_floor",
                subject=job.number,
                title=job.title,
                evidence=_shortfall(job, currency),
                n=job.pieces,
            )


def _shortfall(job: CheckedJob, currency: Currency) -> str:
    margin = f"margin {money.shown(job.margin, currency.step)} {currency.code}"
    said = f"{margin}, floor {money.percent(job.floor_margin)} of the net goods"
    if job.cause is None:
        return said
    words = PART_WORDS.get(job.cause, job.cause)
    if job.cause not in job.parts:
        return f"{said}; it was planned so"
    lost = money.shown(job.parts[job.cause], currency.step)
    return f"{said}; most was lost by {words}: {lost}"


def _of_stages(judged: Iterable[JudgedStage]) -> Iterator[Flag]:
    for stage in judged:
        for found in stage.judgements:
            if isinstance(found, Finding):
                yield Flag(
                    code=_CODES[found.kind],
                    subject=stage.evidence.key,
                    title=stage.evidence.title,
                    evidence=found.words,
                    n=found.n,
                )


def headline(check: MarginCheck) -> str:
    """The whole check in one line, for whoever reads no more than that."""
    if not check.sums.jobs:
        said = f"{check.name}: no job was completed"
    else:
        said = f"{check.name}: {_margins(check.sums, check.currency)}"
    return "; ".join((said, *_attention(check)))


def _margins(sums: JobSums, currency: Currency) -> str:
    jobs = "1 job" if sums.jobs == 1 else f"{sums.jobs} jobs"
    made, planned = (
        money.shown(x, currency.step) for x in (sums.margin, sums.planned_margin)
    )
    change = sums.margin - sums.planned_margin
    sign = "+" if change > 0 else ""
    off = f"{sign}{money.shown(change, currency.step)}" if change else "as planned"
    return f"{jobs}, margin {made} {currency.code}, planned {planned} ({off})"


def _attention(check: MarginCheck) -> Iterator[str]:
    under = check.sums.under_floor
    if under:
        jobs = "1 job is" if under == 1 else f"{under} jobs are"
        yield f"{jobs} under the floor"
    stages = list({x.title: None for x in check.flags if x.code != "under_floor"})
    more = len(stages) - _STAGES_NAMED
    named = ", ".join(stages[:_STAGES_NAMED])
    if more > 0:
        yield f"{named} and {more} more differ from the book"
    elif stages:
        yield f"{named} {'differs' if len(stages) == 1 else 'differ'} from the book"
