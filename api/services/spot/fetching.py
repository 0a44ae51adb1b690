"""Fetching prices: ask outside any transaction, then judge and record in one.

What came is judged by what is on record at the moment of recording, so that two
who fetch the same price record it once.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from datetime import datetime

from api.ports import (
    Clock,
    Conflict,
    Feed,
    FeedFailed,
    FeedReader,
    FeedRow,
    Fetched,
    Fetcher,
    FetchRecord,
    FetchResult,
    UnitOfWork,
)
from api.services.feeds.document import read_feed_document
from api.services.feeds.feeds import Feeds, feed_of, stored_row
from api.services.feeds.secrets import still_meant
from api.services.snapshots import Snapshots
from api.services.spot.breaker import LOOKED_AT, rests_until
from api.services.spot.judging import Bench
from api.services.spot.recording import Answer, record, tried
from api.services.spot.single_flight import SingleFlight
from pricing.spot_guard import Finding, Reading

_Asked = tuple[FeedRow, Mapping[str, str], tuple[FetchRecord, ...]]


class Fetching:
    """Asks feeds for their prices."""

    def __init__(
        self,
        snapshots: Snapshots,
        clock: Clock,
        *,
        feeds: Feeds,
        fetcher: Fetcher,
        reader: FeedReader,
    ) -> None:
        self._snapshots = snapshots
        self._clock = clock
        self._feeds = feeds
        self._fetcher = fetcher
        self._reader = reader
        self._flights: SingleFlight[tuple[FetchResult, ...]] = SingleFlight()

    def fetch(self, key: str | None = None) -> tuple[FetchResult, ...]:
        """Ask a feed, or each that is switched on, and record what passes.

        Callers who want the same feed at the same time share one asking. A feed
        that failed often is left alone for a while, which its result says.

        Args:
            key: the feed, or None for all.

        Raises:
            NotFound: there is no such feed.
            Conflict: it is switched off.
        """
        known = self._feeds.known()
        if key is None:
            wanted = [name for name, feed in known.items() if feed.enabled]
            return tuple(one for name in wanted for one in self._shared(name))
        if key in known and not known[key].enabled:
            raise Conflict(
                f"feed '{key}' is switched off; set 'enabled' in it to true first"
            )
        return self._shared(key)

    def attempt(self, key: str) -> tuple[FetchResult, ...]:
        """Ask a feed and say what would become of its price; nothing is recorded.

        It is asked even if it is switched off or left alone.

        Raises:
            NotFound: there is no such feed.
        """
        row, secrets, _ = self._on_record(key)
        answer = self._ask(row, secrets)
        second = self._second(answer.feed)
        return self._snapshots.storage.read(
            lambda unit: tried(self._bench(unit, answer.feed, second), answer)
        )

    def attempt_as(
        self, key: str, document: Mapping[str, object]
    ) -> tuple[FetchResult, ...]:
        """Ask a feed as it is described, and not as it is kept; nothing is recorded.

        Secrets that are kept go along where they would still be meant.

        Args:
            key: of the feed it would become; there need not be one.
            document: the whole feed, as a JSON or TOML parser gives it.

        Raises:
            InvalidInput: something is wrong with it, every fault listed.
        """
        feed = read_feed_document(document, key=key)

        def kept(unit: UnitOfWork) -> Mapping[str, str]:
            row = unit.feeds.get(key)
            if row is None:
                return {}
            return still_meant(unit.feeds.secrets(key), feed_of(row), feed)

        answer = self._answer(feed, 0, self._snapshots.storage.read(kept))
        second = self._second(feed)
        return self._snapshots.storage.read(
            lambda unit: tried(self._bench(unit, feed, second), answer)
        )

    def _shared(self, key: str) -> tuple[FetchResult, ...]:
        return self._flights.run(key, lambda: self._fetch(key))

    def _fetch(self, key: str) -> tuple[FetchResult, ...]:
        row, secrets, last = self._on_record(key)
        until = rests_until(last)
        if until is not None and until > self._clock.now():
            return (_resting(key, until),)
        answer = self._ask(row, secrets)
        second = self._second(answer.feed)
        return self._snapshots.write(
            lambda unit: record(self._bench(unit, answer.feed, second), answer)
        )

    def _on_record(self, key: str) -> _Asked:
        def read(unit: UnitOfWork) -> _Asked:
            row = stored_row(unit, key)
            last = unit.fetches.last(key, limit=LOOKED_AT)
            return row, unit.feeds.secrets(key), last

        return self._snapshots.storage.read(read)

    def _ask(self, row: FeedRow, secrets: Mapping[str, str]) -> Answer:
        return self._answer(feed_of(row), row.revision, secrets)

    def _answer(self, feed: Feed, revision: int, secrets: Mapping[str, str]) -> Answer:
        begun = time.monotonic()
        readings: tuple[Reading, ...] = ()
        failure, from_cache = None, False
        try:
            fetched = self._fetched(feed, secrets)
            from_cache = fetched.from_cache
            if fetched.failure is not None:  # an older answer hides no outage
                raise fetched.failure
            readings = self._reader(feed, fetched.body, fetched.content_type)
        except FeedFailed as error:
            failure = Finding(code=error.reason, text=error.message, weight="refuse")
        return Answer(
            feed=feed,
            revision=revision,
            readings=readings,
            failure=failure,
            from_cache=from_cache,
            duration_ms=int((time.monotonic() - begun) * 1000),
        )

    def _fetched(self, feed: Feed, secrets: Mapping[str, str]) -> Fetched:
        _check_set(feed, secrets)
        return self._fetcher.fetch(
            feed.url,
            {**dict(feed.headers), **secrets},
            secret_names=feed.secret_headers,
            check=lambda body, kind: self._reader(feed, body, kind),
        )

    def _second(self, feed: Feed) -> Feed | None:
        return self._feeds.known().get(feed.second_source)

    def _bench(self, unit: UnitOfWork, feed: Feed, second: Feed | None) -> Bench:
        return Bench(unit=unit, feed=feed, second=second, now=self._clock.now())


def _check_set(feed: Feed, secrets: Mapping[str, str]) -> None:
    missing = [name for name in feed.secret_headers if name not in secrets]
    if missing:
        raise FeedFailed(
            "secret_missing",
            f"The secret header {missing[0]} has no value yet; set it on the page of "
            f"the feed, or with: fineweight feeds secret {feed.key} {missing[0]}",
        )


def _resting(key: str, until: datetime) -> FetchResult:
    finding = Finding(
        code="resting",
        text="The feed failed several times in a row and is left alone until "
        f"{until:%Y-%m-%d %H:%M} UTC. See why it failed, or enter a price by hand.",
        weight="refuse",
    )
    return FetchResult(feed=key, outcome="failed", findings=(finding,))
