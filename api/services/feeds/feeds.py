"""Feeds of prices: described as documents, their secrets kept apart."""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Mapping

from api.ports import (
    MANUAL,
    Clock,
    Feed,
    FeedRow,
    FetchRecord,
    NotFound,
    PreconditionFailed,
    StoredFeed,
    UnitOfWork,
)
from api.services.audit import difference, note
from api.services.feeds.document import feed_document, read_feed_document
from api.services.feeds.secrets import check_secrets, still_meant, without_values
from api.services.snapshots import Snapshots
from pricing.errors import InvalidInput
from pricing.market_days import MarketCalendar

MOST_FETCHES = 100
RESERVED = (MANUAL, "given")
"""What a price by hand and one given with a request say as their source."""

_SET = "secrets_set"
_KEY = re.compile(r"[a-z][a-z0-9_]{0,39}", re.ASCII)


class Feeds:
    """The feeds that prices may be fetched from."""

    def __init__(self, snapshots: Snapshots, clock: Clock) -> None:
        self._snapshots = snapshots
        self._clock = clock
        # Feeds already read, and the rows they come from; replaced as a whole.
        self._read: tuple[Mapping[str, FeedRow], dict[str, Feed]] = ({}, {})

    def known(self) -> Mapping[str, Feed]:
        """Every feed as it is now, by key, with no query of its own."""
        rows = self._snapshots.take().feeds
        held_rows, held = self._read
        if held_rows is not rows:
            held = {key: feed_of(row) for key, row in sorted(rows.items())}
            self._read = (rows, held)
        return held

    def calendar(self, source: str) -> MarketCalendar:
        """The market days by which the age of a price from ``source`` is counted."""
        feed = self.known().get(source)
        return MarketCalendar() if feed is None else calendar_of(feed)

    def list(self) -> tuple[StoredFeed, ...]:
        """Every feed, by key."""
        return self._snapshots.storage.read(
            lambda unit: tuple(_stored(unit, row) for row in unit.feeds.all())
        )

    def get(self, key: str) -> StoredFeed:
        """One feed, with the names of its secrets that are set. Raises NotFound."""
        return self._snapshots.storage.read(
            lambda unit: _stored(unit, stored_row(unit, key))
        )

    def put(
        self, key: str, document: Mapping[str, object], *, expected: int | None
    ) -> StoredFeed:
        """Set a feed up, or change it.

        Secrets are kept where the feed still names them and still asks the same
        server; else they have to be set again.

        Args:
            key: the name it goes by; the source of its prices.
            document: the whole feed, as a JSON or TOML parser gives it.
            expected: the revision it was made from [count], None where there must
                be none yet.

        Raises:
            InvalidInput: something is wrong with it, every fault listed.
            PreconditionFailed: it has another revision.
        """
        feed = read_feed_document(document, key=_key(key))
        plain = feed_document(feed)
        text = json.dumps(plain, sort_keys=True, separators=(",", ":"))

        def put(unit: UnitOfWork) -> StoredFeed:
            before = unit.feeds.get(key)
            _check(key, before, expected)
            old = None if before is None else _stored(unit, before)
            row = FeedRow(
                key=key,
                document=text,
                # Counted over all feeds, so that one removed and set up again never
                # has a revision that somebody may still hold.
                revision=unit.revisions.bump("feeds") or 0,
                changed_at=self._clock.now(),
            )
            if before is None:
                unit.feeds.add(row)
            else:
                unit.feeds.replace(row, expected=before.revision)
                unit.feeds.set_secrets(
                    key, still_meant(unit.feeds.secrets(key), feed_of(before), feed)
                )
            stored = _stored(unit, row)
            _note_change(unit, old, stored)
            return stored

        return self._snapshots.write(put)

    def remove(self, key: str, *, expected: int) -> None:
        """Forget a feed and its secrets; what it fetched stays.

        Raises:
            NotFound: there is no such feed.
            PreconditionFailed: it has another revision than ``expected`` [count].
        """

        def remove(unit: UnitOfWork) -> None:
            row = stored_row(unit, key)
            _check(key, row, expected)
            before = without_values(_stored(unit, row))
            unit.revisions.bump("feeds")
            unit.feeds.remove(key, expected=expected)
            note(unit, self._clock.now(), "feed.removed", key, before=before)

        self._snapshots.write(remove)

    def set_secrets(
        self, key: str, secrets: Mapping[str, str], *, keep: Collection[str] = ()
    ) -> StoredFeed:
        """Replace the values of a feed's secret headers; they are never shown again.

        Args:
            key: the feed.
            secrets: value by name; a name left out is no longer set,
            keep: but for these, which stay as they are.

        Raises:
            NotFound: there is no such feed.
            InvalidInput: a header the feed does not name as secret, or a value that
                cannot be sent.
        """

        def set_them(unit: UnitOfWork) -> StoredFeed:
            row = stored_row(unit, key)
            check_secrets(secrets, feed_of(row))
            there = unit.feeds.secrets(key)
            kept = {name: there[name] for name in keep if name in there}
            unit.feeds.set_secrets(key, kept | dict(secrets))
            stored, now = _stored(unit, row), self._clock.now()
            before, after = {_SET: sorted(there)}, {_SET: list(stored.secrets_set)}
            note(unit, now, "feed.secret_set", key, before=before, after=after)
            return stored

        return self._snapshots.write(set_them)

    def fetches(self, key: str, *, limit: int = 20) -> tuple[FetchRecord, ...]:
        """The last times the feed was asked and what came of it, newest first.

        Args:
            key: the feed; one that was removed has its fetches still.
            limit: at most so many [count], 1 to 100.

        Raises:
            NotFound: there is no such feed, and never was one that was asked.
            InvalidInput: the limit is out of range.
        """
        if not 1 <= limit <= MOST_FETCHES:
            raise InvalidInput(
                f"limit {limit} is out of range; ask for 1 to {MOST_FETCHES}",
                path=("limit",),
            )

        def read(unit: UnitOfWork) -> tuple[FetchRecord, ...]:
            found = unit.fetches.last(key, limit=limit)
            if not found:
                stored_row(unit, key)
            return found

        return self._snapshots.storage.read(read)


