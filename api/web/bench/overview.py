"""The first page of the bench: what needs attention."""

from __future__ import annotations

from api.web.bench.matters import matters
from api.web.pages import Page, Pages, Redirect
from api.web.visit import Visit

pages = Pages("overview", title="The bench")


@pages.get("/")
def entrance(_: Visit) -> Redirect:
    """The way in."""
    return Redirect("/bench")


@pages.get("/bench")
def overview(visit: Visit) -> Page:
    """What needs attention, each with the way there; the way to begin at first."""
    book = visit.book
    if book is None:
        return Page("bench/overview_empty.html")
    found = matters(visit)
    urgent = sum(matter.urgency in {"bad", "wait"} for matter in found)
    values = {"book": book, "matters": found, "urgent": urgent}
    return Page("bench/overview.html", values)
