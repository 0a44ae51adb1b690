"""How the price in force stands: how old the market says it is, and what waits."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Literal

from api.ports import Clock, NotFound, SpotEntry, SpotUnavailable
from api.services.feeds.feeds import Feeds
from api.services.price_book import PriceBooks
from api.services.snapshot import SILVER
from api.services.snapshots import Snapshots
from api.services.spot.choice import (
    AGE_STEP_HOURS,
    in_force,
    market_age_hours,
    spot_of,
)
from api.services.spot.decisions import LARGEST_ID
from api.services.spot.second_look import doubts
from api.services.spot.spot_prices import SpotPrices
from pricing import money
from pricing.market import Market
from pricing.price_book import StaleSpot
from pricing.spot import Spot

Staleness = Literal["fresh", "old", "stale"]
STALENESS: tuple[Staleness, ...] = ("fresh", "old", "stale")
MOST_WAITING = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """The price in force, and whether it may still be priced with.

    Attributes:
        spot: as it was recorded, with its age by the clock.
        expires_at: from when on it no longer counts, or None.
        open_hours: its age in hours of open market [h]; None where it says itself
            until when it counts.
        staleness: ``old`` is priced with and warned of, ``stale`` is refused.
        said: what is old about it, in plain words; empty where nothing is.
        waiting: prices that were held and wait for a person [count].
        limits: the ages at which estimates warn and refuse.
    """

    spot: Spot
    expires_at: datetime | None
    open_hours: Decimal | None
    staleness: Staleness
    said: tuple[str, ...]
    waiting: int
    limits: StaleSpot


class Standings:
    """Tells how prices in force stand."""

    def __init__(
        self, snapshots: Snapshots, clock: Clock, *, feeds: Feeds, spots: SpotPrices
    ) -> None:
        self._snapshots = snapshots
        self._clock = clock
        self._feeds = feeds
        self._spots = spots
        self._books = PriceBooks(snapshots, clock)

    def of(self, metal: str = SILVER) -> Standing:
        """How the price in force stands.

        It is judged by the first policy of the price book, as an estimate that
        names none is; before there is a book, by the usual hours. Where the book
        is in another currency, the exchange rate counts too.

        Args:
            metal: ``XAG``, or the ISO 4217 code of a currency.

        Raises:
            SpotUnavailable: there is none, or all have expired.
            InvalidInput: the metal is not known.
        """
        with self._snapshots.held():
            entry = self._spots.current_entry(metal)
            spot, market = self._quoted(entry)
            limits = self._limits()
        hours = market.spot_hours
        staleness, said = _judged(market, limits, spot)
        return Standing(
            spot=spot_of(entry, self._clock.now()),
            expires_at=entry.expires_at,
            open_hours=None if hours is None else money.half_up(hours, AGE_STEP_HOURS),
            staleness=staleness,
            said=said,
            waiting=len(self.waiting(metal)),
            limits=limits,
        )

    def waiting(self, metal: str = SILVER) -> tuple[SpotEntry, ...]:
        """Prices that were held and wait for a person, newest first."""
        return self._spots.history(metal, limit=MOST_WAITING, status="held")

    def entry(self, entry_id: int) -> SpotEntry:
        """What was recorded under an id. Raises NotFound."""
        found = self._snapshots.read(
            lambda unit: unit.spots.get(min(entry_id, LARGEST_ID))
        )
        if found is None:
            raise NotFound(f"there is no spot price with the id {entry_id}")
        return found

    def rates(self) -> tuple[SpotEntry, ...]:
        """The rate in force of each pair of currencies that one was recorded of."""
        spots, now = self._snapshots.take().spots, self._clock.now()
        pairs = sorted(
            {
                (metal, entry.currency)
                for metal, entries in spots.items()
                for entry in entries
                if metal != SILVER
            }
        )
        found = (
            in_force((e for e in spots[metal] if e.currency == currency), now)
            for metal, currency in pairs
        )
        return tuple(entry for entry in found if entry is not None)

    def doubts(self, metal: str, price: Decimal, currency: str) -> tuple[str, ...]:
        """What is doubtful about a price that is to be entered; see `second_look`.

        Args:
            metal: ``XAG``, or the ISO 4217 code of a currency.
            price: as typed [currency/ozt, or currency/unit].
            currency: ISO 4217 code.
        """
        entries = self._snapshots.take().spots.get(metal, ())
        same = (entry for entry in entries if entry.currency == currency)
        last = in_force(same, self._clock.now())
        return () if last is None else doubts(price, last)

    def _limits(self) -> StaleSpot:
        if self._snapshots.take().book is None:
            return StaleSpot()
        return self._books.current().policy().stale_spot

    def _quoted(self, entry: SpotEntry) -> tuple[Spot, Market]:
        """The price as an estimate would use it; as recorded where none could."""
        if entry.metal == SILVER and self._snapshots.take().book is not None:
            try:
                return self._spots.quoted(self._books.current())
            except SpotUnavailable:
                pass  # no exchange rate, which has nothing to do with its age
        now = self._clock.now()
        hours = market_age_hours(entry, self._feeds.calendar(entry.source), now)
        return spot_of(entry, now), Market(spot_hours=hours)


def _judged(
    market: Market, limits: StaleSpot, spot: Spot
) -> tuple[Staleness, tuple[str, ...]]:
    refused = market.too_old(limits, spot)
    if refused is not None:
        return "stale", (f"{refused}; nothing is priced with it.",)
    warned = tuple(caution.text for caution in market.cautions(limits, spot))
    return ("old" if warned else "fresh"), warned
