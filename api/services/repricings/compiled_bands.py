"""Bands worked out as far as they go without a spot, shared by all that prices them."""

from __future__ import annotations

import gc
from collections.abc import Callable
from decimal import Decimal

from api.ports import Spec
from api.services.coins import Coins
from api.services.ground import coin_of
from pricing.coin import Coin
from pricing.price_book import PriceBook
from pricing.reprice import CompiledBand, compile_band

MOST_KEPT = 6000
"""Bands that are kept [count]; each takes some 25 kB."""

MANY_NEW = 500
"""After so many new ones the collector of garbage is to leave them alone [count]."""

Shape = tuple[str, Decimal, Decimal, str, str, tuple[str, ...]]


class CompiledBands:
    """Keeps what was worked out for a spec, until the price book or its coin changes.

    Working a band out takes a hundred times as long as pricing it at another spot.
    """

    def __init__(self, coins: Coins) -> None:
        self._coins = coins
        # Of one price book, and replaced as a whole with it.
        self._kept: tuple[PriceBook | None, dict[Shape, CompiledBand]] = (None, {})
        self._new = 0

    def of(self, book: PriceBook, spec: Spec) -> CompiledBand:
        """The band of a spec.

        Raises:
            UnknownKey: a coin, channel, policy or extra that is not there.
            NotMakeable: a size that the coin cannot become.
            InvalidInput: figures that do not fit together.
        """
        return self._found(book, spec, coin_of(self._coins, spec.coin))

    def finder(self, book: PriceBook) -> Callable[[Spec], CompiledBand]:
        """`of` for very many specs: within one snapshot, each coin looked up once."""
        coins = dict[str, Coin]()

        def find(spec: Spec) -> CompiledBand:
            coin = coins.get(spec.coin)
            if coin is None:
                coin = coins[spec.coin] = coin_of(self._coins, spec.coin)
            return self._found(book, spec, coin)

        return find

    def settle(self) -> None:
        """Spare the collector of garbage what was kept, if that is many more now.

        They stay for long and refer to each other in no circle; going through them
        would take longer, every now and then, than pricing all of them.
        """
        if self._new >= MANY_NEW:
            self._new = 0
            gc.collect()
            gc.freeze()

    def _found(self, book: PriceBook, spec: Spec, coin: Coin) -> CompiledBand:
        kept, shape = self._of_book(book), shape_of(spec)
        band = kept.get(shape)
        if band is not None and (band.coin is coin or band.coin == coin):
            return band
        band = compile_band(
            book,
            coin,
            size_from=spec.size_from,
            size_to=spec.size_to,
            channel=spec.channel,
            policy=spec.policy,
            extras=spec.extras,
        )
        if len(kept) >= MOST_KEPT:
            kept.clear()
        kept[shape] = band
        self._new += 1
        return band

    def _of_book(self, book: PriceBook) -> dict[Shape, CompiledBand]:
        of, kept = self._kept
        if of is not book:
            kept = {}
            self._kept = (book, kept)
        return kept


def shape_of(spec: Spec) -> Shape:
    """All of a spec but its number."""
    return (
        spec.coin,
        spec.size_from,
        spec.size_to,
        spec.channel,
        spec.policy,
        spec.extras,
    )
