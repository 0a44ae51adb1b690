"""Jobs: what is at the bench now, what was sold and not begun, and what is done."""

from __future__ import annotations

from typing import Any

from api.ports.jobs import Job, JobFilter, StageTimer
from api.services.jobs.plan import plan_members
from api.web.pages import Page, Pages
from api.web.paging import place, ways
from api.web.visit import Visit
from pricing.errors import InvalidInput
from pricing.iso_week import IsoWeek

ADDRESS = "/bench/jobs"
SHOWN = 50
SOLD_SHOWN = 20
_MOST_TEXT = 100

pages = Pages(
    "jobs",
    title="Jobs",
    tab="jobs",
    done={"imported": "The file is written down, all of it."},
)


@pages.get(ADDRESS)
def jobs(visit: Visit) -> Page:
    """The bench at a glance."""
    if visit.book is None:
        return Page("bench/jobs_none.html")
    text = visit.query.get("text", "").strip()[:_MOST_TEXT]
    if text:
        return Page("bench/jobs_found.html", _found(visit, text))
    bench = visit.services.bench
    sold = bench.at_bench.sold()
    values = {
        "now": bench.at_bench.now(),
        "sold": [
            (each, visit.services.quotes.sheet(each)) for each in sold[:SOLD_SHOWN]
        ],
        "more_sold": max(0, len(sold) - SOLD_SHOWN),
        "stage_title": _stage_title,
    }
    return Page("bench/jobs.html", values | _week(visit))


def _stage_title(job: Job, timer: StageTimer) -> str:
    """What a person calls the stage that is timed."""
    line = plan_members(job.plan)["lines"][timer.line]
    found = {stage["key"]: stage["title"] for stage in line["stages"]}
    return found.get(timer.stage) or timer.stage


def _week(visit: Visit) -> dict[str, Any]:
    """The completed jobs of the week that is asked for, or of this one."""
    this = visit.services.bench.margin_checks.this_week()
    week = _asked_week(visit) or this
    wanted = JobFilter(status="completed", week=str(week))
    before, after = week.plus(-1), week.plus(1)
    return _page(visit, wanted, week=str(week)) | {
        "week": week,
        "is_this": week == this,
        "before": f"{ADDRESS}?week={before}#done",
        "before_name": str(before),
        "after": f"{ADDRESS}?week={after}#done" if week < this else "",
        "after_name": str(after),
    }


def _found(visit: Visit, text: str) -> dict[str, Any]:
    return _page(visit, JobFilter(text=text), text=text) | {"text": text}


def _page(visit: Visit, wanted: JobFilter, **asked: str) -> dict[str, Any]:
    """Jobs that are asked for, from the place that the address says."""
    past, newer = place(visit.query)
    page = visit.services.bench.jobs.page(wanted, limit=SHOWN, past=past, newer=newer)
    seqs = [job.seq for job in page.jobs]
    return {"jobs": page.jobs} | ways(ADDRESS, page, seqs, chosen=asked)


def _asked_week(visit: Visit) -> IsoWeek | None:
    try:
        return IsoWeek.parse(visit.query["week"])
    except (KeyError, InvalidInput):
        return None
