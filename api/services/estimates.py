"""Estimates: the stored book, coin and spot brought together for one wish."""

from __future__ import annotations

from decimal import Decimal

from api.ports import Clock, NotFound, SpotUnavailable
from api.services.coins import Coins
from api.services.price_book import PriceBooks
from api.services.snapshots import Snapshots
from api.services.spot_prices import SpotPrices
from pricing.coin import Coin
from pricing.errors import InvalidInput, UnknownKey
from pricing.estimate import Estimate, estimate
from pricing.price_book import PriceBook
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
            SpotUnavailable: a spot is needed, and none in the book's currency is
                in force.
            InvalidInput: figures that cannot be, or do not fit together.
            NotMakeable: the coin cannot become this ring.
            NoPossiblePrice: a rule of the policy cannot be met.
        """
        with self._snapshots.held():
            book = self._books.current()
            found = self._coin(coin)
            spot = self._spot(spot_price, book)
        try:
            return estimate(book, found, spot, wish)
        except InvalidInput as error:
            if spot_price is None and error.path[:1] == ("spot",):
                raise SpotUnavailable(error.message) from error
            raise

    def _coin(self, asked: str | Coin) -> Coin:
        if isinstance(asked, Coin):
            return asked
        try:
            return self._coins.get(asked).coin
        except NotFound as error:
            raise UnknownKey(error.message, path=("coin",)) from error

    def _spot(self, given: Decimal | None, book: PriceBook) -> Spot | None:
        if given is not None:
            return Spot(
                price=given, currency=book.currency.code, as_of=self._clock.now()
            )
        try:
            return self._spots.current()
        except SpotUnavailable:
            return None  # a coin without a metal price needs none
