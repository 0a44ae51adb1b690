"""Whether a coin can be priced at a spot, or without one."""

from __future__ import annotations

from typing import Protocol

from pricing.coin import Coin
from pricing.errors import InvalidInput
from pricing.price_book import PriceBook
from pricing.spot import Spot


class Priced(Protocol):
    """What is to be priced: a coin, in a book's currency, with or without a spot."""

    @property
    def book(self) -> PriceBook: ...  # noqa: D102 - described by the class
    @property
    def coin(self) -> Coin: ...  # noqa: D102 - described by the class
    @property
    def needs_spot(self) -> bool: ...  # noqa: D102 - described by the class


def check_spot(spot: Spot | None, priced: Priced) -> None:
    """Refuse a spot that ``priced`` cannot be priced at.

    Raises:
        InvalidInput: none where one is needed, or one in another currency.
    """
    if spot is None:
        if not priced.needs_spot:
            return
        raise InvalidInput(
            f"{priced.coin.label} is priced by its silver and no spot price is "
            "known; enter one, or give 'spot' with this estimate",
            path=("spot",),
        )
    currency = priced.book.currency.code
    if spot.currency != currency:
        raise InvalidInput(
            f"the spot price is in {spot.currency} and the price book in "
            f"{currency}; enter the spot in that currency",
            path=("spot",),
        )
