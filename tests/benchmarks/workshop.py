"""The demo's workshop, to measure with."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import replace
from decimal import Decimal
from itertools import islice, product

from pricing.catalogue import catalogue
from pricing.coin import Coin
from pricing.errors import InvalidInput, NotMakeable
from pricing.estimate import estimate, prepare
from pricing.price_book import PriceBook, read_price_book
from pricing.ring_size import ring_size
from pricing.spot import Spot
from pricing.wish import Wish
from tests.architecture.source import ROOT

BOOK_FILE = ROOT / "demo" / "price_book.toml"
SPOT = Spot(price=Decimal("27.50"), currency="EUR")
SIZES = [str(Decimal(half) / 2) for half in range(10, 27)]
DISTINCT = 500  # wishes in rotation; the program keeps 512
TURNS = 10  # of them, for requests that must not come again soon
STEP_MM = Decimal("0.001")

Asked = tuple[Coin, Wish]


def document() -> dict[str, object]:
    return tomllib.loads(BOOK_FILE.read_text("utf-8"))


def book() -> PriceBook:
    return read_price_book(document(), version=1)


def spot_for(coin: Coin, spot: Spot = SPOT) -> Spot | None:
    """The spot an estimate of the coin needs."""
    return spot if coin.metal == "XAG" else None


def wishes(count: int) -> list[Asked]:
    """So many different coins and sizes that make a ring."""
    return list(islice(_makeable(book()), count))


def _makeable(priced: PriceBook) -> Iterator[Asked]:
    for quantity, size, coin in product((1, 5), SIZES, catalogue().values()):
        wish = Wish(size=ring_size("us", size), quantity=quantity)
        try:
            estimate(priced, coin, spot_for(coin), wish)
        except (NotMakeable, InvalidInput):  # no ring, or no price paid is known
            continue
        yield coin, wish


def kept_wishes() -> list[bytes]:
    """Bodies of the wishes in rotation, at the spot in force."""
    return [_body(coin, wish) for coin, wish in wishes(DISTINCT)]


def new_spots() -> list[bytes]:
    """The same wishes, every body with a spot price of its own."""
    asked = wishes(DISTINCT)
    return [
        _body(*asked[place % DISTINCT], spot={"price": f"27.{place:04}"})
        for place in range(DISTINCT * TURNS)
    ]


def new_wishes() -> list[bytes]:
    """Every body a ring of its own: a hole that no other has.

    More of them than the program keeps by far, so that in rotation each has been
    forgotten when it comes again.
    """
    rings = list(own_holes(book(), wishes(DISTINCT), TURNS))
    return [_body(coin, wish, hole_mm=str(wish.hole_mm)) for coin, wish in rings]


def own_holes(priced: PriceBook, asked: Iterable[Asked], turns: int) -> Iterator[Asked]:
    """The wishes again and again, each time with a hole a little larger."""
    planned = [
        (coin, wish, prepare.__wrapped__(priced, coin, wish).forming.hole.diameter_mm)
        for coin, wish in asked
    ]
    for turn in range(1, turns + 1):
        for coin, wish, hole_mm in planned:
            larger = replace(wish, hole_mm=hole_mm + turn * STEP_MM)
            try:
                prepare.__wrapped__(priced, coin, larger)
            except NotMakeable:
                continue
            yield coin, larger


def _body(coin: Coin, wish: Wish, **more: object) -> bytes:
    size = {"system": wish.size.system, "size": wish.size.given}
    plain = {"coin": coin.key, "size": size, "quantity": wish.quantity}
    return json.dumps(plain | more).encode()
