"""The form of a feed: its description, typed field by field, and tried as it stands."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from api.ports import FetchResult
from api.schemas.feeds import FeedBody
from api.web.bench.feeds import ADDRESS, FEED, version
from api.web.pages import Page, Pages, Redirect
from api.web.visit import Visit
from pricing.errors import Fault, InvalidInput

ADD = "/bench/spot/new-feed"
_DRAFT = "draft"
_LISTS = ("closed_dates", "secret_headers")
_FIGURES = {"lowest", "highest", "jump", "spread", "second_source", "max_age_hours"}
_USUALLY_OFF = ("invert", "hundredths", "may_display")

pages = Pages("feeds_form", title="A feed", tab="spot")


@pages.get(ADD)
def new_feed(visit: Visit) -> Page:
    """A feed to be set up."""
    return _drawn(visit, {})


@pages.post(ADD, again=new_feed, once=True)
def set_up(visit: Visit) -> Redirect:
    """Set a feed up."""
    document = typed_document(visit)
    key = visit.form.text("_key").strip()
    if not key:
        raise InvalidInput("this is needed; fill it in", path=("key",))
    visit.services.feeds.put(key, document, expected=None)
    return Redirect(f"{ADDRESS}/{key}", done="added")


@pages.get(f"{ADD}/try")
def back_to_new(_: Visit) -> Redirect:
    """The way back for who loads the page of a try anew."""
    return Redirect(ADD)


@pages.post(f"{ADD}/try", again=new_feed)
def try_new(visit: Visit) -> Page:
    """Ask the feed as it would be; nothing is kept."""
    document, key = typed_document(visit), visit.form.text("_key").strip()
    found = visit.services.fetching.attempt_as(key or _DRAFT, document)
    return _drawn(visit, {}, results=found)


@pages.get(f"{FEED}/change")
def change(visit: Visit) -> Page:
    """A feed to be changed."""
    stored = visit.services.feeds.get(visit.path["key"])
    return _drawn(visit, stored.document, revision=stored.revision)


@pages.post(f"{FEED}/change", again=change, once=True)
def keep(visit: Visit) -> Redirect:
    """Change a feed."""
    key, document = visit.path["key"], typed_document(visit)
    visit.services.feeds.put(key, document, expected=version(visit))
    return Redirect(f"{ADDRESS}/{key}", done="changed")


@pages.get(f"{FEED}/try")
def back_to_change(visit: Visit) -> Redirect:
    """The way back for who loads the page of a try anew."""
    stored = visit.services.feeds.get(visit.path["key"])
    return Redirect(f"{ADDRESS}/{stored.feed.key}/change")


@pages.post(f"{FEED}/try", again=change)
def try_changed(visit: Visit) -> Page:
    """Ask the feed as it would be after the change; nothing is kept."""
    stored = visit.services.feeds.get(visit.path["key"])
    document = typed_document(visit)
    found = visit.services.fetching.attempt_as(stored.feed.key, document)
    return _drawn(visit, stored.document, revision=version(visit), results=found)


def typed_document(visit: Visit) -> dict[str, Any]:
    """The description as it was typed; what is as usual is left out.

    Raises:
        InvalidInput: a number or a header cannot be read.
    """
    document = visit.document(FeedBody())
    names = visit.form.names
    names[("key",)], names[("headers",)] = "_key", "_headers"
    for member in _LISTS:
        names[(member,)] = f"_{member}"
        lines = _lines(visit, member)
        if lines:
            document[member] = lines
    headers = _headers(visit)
    if headers:
        document["headers"] = headers
    for flag in _USUALLY_OFF:
        if document.get(flag) is False:
            del document[flag]  # some may not even be named with some formats
    return document


def _lines(visit: Visit, member: str) -> list[str]:
    typed = visit.form.text(f"_{member}").splitlines()
    return [line.strip() for line in typed if line.strip()]


def _headers(visit: Visit) -> dict[str, str]:
    found: dict[str, str] = {}
    faults = []
    for line in _lines(visit, "headers"):
        name, colon, value = (part.strip() for part in line.partition(":"))
        if not colon:
            said = f"'{line[:40]}' is no header; write a line like Accept: text/csv"
            faults.append(Fault(("headers",), said))
        found[name] = value
    if faults:
        raise InvalidInput(faults[0].message, faults=tuple(faults))
    return found


def typed_values(document: Mapping[str, Any]) -> dict[str, Any]:
    """What stands in the fields of a feed's form, by their names.

    >>> typed_values({"time": {"path": "/at"}, "max_age_hours": "30"})
    {'time-path': '/at', 'max_age_hours': Decimal('30')}
    """
    values: dict[str, Any] = {}
    for name, value in document.items():
        if name == "headers":
            values["_headers"] = "\n".join(f"{one}: {it}" for one, it in value.items())
        elif isinstance(value, Mapping):
            below = typed_values(value)
            values |= {f"{name}-{part}": inner for part, inner in below.items()}
        elif isinstance(value, list):
            values[f"_{name}"] = "\n".join(value)
        else:
            figure = name in _FIGURES and str(value)[:1].isdigit()
            values[name] = Decimal(str(value)) if figure else value
    return values


def _drawn(
    visit: Visit,
    document: Mapping[str, Any],
    *,
    revision: int | None = None,
    results: tuple[FetchResult, ...] = (),
) -> Page:
    values = {
        "values": typed_values(document),
        "revision": revision,
        "key": visit.path.get("key", ""),
        "results": results,
        "others": [
            (key, feed.title)
            for key, feed in visit.services.feeds.known().items()
            if key != visit.path.get("key")
        ],
        "currency": visit.book.currency.code if visit.book else "EUR",
    }
    return Page("bench/feed_form.html", values)
