"""One estimate in process, against plain sums over the same stages in Decimal."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from itertools import count
from typing import Any

import orjson

from api.schemas.estimate_document import estimate_document
from pricing.coin import Coin
from pricing.estimate import Prepared, prepare
from pricing.price_book import PriceBook
from pricing.spot import Spot
from pricing.wish import Wish
from tests.benchmarks.contest import Entry, contest
from tests.benchmarks.workshop import SPOT, STEP_MM, book, own_holes, spot_for, wishes

STAGES = 14
COST_MODEL = [(Decimal("1.07"), Decimal("8.5"), Decimal("0.53"))] * STAGES
CHOSEN = 40
FORGOTTEN = 16  # turns of the chosen: more documents than are kept


def plain_sums() -> Decimal:
    """What a spreadsheet row of such a ring adds up, and no more."""
    total = Decimal(0)
    for visits, minutes, consumables in COST_MODEL:
        total += visits * (minutes / 60 * Decimal("41.50") + consumables)
    return total


def spots() -> Iterator[Spot]:
    """A price that was not asked for before, for ever."""
    return (replace(SPOT, price=SPOT.price + step * STEP_MM) for step in count(1))


def anew(priced: PriceBook, coin: Coin, wish: Wish, *, spot: Spot) -> None:
    prepare.__wrapped__(priced, coin, wish).at(spot_for(coin, spot))


def found(priced: PriceBook, coin: Coin, wish: Wish, *, spot: Spot) -> None:
    prepare(priced, coin, wish).at(spot_for(coin, spot))


def at(made: Prepared, *, spot: Spot) -> None:
    made.at(spot_for(made.coin, spot))


def price_at(made: Prepared, *, spot: Spot) -> None:
    made.price_at(spot_for(made.coin, spot))


def each(
    name: str, work: Callable[..., object], rows: Sequence[tuple[object, ...]]
) -> Entry:
    """Work on every row at a spot that is new with every call."""
    new = spots()

    def call() -> None:
        spot = next(new)
        for row in rows:
            work(*row, spot=spot)

    return Entry(name, call, len(rows))


def written(name: str, write: Callable[[Any], object], values: list[Any]) -> Entry:
    return Entry(name, lambda: [write(value) for value in values], len(values))


def main() -> None:
    priced = book()
    chosen = wishes(CHOSEN)
    asked = [(priced, coin, wish) for coin, wish in chosen]
    kept = [prepare(*words) for words in asked]
    again = [made.at(spot_for(made.coin)) for made in kept]
    strangers = [
        prepare.__wrapped__(priced, coin, wish).at(spot_for(coin))
        for coin, wish in own_holes(priced, chosen, FORGOTTEN)
    ]
    ready = [(made,) for made in kept]
    entries = [
        Entry(f"plain sums over {STAGES} stages, Decimal", plain_sums),
        each("a wish worked out anew, whole estimate", anew, asked),
        each("a kept wish, found and at a new spot", found, asked),
        each("a prepared wish at a new spot", at, ready),
        each("its price alone at a new spot", price_at, ready),
        written("the document, sections kept", estimate_document, again),
        written("the document, nothing kept", estimate_document, strangers),
        written("the document as JSON text", orjson.dumps,
                [estimate_document(one) for one in again]),
    ]  # fmt: skip
    contest("One estimate in process", entries)
