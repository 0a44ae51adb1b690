"""The spot in force, for prices asked for many times a second."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from api.ports import Clock
from api.services.snapshot import Snapshot
from api.services.snapshots import Snapshots
from api.services.spot.choice import Quoted
from api.services.spot.spot_prices import SpotPrices
from pricing.price_book import PriceBook

AGE_KEPT = timedelta(seconds=10)
"""How old a told age may be; ages are shown in tenths of an hour."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Told:
    """What was told last, and as long as what it still holds."""

    quoted: Quoted
    book: PriceBook
    snapshot: Snapshot
    since: datetime
    until: datetime

    def holds(self, book: PriceBook, snapshot: Snapshot, now: datetime) -> bool:
        return (
            self.book is book
            and self.snapshot.spots is snapshot.spots
            and self.snapshot.feeds is snapshot.feeds
            and self.since <= now < self.until
        )


class InForce:
    """Tells the same object again while nothing that it says can have changed.

    A price, rate or feed that was changed counts at once, and one that expires from
    that very moment; only the age of what stays in force may be ten seconds old.
    """

    def __init__(self, snapshots: Snapshots, clock: Clock, spots: SpotPrices) -> None:
        self._snapshots = snapshots
        self._clock = clock
        self._spots = spots
        self._told: _Told | None = None

    def quoted(self, book: PriceBook) -> Quoted:
        """As `SpotPrices.quoted`, which see."""
        with self._snapshots.held():
            snapshot, now = self._snapshots.take(), self._clock.now()
            told = self._told
            if told is not None and told.holds(book, snapshot, now):
                return told.quoted
            quoted = self._spots.quoted(book)
            self._told = _Told(
                quoted=quoted,
                book=book,
                snapshot=snapshot,
                since=now,
                until=_next_change(snapshot, now),
            )
            return quoted


def _next_change(snapshot: Snapshot, now: datetime) -> datetime:
    """When a price in it expires, or its age has to be told anew."""
    expiries = (
        entry.expires_at
        for entries in snapshot.spots.values()
        for entry in entries
        if entry.expires_at is not None and entry.expires_at > now
    )
    return min((now + AGE_KEPT, *expiries))
