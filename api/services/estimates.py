"""Estimates: the stored book, coin and spot brought together for one wish."""

from __future__ import annotations

from decimal import Decimal

from api.ports import Clock
from api.services.coins import Coins
from api.services.ground import coin_of, given_spot, refuse_stale, spot_in_force
from api.services.price_book import PriceBooks
from api.services.snapshots import Snapshots
from api.services.spot_prices import SpotPrices
from pricing.coin import Coin
from pricing.estimate import Estimate, Prepared, prepare
from pricing.market import UNKNOWN, Market
from pricing.spot import Spot
from pricing.wish import Wish


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
        self._spots = spots

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
            spot, market = self._quoted(ring, spot_price)
        if ring.needs_spot and spot is not None:
            refuse_stale(ring.policy, spot, market)
        return ring.at(spot, market=market)

    def _quoted(
        self, ring: Prepared, given: Decimal | None
    ) -> tuple[Spot | None, Market]:
        if given is not None:
            return given_spot(given, ring.book, at=self._clock.now()), UNKNOWN
        return spot_in_force(self._spots, ring.book, needed=ring.needs_spot)
