"""The week: planned against realised, as one page that can be printed."""

from __future__ import annotations

from typing import Any

from flask import abort

from api.services.margin_checks.check import MarginCheck, hourly
from api.services.margin_checks.csv_file import csv_text
from api.services.margin_checks.flags import PART_WORDS, headline
from api.services.margin_checks.margin_checks import JOBS_SHOWN, MOST_JOBS
from api.web.bench.book_words import where
from api.web.bench.margin_bridge import MarginChange, bridge_file, in_page
from api.web.pages import File, Page, Pages, Redirect, table_file
from api.web.typed_numbers import whole_number
from api.web.visit import Visit
from pricing.errors import InvalidInput
from pricing.iso_week import IsoWeek

ADDRESS = "/bench/week"
_ACCEPTED = "The new standards are in the price book."

pages = Pages("week", title="Week", tab="week", done={"accepted": _ACCEPTED})


@pages.get(ADDRESS)
def this_week(visit: Visit) -> Redirect | Page:
    """The week it is in the workshop; before there is a price book, that it lacks."""
    if visit.book is None:
        return Page("bench/week_none.html")
    week = visit.services.bench.margin_checks.this_week()
    return Redirect(f"{ADDRESS}/{week}")


@pages.get(f"{ADDRESS}/<week>")
def show_week(visit: Visit) -> Page:
    """The check of a week."""
    week = _week(visit)
    check = visit.services.bench.margin_checks.week(week)
    return Page("bench/week.html", _values(check, week, visit))


@pages.get(f"{ADDRESS}/<week>/bridge.svg")
def save_picture(visit: Visit) -> File:
    """The bridge as a picture of its own; nothing is drawn for a week without jobs."""
    check = visit.services.bench.margin_checks.week(_week(visit), most_jobs=0)
    if not check.sums.jobs:
        abort(404)
    name = f"bridge-{check.name}.svg"
    drawn = bridge_file(_change(check), visit.locale)
    return File(name=name, body=drawn, media_type="image/svg+xml")


@pages.get(f"{ADDRESS}/<week>/week.csv")
def save_table(visit: Visit) -> File:
    """The check as a table, as the API gives it."""
    checks = visit.services.bench.margin_checks
    check = checks.week(_week(visit), most_jobs=MOST_JOBS)
    return table_file(f"margin-check-{check.name}.csv", csv_text(check))


@pages.get(f"{ADDRESS}/<week>/proposals")
def show_proposals(visit: Visit) -> Page:
    """What the weeks up to one propose, to be ticked."""
    return Page("bench/week_proposals.html", _proposed(visit))


@pages.post(f"{ADDRESS}/<week>/proposals", again=show_proposals)
def look_at_proposals(visit: Visit) -> Page:
    """What was ticked, once more, before it goes into the price book."""
    values = _proposed(visit)
    proposals, ticked = values["found"].proposals, values["ticked"]
    chosen = values["chosen"] = [x for x in proposals if x.proposal.dotted in ticked]
    return Page(
        "bench/week_accept.html" if chosen else "bench/week_proposals.html", values
    )


@pages.post(f"{ADDRESS}/<week>/accept", again=show_proposals, once=True)
def accept_proposals(visit: Visit) -> Redirect:
    """Put what was ticked into a new version of the price book."""
    week = _week(visit)
    visit.services.bench.margin_checks.accept(
        week,
        _ticked(visit),
        expected=whole_number(visit.form.text("version")) or 0,
    )
    return Redirect(f"{ADDRESS}/{week}", done="accepted")


def _week(visit: Visit) -> IsoWeek:
    try:
        return IsoWeek.parse(visit.path["week"])
    except InvalidInput:
        abort(404)


def _ticked(visit: Visit) -> tuple[str, ...]:
    return visit.form.values.get("paths", ())


def _proposed(visit: Visit) -> dict[str, Any]:
    """What is proposed, what of it was ticked, and how its places are called."""
    stages = visit.book.stages if visit.book else ()
    titles = {f"stages.{each.key}": each.title for each in stages if each.title}
    return {
        "found": visit.services.bench.margin_checks.proposals(_week(visit)),
        "ticked": _ticked(visit),
        "where": lambda path: where(path, titles),
    }


def _values(check: MarginCheck, week: IsoWeek, visit: Visit) -> dict[str, Any]:
    this = visit.services.bench.margin_checks.this_week()
    return {
        "check": check,
        "words": PART_WORDS,
        "headline": headline(check),
        "hourly": hourly,
        "picture": in_page(_change(check), visit.locale) if check.sums.jobs else None,
        "change": check.sums.margin - check.sums.planned_margin,
        "before": str(week.plus(-1)),
        "after": str(week.plus(1)) if week < this else "",
        "most_jobs": JOBS_SHOWN,
    }


def _change(check: MarginCheck) -> MarginChange:
    sums = check.sums
    return MarginChange(
        name=check.name,
        planned=sums.planned_margin,
        realised=sums.margin,
        parts=sums.parts,
        currency=check.currency.code,
    )
