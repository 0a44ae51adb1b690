"""One run: its preview looked at, applied, watched, and undone."""

from __future__ import annotations

import json
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from api.ports import Conflict, PreconditionFailed, Repricing
from api.services.repricings.refusals import Changed, Overtaken
from api.web.bench.repricing_bands import (
    MOST_AT_ONCE,
    in_review,
    looked_at,
    name_of,
    named,
    ticked,
)
from api.web.bench.repricings import ADDRESS
from api.web.pages import Page, Pages, Redirect, Result
from api.web.typed_numbers import whole_number
from api.web.visit import Visit
from pricing.errors import InvalidInput

ONE = f"{ADDRESS}/<run_id>"
APPLY = f"{ONE}/apply"
UNDO = f"{ONE}/undo"
SUM = "bench/repricing_sum.html"

pages = Pages(
    "repricing_runs",
    title="Repricing",
    tab="listings",
    done={
        "applied": "The new prices are in force.",
        "begun": "It has begun; no price changes until all are ready.",
        "undone": "The prices from before are in force again.",
    },
)


@pages.get(ONE)
def show_run(visit: Visit) -> Page:
    """A run as it stands, with what is decided for every band."""
    run, running = _run(visit), visit.services.repricings.running
    going = run.status == "applying"
    values = {
        "against": running.against(run) if run.status == "preview" else None,
        "progress": running.progress(run) if going else None,
        "outcome": running.outcome(run),
    }
    return Page("bench/repricing.html", values | _told(run) | looked_at(visit, run))


@pages.get(APPLY)
def ask_to_apply(visit: Visit) -> Page:
    """The step before prices change: what will, and what waits for a word."""
    run = _run(visit)
    waiting = in_review(visit, run)
    shown = {name_of(band) for band in waiting.bands}
    values = {
        "against": visit.services.repricings.running.against(run),
        "waiting": waiting.bands,
        "more": name_of(waiting.bands[-1]) if waiting.after else "",
        "carried": [name for name in ticked(visit) if name not in shown],
        "begun": visit.form.text("_from"),
        "all_at_once": 1 < run.counts.get("review", 0) <= MOST_AT_ONCE,
    }
    return Page("bench/repricing_apply.html", values | _told(run) | _sum(visit, run))


@pages.post(APPLY, again=ask_to_apply)
def apply_run(visit: Visit) -> Result:
    """Put the prices in force, or look at more that wait for a word."""
    further = visit.form.deed("more-")
    if further is not None:
        return ask_to_apply(visit.again(visit.form.with_values(_from=further)))
    if not visit.form.wants("apply"):
        return ask_to_apply(visit)
    include, expected = named(visit, _run(visit)), _version(visit)
    start = visit.services.repricings.running.start
    try:
        run = start(visit.path["run_id"], expected=expected, include=include)
    except (PreconditionFailed, Conflict):
        run = _run(visit)
        before = run.status in {"applying", "applied"} and {*include} == {*run.named}
        if not before:
            raise
    done = "applied" if run.status == "applied" else "begun"
    return Redirect(f"{ADDRESS}/{run.id}", done=done)


@pages.live(APPLY, part="sum", template=SUM)
def sum_so_far(visit: Visit) -> dict[str, Any]:
    """What will change with the bands that are ticked so far."""
    run = _run(visit)
    return _told(run) | _sum(visit, run)


@pages.get(UNDO)
def ask_to_undo(visit: Visit) -> Page:
    """The step before the old prices come back."""
    run, running = _run(visit), visit.services.repricings.running
    values = {"against": running.against(run), "outcome": running.outcome(run)}
    return Page("bench/repricing_undo.html", values | _told(run))


@pages.post(UNDO, again=ask_to_undo)
def undo_run(visit: Visit) -> Redirect:
    """Put the prices from before in force again."""
    expected, run_id = _version(visit), visit.path["run_id"]
    try:
        run = visit.services.repricings.undo(run_id, expected=expected)
    except (PreconditionFailed, Conflict):
        run = _run(visit)
        if run.status != "undone":
            raise
    return Redirect(f"{ADDRESS}/{run.id}", done="undone")


def _run(visit: Visit) -> Repricing:
    run: Repricing = visit.services.repricings.get(visit.path["run_id"])
    return run


def _version(visit: Visit) -> int:
    """The version that was looked at. Raises InvalidInput."""
    number = whole_number(visit.form.text("_version"))
    if number is None:
        raise InvalidInput("load the page again; it does not say what was looked at")
    return number


def _told(run: Repricing) -> dict[str, Any]:
    spot = json.loads(run.spot)
    if spot:
        spot["price"] = Decimal(spot["price"])
    return {
        "run": run,
        "spot": spot,
        "home": f"{ADDRESS}/{run.id}",
        "code": run.currency,
        "name_of": name_of,
        "changed_of": _changed,
    }


def _changed(refusal: Conflict | None) -> Sequence[Changed]:
    """What stands against a run, where that is known."""
    return refusal.changed if isinstance(refusal, Overtaken) else ()


def _sum(visit: Visit, run: Repricing) -> dict[str, Any]:
    places = named(visit, run)
    return {"outcome": visit.services.repricings.running.outcome(run, places)}
