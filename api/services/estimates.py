"""Estimates: the stored book, coin and spot brought together for one wish."""

from __future__ import annotations

from decimal import Decimal

from api.ports import Clock, SpotUnavailable
from api.services.coins import Coins
from api.services.ground import coin_of, given_spot, refuse_stale
from api.services.price_book import PriceBooks
from api.services.snapshots import Snapshots
from api.services.spot.choice import Quoted
from api.services.spot.in_force import InForce
from api.services.spot.spot_prices import SpotPrices
from pricing.coin import Coin
from pricing.estimate import Estimate, Prepared, prepare
from pricing.wish import Wish

MOST_KEPT = 1024
"""Estimates at the spot in force that are kept [count]."""


class Estimates:
    """Prices rings; stores nothing."""

    def __init__(
        self,
        snapshots: Snapshots,
        clock: Clock,
        *,
        books: PriceBooks,
        coins: Coins,
        spots: SpotPrices,
    ) -> None:
        self._snapshots = snapshots
        self._clock = clock
        self._books = books
        self._coins = coins
        self._in_force = InForce(snapshots, clock, spots)
        # The estimates at what was in force last: a shop asks for the same rings
        # again while the spot stands still.
        self._kept: tuple[Quoted | None, dict[Prepared, Estimate]] = (None, {})

    def estimate(
        self, coin: str | Coin, wish: Wish, *, spot_price: Decimal | None = None
    ) -> Estimate:
        """The price of one wish, with everything it stands on.

        Args:
            coin: the key of a coin, or a coin that is not stored.
            wish: the ring, how many, and how it is sold.
            spot_price: of a troy ounce [the book's currency/ozt]; None takes the
                one in force.

        Raises:
            NotFound: there is no price book yet.
            UnknownKey: a coin, channel, policy or extra that is not there.
            SpotUnavailable: a spot is needed, and none is in force, or no exchange
                rate from its currency to the book's.
            StaleSpot: the one in force, or its rate, is older than the policy allows.
            InvalidInput: figures that cannot be, or do not fit together.
            NotMakeable: the coin cannot become this ring.
            NoPossiblePrice: a rule of the policy cannot be met.
        """
        with self._snapshots.held():
            book = self._books.current()
            ring = prepare(book, coin_of(self._coins, coin), wish)
            if spot_price is not None:
                spot = given_spot(spot_price, book, at=self._clock.now())
                return ring.at(spot)
            quoted = self._quoted(ring)
        return ring.at(None) if quoted is None else self._at(ring, quoted)

    def _quoted(self, ring: Prepared) -> Quoted | None:
        try:
            return self._in_force.quoted(ring.book)
        except SpotUnavailable:
            if ring.needs_spot:
                raise
            return None

    def _at(self, ring: Prepared, quoted: Quoted) -> Estimate:
        of, kept = self._kept
        if of is not quoted:
            kept = {}
            self._kept = (quoted, kept)
        found = kept.get(ring)
        if found is None:
            if ring.needs_spot:
                refuse_stale(ring.policy, quoted.spot, quoted.market)
            if len(kept) >= MOST_KEPT:
                kept.clear()
            found = kept[ring] = ring.at(quoted.spot, market=quoted.market)
        return found
