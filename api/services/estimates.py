"""Estimates: the stored book, coin and spot brought together for one wish."""

from __future__ import annotations

from decimal import Decimal

from api.ports import Clock, NotFound, SpotUnavailable, StaleSpot
from api.services.coins import Coins
from api.services.price_book import PriceBooks
from api.services.snapshots import Snapshots
from api.services.spot_prices import SpotPrices
from pricing import money
from pricing.coin import Coin
from pricing.errors import UnknownKey
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
            ring = prepare(book, self._coin(coin), wish)
            spot, market = self._quoted(ring, spot_price)
        if ring.needs_spot and spot is not None:
            _refuse_stale(ring, spot, market)
        return ring.at(spot, market=market)

    def _coin(self, asked: str | Coin) -> Coin:
        if isinstance(asked, Coin):
            return asked
        try:
            return self._coins.get(asked).coin
        except NotFound as error:
            raise UnknownKey(error.message, path=("coin",)) from error

    def _quoted(
        self, ring: Prepared, given: Decimal | None
    ) -> tuple[Spot | None, Market]:
        book = ring.book
        if given is not None:
            now, code = self._clock.now(), book.currency.code
            return Spot(price=given, currency=code, as_of=now), UNKNOWN
        try:
            return self._spots.quoted(book)
        except SpotUnavailable:
            if ring.needs_spot:
                raise
            return None, UNKNOWN


def _refuse_stale(ring: Prepared, spot: Spot, market: Market) -> None:
    limits = ring.policy.stale_spot
    said = market.too_old(limits, spot)
    if said is not None:
        raise StaleSpot(
            f"{said}; the policy '{ring.policy.key}' refuses over "
            f"{money.trimmed(limits.refuse_hours)}. Enter today's with "
            "'fineweight spot set 27.50', fetch one with 'fineweight spot fetch', or "
            "give 'spot' with the request"
        )
