"""The first page of the bench: what needs attention."""

from __future__ import annotations

from api.web.pages import Page, Pages, Redirect
from api.web.visit import Visit

pages = Pages("overview", title="The bench")


@pages.get("/")
def entrance(_: Visit) -> Redirect:
    """The way in."""
    return Redirect("/bench")


@pages.get("/bench")
def overview(_: Visit) -> Page:
    """What needs attention, each with the way there."""
    return Page("bench/overview.html")
