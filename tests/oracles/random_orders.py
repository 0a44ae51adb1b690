"""Orders of several lines drawn from a seed, quickly; every one can be priced."""

from dataclasses import dataclass, replace
from decimal import Decimal

from pricing import price_book as pb
from pricing.coin import Coin
from pricing.spot import Spot
from pricing.wish import Wish
from tests.oracles.random_rings import Draw


@dataclass(frozen=True)
class Asked:
    """All that one order needs."""

    book: pb.PriceBook
    spot: Spot
    lines: tuple[tuple[Coin, Wish], ...]


def random_order(seed, *, least=1, most=5):
    """The order of one seed: coins may repeat, some are the customer's own.

    The book has a second policy, which judges chances with prudence.
    """
    draw = Draw(seed)
    book = draw.book()
    careful = replace(
        book.policies[0], key="careful", prudence=draw.figure(0.55, 0.95), markup=None
    )
    if careful.target_margin is None:
        careful = replace(careful, target_margin=draw.figure(0.15, 0.5))
    book = replace(book, policies=(*book.policies, careful))
    coins = [draw.coin() for _ in range(draw.rng.randint(1, 3))]
    chosen = [draw.pick(*coins) for _ in range(draw.rng.randint(least, most))]
    lines = tuple((coin, _wish(draw, coin)) for coin in chosen)
    price = draw.figure(12, 60)
    return Asked(book, Spot(price=price, currency=book.currency.code), lines)


def _wish(draw, coin):
    return replace(
        draw.wish(coin),
        policy=draw.pick(None, None, "careful"),
        confidence=Decimal(draw.pick("0.8", "0.95", "0.95", "0.99")),
    )


def with_quantities(asked, quantities):
    """The same order with these pieces on its lines."""
    lines = tuple(
        (coin, replace(wish, quantity=quantity))
        for (coin, wish), quantity in zip(asked.lines, quantities, strict=True)
    )
    return replace(asked, lines=lines)
