"""The demo's workshop, to measure with."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from decimal import Decimal
from itertools import islice, product

from pricing.catalogue import catalogue
from pricing.coin import Coin
from pricing.errors import NotMakeable
from pricing.estimate import estimate
from pricing.price_book import PriceBook, read_price_book
from pricing.ring_size import ring_size
from pricing.spot import Spot
from pricing.wish import Wish
from tests.architecture.source import ROOT

BOOK_FILE = ROOT / "demo" / "price_book.toml"
SPOT = Spot(price=Decimal("27.50"), currency="EUR")
SIZES = [str(Decimal(half) / 2) for half in range(10, 27)]


def document() -> dict[str, object]:
    return tomllib.loads(BOOK_FILE.read_text("utf-8"))


def book() -> PriceBook:
    return read_price_book(document(), version=1)


def wishes(count: int) -> list[tuple[Coin, Wish]]:
    """So many different coins and sizes that make a ring."""
    return list(islice(_makeable(book()), count))


def _makeable(priced: PriceBook) -> Iterator[tuple[Coin, Wish]]:
    for quantity, size, coin in product((1, 5), SIZES, catalogue().values()):
        wish = Wish(size=ring_size("us", size), quantity=quantity)
        try:
            estimate(priced, coin, SPOT if coin.metal == "XAG" else None, wish)
        except NotMakeable:
            continue
        yield coin, wish
