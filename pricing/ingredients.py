"""What a wish takes: the coin shaped to it, the work, the extras, what comes back."""

from __future__ import annotations

from collections.abc import Iterator

from pricing import money
from pricing.coin import Coin
from pricing.coin_cost import coin_cost
from pricing.cost_sheet import Ingredients
from pricing.errors import UnknownKey
from pricing.forming import FormingPlan, Shaping
from pricing.price_book import Extra, PriceBook
from pricing.recovery import expected_masses_g, recovered
from pricing.route import route_work
from pricing.spoilage import Spoilage
from pricing.wish import Wish


def shaping_of(book: PriceBook, coin: Coin, wish: Wish) -> Shaping:
    """How the coin is to be shaped, the book's habits filled in."""
    return Shaping(
        size=wish.size,
        hole_mm=wish.hole_mm,
        band_width_mm=wish.band_width_mm,
        limits=book.forming,
        wear=book.coin_buying.wear if coin.wear is None else coin.wear,
        finish_loss=book.recovery.finish_loss,
        calibration=book.calibration(coin.key),
    )


def gathered(
    book: PriceBook, coin: Coin, wish: Wish, *, forming: FormingPlan, chain: Spoilage
) -> Ingredients:
    """Everything the cost sheet is made of.

    Raises:
        UnknownKey: a channel or extra the book does not have.
    """
    work = route_work(book, forming.drivers)
    own = wish.own_coin
    masses = expected_masses_g(forming, work, chain)
    return Ingredients(
        book=book,
        channel=book.channel(wish.channel),
        extras=tuple(_extras(book, wish)),
        work=work,
        spoilage=chain,
        coin=(
            None if own else coin_cost(coin, book.coin_buying, mass_g=forming.mass_g)
        ),
        compensation=own.compensation if own else money.ZERO,
        recovered=() if own else tuple(recovered(coin, book.recovery, masses)),
    )


def taken(parts: Ingredients) -> Iterator[str]:
    """Keys of the materials and extras that a ring takes."""
    for stage in parts.work:
        yield from (key for key, _ in stage.consumables)
    yield from (extra.key for extra in parts.extras)


def _extras(book: PriceBook, wish: Wish) -> Iterator[Extra]:
    """The extras wished for; one that is not there is told by its place."""
    for place, key in enumerate(wish.extras):
        try:
            yield book.extra(key)
        except UnknownKey as error:
            raise UnknownKey(error.message, path=("extras", place)) from error
