"""Repricings: past runs, a new preview, and what would be if silver moved."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from api.ports import SpotUnavailable
from api.schemas.repricings import RepricingBody, WhatIfBody
from api.web.pages import Page, Pages, Redirect, Result
from api.web.paging import place, ways
from api.web.visit import Visit

ADDRESS = "/bench/repricings"
NEW = f"{ADDRESS}/new"
WHAT_IF = f"{ADDRESS}/what-if"
EFFECT = "bench/repricing_effect.html"
ON_A_PAGE = 20

pages = Pages("repricings", title="Repricings", tab="listings")


@pages.get(ADDRESS)
def runs(visit: Visit) -> Page:
    """Every run, newest first."""
    past, newer = place(visit.query)
    found = visit.services.repricings.page(limit=ON_A_PAGE, past=past, newer=newer)
    seqs = [run.seq for run in found.runs]
    values = {"runs": found.runs} | ways(ADDRESS, found, seqs, chosen={})
    return Page("bench/repricings.html", values)


@pages.get(NEW)
def new_run(visit: Visit) -> Page:
    """Where a preview is asked for, and other spots are tried out."""
    if visit.book is None:
        return Page("bench/listings_none.html")
    return Page("bench/repricing_new.html", _values(visit))


@pages.post(NEW, again=new_run)
def preview(visit: Visit) -> Redirect:
    """Work a preview out; asked for again, the same one is shown."""
    asked = _with_skus(visit).read(RepricingBody())
    run = visit.services.repricings.preview(**asked, anew=False)
    return Redirect(f"{ADDRESS}/{run.id}")


@pages.get(WHAT_IF)
def what_if(visit: Visit) -> Result:
    """The same page, for whoever comes back to it."""
    return new_run(visit)


@pages.post(WHAT_IF, again=new_run)
def try_spot(visit: Visit) -> Page:
    """The same page, with what would be at another spot."""
    return Page("bench/repricing_new.html", {**_values(visit), **effect(visit)})


@pages.live(WHAT_IF, part="effect", template=EFFECT)
def effect(visit: Visit) -> dict[str, Any]:
    """What would be decided at another spot; it is kept nowhere."""
    asked = _with_skus(visit).read(WhatIfBody())
    return {"found": visit.services.repricings.what_if(**asked)}


def _values(visit: Visit) -> dict[str, Any]:
    """The spot in force, and how far silver has moved since the last run."""
    repricings = visit.services.repricings
    ground = visit.services.listings.standings.of([]).ground
    try:
        moved = repricings.moved_since_applied()
    except SpotUnavailable:
        moved = None
    return {"ground": ground, "moved": moved, "skus": visit.query.get("skus", "")}


def _with_skus(visit: Visit) -> Visit:
    """The visit with the listings that were typed, one by one."""
    typed = tuple(visit.form.text("skus").replace(",", " ").split())
    others = visit.form.without("skus")
    values = {**others.values, "skus": typed} if typed else others.values
    return replace(visit, form=replace(others, values=values))
