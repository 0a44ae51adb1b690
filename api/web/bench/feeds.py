"""The feeds: where prices are fetched from, how each is doing, and what it said."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from api.ports import FetchRecord, FetchResult, StoredFeed
from api.services.spot.breaker import LOOKED_AT, rests_until
from api.web.pages import Page, Pages, Redirect
from api.web.typed_numbers import whole_number
from api.web.visit import Visit
from pricing.errors import InvalidInput

ADDRESS = "/bench/spot/feeds"
FEED = f"{ADDRESS}/<key>"
_SHOWN = 20
_NO_DEED = "press one of the buttons of the feed"
_SECRET = "_secret_"  # noqa: S105 - how the fields for secrets begin

pages = Pages(
    "feeds",
    title="Feeds",
    tab="spot",
    done={
        "added": "The feed is set up. Try it before you rely on it.",
        "changed": "The feed is changed.",
        "on": "The feed is switched on.",
        "off": "The feed is switched off; what it brought stays.",
        "secret": "The secret is kept, and is never shown.",
        "removed": "The feed is gone; the prices it brought stay.",
    },
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedState:
    """A feed and how it is doing.

    Attributes:
        missing: names of its secret headers that have no value.
        last: the last times it was asked, newest first.
        rests: until when it is left alone, or None.
    """

    stored: StoredFeed
    missing: tuple[str, ...]
    last: tuple[FetchRecord, ...]
    rests: datetime | None

    @property
    def mark(self) -> tuple[str, str]:
        """How it is in a word, and of which kind that word is."""
        if not self.stored.feed.enabled:
            return "off", ""
        if self.missing:
            return "needs its secret", "bad"
        if self.rests is not None:
            return "resting", "bad"
        if not self.last:
            return "never asked", "wait"
        outcome = self.last[0].outcome
        if outcome in {"failed", "refused"}:
            return outcome, "bad"
        return ("held", "wait") if outcome == "held" else ("on", "good")


@pages.get(ADDRESS)
def feeds(visit: Visit) -> Page:
    """Every feed, with what came of asking it last."""
    return _listed(visit, ())


@pages.post(ADDRESS, again=feeds)
def fetch_all(visit: Visit) -> Page:
    """Ask every feed that is switched on."""
    return _listed(visit, visit.services.spot_prices.fetch(), asked=True)


@pages.get(FEED)
def feed(visit: Visit) -> Page:
    """One feed: how it is doing, and what came of asking it."""
    return _drawn(visit, ())


@pages.post(FEED, again=feed)
def ask(visit: Visit) -> Page | Redirect:
    """Fetch from the feed, try it, or switch it on or off."""
    key, form = visit.path["key"], visit.form
    if form.wants("fetch"):
        return _drawn(visit, visit.services.spot_prices.fetch(key), asked=True)
    if form.wants("try"):
        return _drawn(visit, visit.services.fetching.attempt(key))
    if form.wants("on") or form.wants("off"):
        _switch(visit, on=form.wants("on"))
        return Redirect(f"{ADDRESS}/{key}", done=form.text("_do"))
    raise InvalidInput(_NO_DEED)


@pages.post(f"{FEED}/secrets", again=feed, once=True)
def keep_secrets(visit: Visit) -> Redirect:
    """Set the secret headers that something was typed for; the others stay."""
    key = visit.path["key"]
    names = visit.services.feeds.get(key).feed.secret_headers
    typed = {name: visit.form.text(f"{_SECRET}{name}") for name in names}
    given = {name: value for name, value in typed.items() if value}
    visit.form.names.update({(name,): f"{_SECRET}{name}" for name in names})
    if not given:
        raise InvalidInput("type what the feed's owner gave you", path=names[:1])
    visit.services.feeds.set_secrets(key, given, keep=names)
    return Redirect(f"{ADDRESS}/{key}", done="secret")


@pages.get(f"{FEED}/remove")
def ask_to_remove(visit: Visit) -> Page:
    """What is lost with a feed, before it is."""
    stored = visit.services.feeds.get(visit.path["key"])
    return Page("bench/feed_remove.html", {"stored": stored})


@pages.post(f"{FEED}/remove", again=ask_to_remove, once=True)
def remove(visit: Visit) -> Redirect:
    """Forget a feed and its secrets."""
    visit.services.feeds.remove(visit.path["key"], expected=version(visit))
    return Redirect(ADDRESS, done="removed")


def version(visit: Visit) -> int:
    """The revision that the form was drawn from; 0 where it names none."""
    return whole_number(visit.form.text("_version"), digits=18) or 0


def _switch(visit: Visit, *, on: bool) -> None:
    stored = visit.services.feeds.get(visit.path["key"])
    document = {**stored.document, "enabled": on}
    visit.services.feeds.put(stored.feed.key, document, expected=version(visit))


def _listed(
    visit: Visit, results: tuple[FetchResult, ...], *, asked: bool = False
) -> Page:
    found = visit.services.feeds.list()
    values = {
        "states": [_state(visit, stored) for stored in found],
        "results": results,
        "asked": asked,
        "now": visit.services.clock.now(),
        "titles": {stored.feed.key: stored.feed.title for stored in found},
    }
    return Page("bench/feeds.html", values)


def _drawn(
    visit: Visit, results: tuple[FetchResult, ...], *, asked: bool = False
) -> Page:
    stored = visit.services.feeds.get(visit.path["key"])
    values: dict[str, Any] = {
        "state": _state(visit, stored, many=_SHOWN),
        "results": results,
        "asked": asked,
        "now": visit.services.clock.now(),
        "titles": {stored.feed.key: stored.feed.title},
        "secret": _SECRET,
    }
    return Page("bench/feed.html", values)


def _state(visit: Visit, stored: StoredFeed, *, many: int = LOOKED_AT) -> FeedState:
    last = visit.services.feeds.fetches(stored.feed.key, limit=many)
    until = rests_until(last)
    resting = until is not None and until > visit.services.clock.now()
    names = stored.feed.secret_headers
    return FeedState(
        stored=stored,
        missing=tuple(name for name in names if name not in stored.secrets_set),
        last=last,
        rests=until if resting else None,
    )