def calendar_of(feed: Feed) -> MarketCalendar:
    """The market days of a feed."""
    closed = frozenset(feed.closed_dates)
    if feed.time is None:
        return MarketCalendar(closed=closed)
    return MarketCalendar(closed=closed, zone=feed.time.zone)


def _key(key: str) -> str:
    if _KEY.fullmatch(key) and key not in RESERVED:
        return key
    raise InvalidInput(
        f"'{key[:40]}' cannot name a feed; use a to z, 0 to 9 and _, a letter first, "
        f"at most 40, and not {' or '.join(RESERVED)}",
        path=("key",),
    )


def stored_row(unit: UnitOfWork, key: str) -> FeedRow:
    """The feed of a key. Raises NotFound."""
    row = unit.feeds.get(key)
    if row is None:
        raise NotFound(f"there is no feed '{key[:40]}'; list the feeds to see all")
    return row


def _check(key: str, row: FeedRow | None, expected: int | None) -> None:
    current = None if row is None else row.revision
    if current != expected:
        now = "is not there" if current is None else f"is at revision {current}"
        said = "a new one" if expected is None else f"revision {expected}"
        raise PreconditionFailed(
            f"feed '{key}' {now}, and {said} was expected; read it again, make the "
            "change to that and send it anew",
            current=current,
        )


def feed_of(row: FeedRow) -> Feed:
    """The feed that a row describes."""
    return read_feed_document(json.loads(row.document), key=row.key)


def _note_change(unit: UnitOfWork, old: StoredFeed | None, new: StoredFeed) -> None:
    at, key, now = new.changed_at, new.feed.key, without_values(new)
    if old is None:
        note(unit, at, "feed.added", key, after=now)
    else:
        before, after = difference(without_values(old), now)
        note(unit, at, "feed.changed", key, before=before, after=after)


def _stored(unit: UnitOfWork, row: FeedRow) -> StoredFeed:
    return StoredFeed(
        feed=feed_of(row),
        document=json.loads(row.document),
        revision=row.revision,
        changed_at=row.changed_at,
        secrets_set=tuple(sorted(unit.feeds.secrets(row.key))),
    )
