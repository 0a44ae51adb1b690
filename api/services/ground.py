"""What a price stands on: the coin, and a spot that is there and fresh enough."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from api.ports import NotFound, SpotUnavailable, StaleSpot
from api.services.coins import Coins
from api.services.spot.spot_prices import SpotPrices
from pricing import money
from pricing.coin import Coin
from pricing.errors import UnknownKey
from pricing.market import UNKNOWN, Market
from pricing.price_book import Policy, PriceBook
from pricing.spot import Spot


def coin_of(coins: Coins, asked: str | Coin) -> Coin:
    """The coin that is asked for. Raises UnknownKey."""
    if isinstance(asked, Coin):
        return asked
    try:
        return coins.get(asked).coin
    except NotFound as error:
        raise UnknownKey(error.message, path=("coin",)) from error


def given_spot(price: Decimal, book: PriceBook, *, at: datetime) -> Spot:
    """A spot price that came with the request [the book's currency/ozt].

    Raises:
        InvalidInput: a price that cannot be.
    """
    return Spot(price=price, currency=book.currency.code, as_of=at)


def spot_in_force(
    spots: SpotPrices, book: PriceBook, *, needed: bool
) -> tuple[Spot | None, Market]:
    """The spot in force and what the market says of its age.

    Raises:
        SpotUnavailable: it is needed, and there is none.
    """
    try:
        return spots.quoted(book)
    except SpotUnavailable:
        if needed:
            raise
        return None, UNKNOWN


def refuse_stale(policy: Policy, spot: Spot, market: Market) -> None:
    """Raise StaleSpot where the spot, or its rate, is too old for the policy."""
    said = market.too_old(policy.stale_spot, spot)
    if said is not None:
        raise StaleSpot(
            f"{said}; the policy '{policy.key}' refuses over "
            f"{money.trimmed(policy.stale_spot.refuse_hours)}. Enter today's with "
            "'fineweight spot set 27.50', fetch one with 'fineweight spot fetch', or "
            "give 'spot' with the request"
        )
