"""Prices of silver and of currencies: entered or fetched, kept for ever."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Literal

from api.ports import (
    MANUAL,
    Clock,
    Conflict,
    Decision,
    FetchResult,
    SpotEntry,
    SpotUnavailable,
    UnitOfWork,
)
from api.services.actor import actor
from api.services.audit import note_price
from api.services.feeds.feeds import Feeds
from api.services.paging import check_limit
from api.services.snapshot import SILVER
from api.services.snapshots import Snapshots
from api.services.spot.choice import (
    Quoted,
    in_force,
    market_age_hours,
    spot_of,
)
from api.services.spot.daily_closes import DailyCloses
from api.services.spot.decisions import LARGEST_ID, decided
from api.services.spot.exchange_rates import exchange
from api.services.spot.fetching import Fetching
from api.services.spot.manual_price import manual_entry, priced_thing
from api.services.spot.words import (
    entry_status,
    no_price,
    no_rate,
)
from pricing.market import Market
from pricing.price_book import PriceBook
from pricing.spot import Spot, convert

MOST_ENTRIES = 1000


class SpotPrices:
    """The recorded prices of one troy ounce of silver, and of currencies."""

    def __init__(
        self,
        snapshots: Snapshots,
        clock: Clock,
        *,
        feeds: Feeds | None = None,
        fetching: Fetching | None = None,
    ) -> None:
        self._snapshots = snapshots
        self._clock = clock
        self._feeds = feeds or Feeds(snapshots, clock)
        self._fetching = fetching
        self._days = DailyCloses(snapshots, clock)

    def enter(
        self,
        metal: str,
        price: Decimal,
        currency: str,
        *,
        note: str = "",
        expires_at: datetime | None = None,
    ) -> SpotEntry:
        """Record a price by hand; it is in force at once.

        With an expiry it stays in force until then, whatever is fetched meanwhile;
        without one, until a newer price is fetched. A later one by hand replaces it
        in either case.

        Args:
            metal: ``XAG``, or the ISO 4217 code of a currency for an exchange rate.
            price: of one troy ounce [currency/ozt] or one unit of that currency
                [currency/unit], above 0, at most 9 decimals.
            currency: ISO 4217 code.
            note: where it comes from, in a line.
            expires_at: the instant from which it no longer counts, or None.

        Raises:
            InvalidInput: one of these cannot be.
        """
        entry = manual_entry(
            SpotEntry(
                metal=metal,
                price=price,
                currency=currency,
                as_of=self._clock.now(),
                source=MANUAL,
                note=note,
                expires_at=expires_at,
                by=actor().by,
            )
        )

        def add(unit: UnitOfWork) -> SpotEntry:
            unit.revisions.bump("spot_prices")
            added = unit.spots.add(entry)
            note_price(unit, added.as_of, "spot.entered", added)
            return added

        return self._snapshots.write(add)

    def current(self, metal: str = SILVER) -> Spot:
        """The price in force as it was recorded, with its age by the clock.

        Raises:
            SpotUnavailable: there is none, or all have expired.
        """
        return spot_of(self.current_entry(metal), self._clock.now())

    def current_entry(self, metal: str = SILVER) -> SpotEntry:
        """The entry in force.

        Raises:
            SpotUnavailable: there is none, or all have expired.
        """
        name = priced_thing(metal)
        entries = self._snapshots.take().spots.get(name, ())
        entry = in_force(entries, self._clock.now())
        if entry is None:
            raise SpotUnavailable(no_price(name))
        return entry

    def current_for(self, book: PriceBook) -> Spot:
        """The price of silver in force, in the currency of ``book``.

        Raises:
            SpotUnavailable: there is none, or no rate into that currency.
        """
        return self.quoted(book).spot

    def quoted(self, book: PriceBook) -> Quoted:
        """The price of silver for ``book``, with what the market says of its age.

        Where the price is in another currency, the newest rate between the two
        converts it, whichever of them it prices; where there is none, rates by way
        of a third currency do.

        Raises:
            SpotUnavailable: there is none, or no rate into the book's currency.
        """
        with self._snapshots.held():
            now, entry = self._clock.now(), self.current_entry()
            spot, hours = spot_of(entry, now), self._market_age(entry, now)
            to, daily = book.currency.code, self.daily(currency=entry.currency)
            if entry.currency == to:
                return Quoted(spot, Market(spot_hours=hours, daily=daily))
            spots = self._snapshots.take().spots
            found = exchange(spots, entry.currency, to, now=now)
            if found is None:
                raise SpotUnavailable(no_rate(entry, to))
            ages = (self._market_age(leg, now) for leg in found.legs)
            rate_hours = max((age for age in ages if age is not None), default=None)
            return Quoted(
                convert(spot, found.rate, to=to),
                Market(spot_hours=hours, rate_hours=rate_hours, daily=daily),
            )

    def history(
        self,
        metal: str = SILVER,
        *,
        limit: int = 100,
        before: int | None = None,
        status: str | None = None,
    ) -> tuple[SpotEntry, ...]:
        """What was recorded, newest first.

        Args:
            metal: ``XAG``, or the ISO 4217 code of a currency.
            limit: at most so many [count], 1 to 1000.
            before: only entries with a smaller id [count]: the last one seen.
            status: only ``accepted``, ``held`` or ``rejected`` ones; None for all.

        Raises:
            InvalidInput: the metal or status is not known, or the limit out of range.
        """
        check_limit(limit, most=MOST_ENTRIES)
        name, wanted = priced_thing(metal), entry_status(status)
        under = None if before is None else min(before, LARGEST_ID)
        return self._snapshots.storage.read(
            lambda unit: unit.spots.history(
                name, limit=limit, before=under, status=wanted
            )
        )

    def fetch(self, feed: str | None = None) -> tuple[FetchResult, ...]:
        """Ask a feed, or each that is switched on, as `Fetching.fetch` does."""
        if self._fetching is None:
            raise Conflict("fetching is not set up here; enter a price by hand")
        return self._fetching.fetch(feed)

    def accept(self, entry_id: int) -> SpotEntry:
        """Let a held price count.

        Raises:
            NotFound: there is no such entry.
            Conflict: it was decided before, or never held.
        """
        return self._decide(entry_id, "accepted")

    def reject(self, entry_id: int) -> SpotEntry:
        """Put a held price aside for good.

        Raises:
            NotFound: there is no such entry.
            Conflict: it was decided before, or never held.
        """
        return self._decide(entry_id, "rejected")

    def daily(
        self, metal: str = SILVER, *, currency: str | None = None, days: int = 90
    ) -> tuple[Decimal, ...]:
        """The last accepted price of each market day, oldest first [currency/ozt].

        Args:
            metal: ``XAG``; the days of nothing else are kept.
            currency: ISO 4217 code of the prices; None for that of the price in force.
            days: how far back [days], 1 to 180.

        Raises:
            InvalidInput: the metal has no days, or there are not so many.
            SpotUnavailable: no price is in force to take the currency of.
        """
        unit = self.current_entry().currency if currency is None else currency
        return self._days.of(metal, unit, days=days)

    def _market_age(self, entry: SpotEntry, now: datetime) -> Decimal | None:
        return market_age_hours(entry, self._feeds.calendar(entry.source), now)

    def _decide(
        self, entry_id: int, status: Literal["accepted", "rejected"]
    ) -> SpotEntry:
        decision = Decision(status=status, by=actor().by, at=self._clock.now())
        return self._snapshots.write(lambda unit: decided(unit, entry_id, decision))
