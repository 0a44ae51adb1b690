"""A feed that answers as a test says, and a workshop that fetches from it."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal
from threading import Lock
from time import monotonic

from api.ports import Fetched
from api.services import Feeds, Fetching, Snapshots, SpotPrices
from api.services.actor import Actor
from pricing.spot_guard import Reading

LEAST = {
    "title": "A feed",
    "url": "https://feeds.example/silver.json",
    "format": "json",
    "currency": "USD",
    "price": "/price",
    "time": {"path": "/time"},
}
"""The least that describes a feed."""
ASSAY = {
    "title": "The assay office",
    "url": "https://feeds.example/silver",
    "format": "json",
    "currency": "EUR",
    "price": "/price",
    "time": {"path": "/at"},
}
RATES = {"title": "Rates", "url": "https://rates.example/day.xml", "format": "ecb"}
NOON = datetime(2026, 12, 1, 12, tzinfo=UTC)
MAKER = Actor(by="maker", via="command line")


def reading(price="27.50", as_of=NOON, currency="EUR", **more):
    return Reading(price=Decimal(price), currency=currency, as_of=as_of, **more)


class Source:
    """Fetcher and reader in one: what it is told to say is what is read."""

    def __init__(self):
        self.says = (reading(),)
        self.asked = []
        self.stale_since = None
        self.meanwhile = lambda: None
        self._lock = Lock()

    def say(self, *readings):
        self.says = readings

    def fail(self, error):
        self.says = error

    def fetch(self, url, headers, *, secret_names, check=None):
        with self._lock:
            self.asked.append((url, headers, secret_names))
        self.meanwhile()
        if isinstance(self.says, Exception):
            raise self.says
        check(b"{}", "application/json")  # a bad answer is not to be kept
        return Fetched(
            body=b"{}",
            content_type="application/json",
            from_cache=True,
            failure=self.stale_since,
        )

    def __call__(self, feed, body, content_type):
        assert (body, content_type) == (b"{}", "application/json")
        return self.says


class Fetchery:
    """The services of a workshop that fetches, on one storage."""

    def __init__(self, storage, clock, source=None):
        self.clock = clock
        self.storage = storage
        self.source = source or Source()
        self.snapshots = Snapshots(storage, clock)
        self.feeds = Feeds(self.snapshots, clock)
        self.fetching = Fetching(
            self.snapshots,
            clock,
            feeds=self.feeds,
            fetcher=self.source,
            reader=self.source,
        )
        self.spots = SpotPrices(
            self.snapshots, clock, feeds=self.feeds, fetching=self.fetching
        )

    def set_up(self, key="assay", document=ASSAY, **more):
        return self.feeds.put(key, {**document, **more}, expected=None)

    def fetch(self, *readings, key="assay"):
        """The one result of a fetch in which the feed says ``readings``."""
        if readings:
            self.source.say(*readings)
        (result,) = self.spots.fetch(key)
        return result

    def log(self, key="assay"):
        return self.feeds.fetches(key)


def wait_until(condition, *, at_most_s=30):
    """Look again and again; fail rather than wait for ever."""
    end = monotonic() + at_most_s
    while not condition():
        if monotonic() > end:
            raise TimeoutError("what was waited for did not come")


def codes(told):
    return [finding.code for finding in told.findings]
