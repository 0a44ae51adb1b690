"""`fineweight log`: what is really done at the bench, and what came of it."""

from __future__ import annotations

from typing import Any

import click

from api.cli.context import Desk, with_desk
from api.cli.log_files import export_log, import_log
from api.cli.log_jobs import complete, open_job, reopen, shown
from api.cli.log_words import job_list
from api.cli.log_work import attempt, discard, start, stop
from api.cli.output import note
from api.cli.page_options import newest
from api.cli.written import WRITTEN
from api.ports.jobs import JOB_STATUSES, JobFilter
from api.services.jobs.document import job_summary
from pricing.iso_week import IsoWeek


@click.group()
def log() -> None:
    """Write down what is really done at the bench.

    A job is named by its number, your reference, or the number of its quote. What is
    not written down is taken as planned.

    \b
    Examples:
      fineweight log open 2026-0017
      fineweight log attempt 2026-0017 scrapped --stage fold --minutes fold=8.5
      fineweight log complete 2026-0017 --sold 189.95 --fees 3.86
      fineweight log import week.csv --dry-run
    """  # noqa: D301 - Click keeps the lines together at its own mark


for _each in (open_job, attempt, start, stop, discard, complete, reopen):
    log.add_command(_each)
log.add_command(import_log)
log.add_command(export_log)


@log.command("list")
@click.option("--status", type=click.Choice(JOB_STATUSES), help="Only such.")
@click.option("--week", type=WRITTEN, metavar="WEEK", help="Only completed in it.")
@click.option("--text", type=WRITTEN, default="", help="Only with it in its names.")
@newest()
@with_desk
def list_jobs(desk: Desk, *, limit: int, week: str | None, **chosen: Any) -> None:
    """List jobs, newest first.

    \b
    Examples:
      fineweight log list --status open
      fineweight log list --week 2026-W48 --json
    """  # noqa: D301 - Click keeps the lines together at its own mark
    named = None if week is None else str(IsoWeek.parse(week))
    page = desk.services.bench.jobs.page(JobFilter(week=named, **chosen), limit=limit)
    desk.show_as(
        "job_documents:JobPageDocument",
        {"jobs": [job_summary(job) for job in page.jobs]},
        lambda: job_list(page.jobs),
    )
    if not page.jobs:
        note("There is no such job; open one: fineweight log open --help")
    if page.older:
        note("There are older ones; see more with --limit, or narrow it down.")


@log.command()
@click.argument("job", type=WRITTEN)
@with_desk
def show(desk: Desk, job: str) -> None:
    """Show a JOB: its attempts, and what its margin came to.

    \b
    Examples:
      fineweight log show J2026-0017
      fineweight log show 2026-0017 --json
    """  # noqa: D301 - Click keeps the lines together at its own mark
    shown(desk, desk.services.bench.jobs.find(job))
