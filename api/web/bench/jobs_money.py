"""Money and coins of a job, its end, and the way back from it."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from api.ports.jobs import Job, LoggedCoins
from api.schemas.document import Document
from api.schemas.fields import UtcTime
from api.schemas.job_bodies import LogBody
from api.schemas.telling import told
from api.services.jobs.terms import LogAsk
from api.web.bench.jobs import ADDRESS
from api.web.bench.jobs_attempts import version_of
from api.web.bench.jobs_one import ONE
from api.web.bench.jobs_view import (
    JobShown,
    job_shown,
    line_title,
    planned_money,
    values_of,
)
from api.web.bench.jobs_words import MONEY_WORDS
from api.web.pages import Page, Pages, Redirect
from api.web.visit import Visit
from pricing import money
from pricing.margin_check.actual import MONEY, JobMoney

BLANK_ROWS = 2
"""Rows for further coins that a form has [count]."""

pages = Pages(
    "job_money",
    title="Money of a job",
    tab="jobs",
    done={"kept": "It is written down. Now the end of the job."},
)


class DoneBody(Document):
    """When a job was done."""

    completed_at = told(UtcTime, "When; left out, now.", load_default=None)


@pages.get(f"{ONE}/money")
def job_money(visit: Visit) -> Page:
    """What was paid and received, to be written down."""
    shown = job_shown(visit, visit.path["job_id"])
    return Page("bench/job_money.html", values_of(visit, shown) | _fields(visit, shown))


@pages.post(f"{ONE}/money", again=job_money, once=True)
def keep_money(visit: Visit) -> Redirect:
    """Write down what is known of money and coins; then to the end, if wished."""
    body = visit.read(LogBody())
    job = visit.services.bench.jobs.get(visit.path["job_id"])
    as_shown = visit.form.text("completed_at") == _local(visit, job)
    ask = LogAsk(
        money=JobMoney(**{name: body[name] for name in MONEY}),
        coins=tuple(LoggedCoins(**each) for each in body["coins"]),
        completed_at=None if as_shown else body["completed_at"],
    )
    visit.services.bench.jobs.change(job.id, ask, expected=version_of(visit))
    here = f"{ADDRESS}/{job.id}"
    return Redirect(f"{here}/done" if visit.form.wants("end") else here, done="kept")


@pages.get(f"{ONE}/done")
def ask_to_complete(visit: Visit) -> Page:
    """A job, once more, before it is done."""
    shown = job_shown(visit, visit.path["job_id"])
    return Page("bench/job_done.html", values_of(visit, shown))


@pages.post(f"{ONE}/done", again=ask_to_complete, once=True)
def complete(visit: Visit) -> Redirect:
    """Say that a job is done."""
    at = visit.read(DoneBody())["completed_at"]
    job = visit.services.bench.jobs.complete(
        visit.path["job_id"], expected=version_of(visit), at=at
    )
    return Redirect(f"{ADDRESS}/{job.id}", done="completed")


@pages.get(f"{ONE}/reopen")
def ask_to_reopen(visit: Visit) -> Page:
    """A job, once more, before it goes back to the bench."""
    shown = job_shown(visit, visit.path["job_id"])
    return Page("bench/job_reopen.html", values_of(visit, shown))


@pages.post(f"{ONE}/reopen", again=ask_to_reopen, once=True)
def reopen(visit: Visit) -> Redirect:
    """Take back that a job is done."""
    job = visit.services.bench.jobs.reopen(
        visit.path["job_id"], expected=version_of(visit)
    )
    return Redirect(f"{ADDRESS}/{job.id}", done="reopened")


def _fields(visit: Visit, shown: JobShown) -> dict[str, Any]:
    plan, coins = shown.document["plan"], shown.document["coins"]
    return {
        "fields": [
            (name, words, about, shown.document[name], planned_money(plan, name))
            for name, (words, about) in MONEY_WORDS.items()
        ],
        "coins": coins,
        "rows": visit.form.rows("coins", len(coins) + BLANK_ROWS),
        "lines": [
            (str(place) if place else "", line_title(line))
            for place, line in enumerate(plan["lines"])
        ],
        "coin_plans": [
            (line_title(line), line["coins"], _each(line)) for line in plan["lines"]
        ],
        "done_at": _local(visit, shown.job),
    }


def _local(visit: Visit, job: Job) -> str:
    """When a job was done, as its field shows it: to the minute, in the workshop."""
    at = job.completed_at
    return at.astimezone(visit.zone).strftime("%Y-%m-%dT%H:%M") if at else ""


def _each(line: dict[str, Any]) -> Decimal:
    """What a coin of a line was planned to cost [currency]."""
    with money.arithmetic():
        coins: Decimal = line["coins"]
        return line["coin_amount"] / coins if coins else money.ZERO
