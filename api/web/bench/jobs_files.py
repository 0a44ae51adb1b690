"""A week of the bench log from a spreadsheet, looked at first; and into one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

from flask import abort

from api.ports.jobs import JobFilter
from api.services.jobs.rows import COLUMNS, NEEDED, STAGED
from api.web.bench.file_look import (
    MOST_SENT,
    Reading,
    look_or_import,
    saved,
    usual_writing,
)
from api.web.bench.jobs import ADDRESS
from api.web.pages import File, Page, Pages, Redirect
from api.web.visit import Visit
from pricing.errors import InvalidInput
from pricing.iso_week import IsoWeek

IMPORT = f"{ADDRESS}/import"
EXPORT = f"{ADDRESS}/export"

pages = Pages("job_files", title="Files of the bench log", tab="jobs")


@pages.get(IMPORT)
def files(visit: Visit) -> Page:
    """Where files come in and go out."""
    if visit.book is None:
        return Page("bench/jobs_none.html")
    values = {
        "usual": usual_writing(visit),
        "columns": COLUMNS,
        "stages": [each.key for each in visit.book.stages],
        "week": visit.services.bench.margin_checks.this_week(),
    }
    return Page("bench/job_files.html", values)


@pages.post(IMPORT, again=files, most_bytes=MOST_SENT)
def import_log(visit: Visit) -> Page | Redirect:
    """Say what a file would change; and write it down, once that was seen."""
    reading = Reading(
        template="bench/job_look.html",
        address=ADDRESS,
        columns=partial(_columns, visit),
        needed=NEEDED,
        read=visit.services.bench.files.import_csv,
    )
    return look_or_import(visit, reading)


@pages.get(EXPORT)
def export(visit: Visit) -> File:
    """The jobs of a week, or all of them, as one file."""
    week = visit.query.get("week", "")
    wanted = JobFilter(week=str(_week(week)) if week else None)
    name = f"bench-log-{wanted.week}.csv" if wanted.week else "bench-log.csv"
    exported = partial(visit.services.bench.files.export_csv, wanted=wanted)
    return saved(visit, name, exported)


def _week(text: str) -> IsoWeek:
    try:
        return IsoWeek.parse(text)
    except InvalidInput:
        abort(404)


def _columns(visit: Visit, headings: Sequence[str]) -> list[str]:
    """Every column a file may have, with the stages of the book and of the file."""
    return [*dict.fromkeys((*COLUMNS, *_staged(visit, headings)))]


def _staged(visit: Visit, headings: Sequence[str]) -> Iterator[str]:
    if visit.book is not None:
        yield from (f"minutes:{each.key}" for each in visit.book.stages)
    yield from filter(STAGED.fullmatch, headings)
