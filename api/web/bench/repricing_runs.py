"""One run: its preview looked at, applied, watched, and undone."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from api.ports import (
    BAND_DECISIONS,
    BandDecision,
    BandFilter,
    Conflict,
    Place,
    PreconditionFailed,
    Repricing,
    RepricingBand,
)
from api.services.repricings.pages import RepricedBands
from api.services.repricings.refusals import Changed, Overtaken
from api.web.bench.repricings import ADDRESS
from api.web.pages import Page, Pages, Redirect, Result
from api.web.visit import Visit
from pricing.errors import InvalidInput
from pricing.money import trimmed

ONE = f"{ADDRESS}/<run_id>"
APPLY = f"{ONE}/apply"
UNDO = f"{ONE}/undo"
ON_A_PAGE = 50
REVIEW_ON_A_PAGE = 60
SUM = "bench/repricing_sum.html"
FIRST_LOOKED_AT = ("review", "raise", "lower", "blocked", "hold", "locked")
"""Which bands are shown where none are asked for: the first that there are."""
_VERSION = re.compile("[0-9]{1,9}", re.ASCII)
_NAMED = re.compile(r"([A-Za-z0-9._-]{1,64})\|([0-9]{1,3}(?:\.[0-9]{1,2})?)", re.ASCII)

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
    looked = _looked_at(visit, run)
    return Page("bench/repricing.html", values | _told(run) | looked)


@pages.get(APPLY)
def ask_to_apply(visit: Visit) -> Page:
    """The step before prices change: what will, and what waits for a word."""
    run, ticked = _run(visit), _ticked(visit)
    waiting = _review(visit, run)
    shown = {_name(band) for band in waiting.bands}
    values = {
        "against": visit.services.repricings.running.against(run),
        "waiting": waiting.bands,
        "more": _name(waiting.bands[-1]) if waiting.after else "",
        "carried": [name for name in ticked if name not in shown],
        "begun": visit.form.text("_from"),
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
    named, expected = _places(_ticked(visit)), _version(visit)
    start = visit.services.repricings.running.start
    try:
        run = start(visit.path["run_id"], expected=expected, include=named)
    except (PreconditionFailed, Conflict):
        run = _run(visit)
        before = run.status in {"applying", "applied"} and {*named} == {*run.named}
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
    typed = visit.form.text("_version")
    if not _VERSION.fullmatch(typed):
        raise InvalidInput("load the page again; it does not say what was looked at")
    return int(typed)


def _ticked(visit: Visit) -> tuple[str, ...]:
    """Names of the bands that are ticked, each once."""
    return tuple(dict.fromkeys(visit.form.values.get("include", ())))


def _name(band: RepricingBand) -> str:
    """A band as a form names it."""
    return f"{band.sku}|{trimmed(band.size_from)}"


def _place(name: str) -> Place:
    found = _NAMED.fullmatch(name)
    if found is None:
        raise InvalidInput("load the page again; it names a band that cannot be")
    return Place(found[1], Decimal(found[2]))


def _places(names: Sequence[str]) -> tuple[Place, ...]:
    return tuple(map(_place, names))


def _told(run: Repricing) -> dict[str, Any]:
    spot = json.loads(run.spot)
    if spot:
        spot["price"] = Decimal(spot["price"])
    return {
        "run": run,
        "spot": spot,
        "home": f"{ADDRESS}/{run.id}",
        "code": run.currency,
        "name_of": _name,
        "changed_of": _changed,
    }


def _changed(refusal: Conflict | None) -> Sequence[Changed]:
    """What stands against a run, where that is known."""
    return refusal.changed if isinstance(refusal, Overtaken) else ()


def _sum(visit: Visit, run: Repricing) -> dict[str, Any]:
    places = _places(_ticked(visit))
    return {"outcome": visit.services.repricings.running.outcome(run, places)}


def _review(visit: Visit, run: Repricing) -> RepricedBands:
    """Bands that wait for a word, from where the form has come to."""
    begun = visit.form.text("_from")
    found: RepricedBands = visit.services.repricings.bands(
        run,
        BandFilter(decision="review"),
        limit=REVIEW_ON_A_PAGE,
        past=_place(begun) if begun else None,
    )
    return found


def _looked_at(visit: Visit, run: Repricing) -> dict[str, Any]:
    """The bands that the address asks for, and the ways to others."""
    query = visit.query
    decision = query.get("decision", "")
    if decision not in {*BAND_DECISIONS, "all"}:
        there = (name for name in FIRST_LOOKED_AT if run.counts.get(name))
        decision = next(there, "all")
    sku = query.get("sku", "").strip()
    wanted = BandFilter(decision=_DECISIONS.get(decision), sku=sku or None)
    before = query.get("before", "")
    past = before or query.get("past", "")
    found = visit.services.repricings.bands(
        run,
        wanted,
        limit=ON_A_PAGE,
        past=_place(past) if past else None,
        before=bool(before),
    )
    chosen = {"decision": decision} | ({"sku": sku} if sku else {})
    ends = [_name(band) for band in found.bands]
    return {
        "bands": found.bands,
        "decision": decision,
        "sku": sku,
        "newer": _way(run, chosen, before=ends[0]) if ends and found.before else "",
        "older": _way(run, chosen, past=ends[-1]) if ends and found.after else "",
    }


_DECISIONS: dict[str, BandDecision] = {name: name for name in BAND_DECISIONS}


def _way(run: Repricing, chosen: dict[str, str], **more: str) -> str:
    return f"{ADDRESS}/{run.id}?{urlencode(chosen | more)}"
