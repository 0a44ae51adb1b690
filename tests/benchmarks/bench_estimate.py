"""One estimate in process, against plain sums over the same stages in Decimal."""

from __future__ import annotations

from decimal import Decimal

from pricing.estimate import estimate
from tests.benchmarks.contest import Entry, contest
from tests.benchmarks.workshop import SPOT, book, wishes

STAGES = 14
COST_MODEL = [(Decimal("1.07"), Decimal("8.5"), Decimal("0.53"))] * STAGES


def plain_sums() -> Decimal:
    """What a spreadsheet row of such a ring adds up, and no more."""
    total = Decimal(0)
    for visits, minutes, consumables in COST_MODEL:
        total += visits * (minutes / 60 * Decimal("41.50") + consumables)
    return total


def main() -> None:
    priced = book()
    chosen = wishes(40)

    def estimates() -> None:
        for coin, wish in chosen:
            estimate(priced, coin, SPOT if coin.metal == "XAG" else None, wish)

    contest(
        "One estimate in process",
        [
            Entry(f"plain sums over {STAGES} stages, Decimal", plain_sums),
            Entry("estimate(book, coin, spot, wish)", estimates, units=len(chosen)),
        ],
    )
