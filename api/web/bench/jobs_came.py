"""What came of a completed job: margin, bridge and what was taken as planned."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from markupsafe import Markup

from api.ports.jobs import Job, JobResult
from api.services.margin_checks.check import hourly
from api.services.margin_checks.flags import PART_WORDS
from api.web import locales
from api.web.bench.jobs_words import assumed_words
from api.web.charts import Caption, Step, bridge
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
        "picture": _picture(visit, job, result),
    }


def _picture(visit: Visit, job: Job, result: JobResult) -> Markup:
    """The bridge, drawn into the page, whose style sheet it takes."""

    def written(amount: Decimal) -> str:
        return locales.money(amount, job.currency, visit.locale)

    parts = [
        Step(label=f"{PART_WORDS[name].capitalize()}  {written(amount)}", amount=amount)
        for name, amount in result.parts.items()
        if amount
    ]
    first, last = (
        Step(label=f"{name} margin  {written(amount)}", amount=amount, whole=True)
        for name, amount in (
            ("Planned", job.planned_margin),
            ("Realised", result.margin),
        )
    )
    steps = (first, *parts, last)
    said = "; ".join(step.label for step in steps)
    caption = Caption(f"From planned to realised margin, {job.number}", said)
    drawn = bridge(steps, caption, words=written, alone=False)
    return Markup(drawn.decode())  # noqa: S704 - the library escapes every text
