"""Jobs, and what an import writes into them, in words and tables."""

from __future__ import annotations

from collections.abc import Sequence

from api.cli.output import counted, facts, instant, table
from api.ports.jobs import Job, JobLog, LoggedAttempt
from api.services.jobs.document import in_unit
from api.services.jobs.import_report import JobChange, LogReport
from api.services.margin_checks.flags import PART_WORDS
from pricing import money


def job_list(jobs: Sequence[Job]) -> str:
    """Jobs, one line each; empty for none."""
    if not jobs:
        return ""
    rows = [
        (
            job.number,
            job.reference,
            job.title,
            job.week or "open",
            in_unit(job.planned_margin, money.currency(job.currency)),
            None
            if job.result is None
            else in_unit(job.result.margin, money.currency(job.currency)),
        )
        for job in jobs
    ]
    headings = ("number", "yours", "what", "week", "planned", "came")
    return table(headings, rows, right="    rr")


def whole(job: Job, log: JobLog, *, sold: str | None) -> str:
    """All of a job: what was planned, written down, and came of it.

    Args:
        job: which one.
        log: what was written down for it.
        sold: number of its quote, or its listing.
    """
    unit = money.currency(job.currency)
    told = facts(
        {
            job.number: job.title,
            "yours": job.reference,
            "for": sold,
            "opened": f"{instant(job.created_at)} {job.created_by}",
            "completed": instant(job.completed_at),
            "week": job.week,
            "planned margin": f"{in_unit(job.planned_margin, unit)} {unit.code}",
            "stopwatch": _timer(log),
        }
    )
    parts = [told, attempt_list(log.attempts), _came(job)]
    return "\n\n".join(each for each in parts if each)


def attempt_list(attempts: Sequence[LoggedAttempt]) -> str:
    """Attempts, one line each; empty for none."""
    if not attempts:
        return ""
    rows = [
        (
            each.n,
            each.line + 1,
            each.outcome if each.stage is None else f"{each.outcome} at {each.stage}",
            ", ".join(f"{key} {figure:f}" for key, figure in each.minutes.items()),
            each.slug_g,
            each.note,
        )
        for each in attempts
    ]
    headings = ("no", "line", "outcome", "minutes", "slug g", "note")
    return table(headings, rows, right="rr  r")


def change_list(changes: Sequence[JobChange]) -> str:
    """What an import changes, a line for each job."""
    rows = [
        (
            each.row,
            each.job,
            each.number,
            each.change,
            each.added,
            each.changed,
            "completed" if each.completed else "",
            ", ".join(each.members),
        )
        for each in changes
    ]
    headings = ("row", "job", "number", "", "attempts", "changed", "", "also")
    return table(headings, rows, right="r   rr") if rows else ""


def report_words(report: LogReport) -> str:
    """How much an import changes, in a sentence or two."""
    would = "would be " if report.dry_run else ""
    said = (
        f"{counted(report.rows, 'row', 'rows')}: "
        f"{counted(report.count('opened'), 'job', 'jobs')} {would}opened, "
        f"{report.count('changed')} {would}changed, {report.completed} {would}"
        f"completed, {report.unchanged} unchanged; "
        f"{counted(report.attempts, 'attempt', 'attempts')} {would}added."
    )
    if report.ignored:
        said += f" Columns that mean nothing here: {', '.join(report.ignored)}."
    return said


def _timer(log: JobLog) -> str:
    timer = log.timer
    return "" if timer is None else f"{timer.stage} since {instant(timer.started_at)}"


def _came(job: Job) -> str:
    if job.result is None:
        return ""
    unit, result = money.currency(job.currency), job.result
    rows: list[tuple[object, object]] = [
        ("planned margin", in_unit(job.planned_margin, unit)),
        *(
            (PART_WORDS[part], in_unit(amount, unit))
            for part, amount in result.parts.items()
            if amount
        ),
        ("margin", in_unit(result.margin, unit)),
    ]
    text = table(("what made it", unit.code), rows, right=" r")
    if result.under_floor:
        text += f"\nUnder the floor: {PART_WORDS[result.cause or 'plan']}."
    return text
