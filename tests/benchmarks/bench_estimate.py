"""One estimate in process, against plain sums over the same stages in Decimal."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from decimal import Decimal
from itertools import count

import orjson

from api.schemas.estimate_document import estimate_document
from pricing.estimate import Estimate, prepare
from pricing.spot import Spot
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


def each(work: Callable[..., object], *arguments: list) -> Callable[[], None]:
    """Work on every set of arguments at a spot that is new with every call."""
    rows, new = list(zip(*arguments, strict=True)), spots()

    def call() -> None:
        spot = next(new)
        for row in rows:
            work(*row, spot)

    return call


def main() -> None:
    priced = book()
    chosen = wishes(CHOSEN)
    kept = [prepare(priced, coin, wish) for coin, wish in chosen]
    again: list[Estimate] = [made.at(spot_for(made.coin)) for made in kept]
    strangers: list[Estimate] = [
        prepare.__wrapped__(priced, coin, wish).at(spot_for(coin))
        for coin, wish in own_holes(priced, chosen, FORGOTTEN)
    ]
    documents = [estimate_document(one) for one in again]
    asked = [list(column) for column in zip(*chosen, strict=True)]

    def anew(coin, wish, spot) -> None:
        prepare.__wrapped__(priced, coin, wish).at(spot_for(coin, spot))

    def found(coin, wish, spot) -> None:
        prepare(priced, coin, wish).at(spot_for(coin, spot))

    def at(made, spot) -> None:
        made.at(spot_for(made.coin, spot))

    def price_at(made, spot) -> None:
        made.price_at(spot_for(made.coin, spot))

    contest(
        "One estimate in process",
        [
            Entry(f"plain sums over {STAGES} stages, Decimal", plain_sums),
            Entry("a wish worked out anew, whole estimate", each(anew, *asked), CHOSEN),
            Entry("a kept wish, found and at a new spot", each(found, *asked), CHOSEN),
            Entry("a prepared wish at a new spot", each(at, kept), CHOSEN),
            Entry("its price alone at a new spot", each(price_at, kept), CHOSEN),
            Entry(
                "the document, sections kept",
                lambda: [estimate_document(one) for one in again],
                CHOSEN,
            ),
            Entry(
                "the document, nothing kept",
                lambda: [estimate_document(one) for one in strangers],
                len(strangers),
            ),
            Entry(
                "the document as JSON text",
                lambda: [orjson.dumps(one) for one in documents],
                CHOSEN,
            ),
        ],
    )
