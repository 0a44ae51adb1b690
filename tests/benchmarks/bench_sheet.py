"""10,000 listings of 500 distinct wishes at a new spot, against a spreadsheet.

Listings that share a wish share one computation: that is what a program can do and a
sheet of formulas cannot. What a listing costs that shares nothing is told as well.
"""

from __future__ import annotations

import random
import time
from statistics import median

from pricing.estimate import Prepared, prepare
from tests.benchmarks.bench_estimate import spots
from tests.benchmarks.contest import ROUNDS, middle, table
from tests.benchmarks.office import FORMULAS, ROWS, recalculated
from tests.benchmarks.workshop import Asked, book, spot_for, wishes

DISTINCT = 500
MEASURED_US = 27.0
"""A row of such a sheet, kept open and recalculated in memory, measured in another run
on a machine of this class (2 shared cores); only good to compare orders of size."""

Row = tuple[str, str, str, str]


def main() -> None:
    asked = wishes(DISTINCT)
    compiling: list[float] = []
    made = [_timed(asked, compiling) for _ in range(5)][-1]
    shared, alone = priced(made)
    rows = [
        _row(f"{ROWS:,} listings of {DISTINCT} wishes, once compiled", shared, ROWS),
        _row("a listing that shares nothing, once compiled", alone, DISTINCT),
        _row(f"compiling: {DISTINCT} wishes, once, a wish", compiling, DISTINCT),
    ]
    sheet = recalculated()
    if sheet:
        rows += [
            _row("spreadsheet, what depends on the spot", sheet["dirty"], ROWS),
            _row("spreadsheet, every formula", sheet["all"], ROWS),
        ]
    table(
        f"A new spot for {ROWS:,} listings; the sheet has {FORMULAS} formulas a row",
        ("", "whole ms", "median µs each", "middle 80 %"),
        rows,
    )
    if sheet:
        faster = median(sheet["dirty"]) / median(shared)
        print(f"  the spreadsheet ({sheet['engine']}) takes {faster:.1f} times as long")
        print(f"  memory of its process: {sheet['memory_mb']:.0f} MB")
    else:
        faster = MEASURED_US / (median(shared) / ROWS * 1e6)
        print(
            "  no spreadsheet engine with a UNO bridge is installed; "
            f"{MEASURED_US:.0f} µs a row were\n  measured in another run on such a "
            f"machine, {faster:.1f} times as long (not comparable to a few per cent)"
        )


def _timed(asked: list[Asked], taken: list[float]) -> list[Prepared]:
    """The wishes compiled, for a book nobody has asked about."""
    workshop, begun = book(), time.perf_counter()
    made = [prepare.__wrapped__(workshop, coin, wish) for coin, wish in asked]
    taken.append(time.perf_counter() - begun)
    return made


def priced(made: list[Prepared]) -> tuple[list[float], list[float]]:
    """Times of all listings, and of as many listings as there are wishes [s]."""
    drawn = random.Random(1)  # noqa: S311  (which listing wishes what: no secret)
    listings = [drawn.randrange(len(made)) for _ in range(ROWS)]
    shared, alone = [], []
    for _, spot in zip(range(ROUNDS), spots(), strict=False):
        begun = time.perf_counter()
        units = [one.price_at(spot_for(one.coin, spot)).sale.unit for one in made]
        middle_of_it = time.perf_counter()
        total = sum([units[wish] for wish in listings])
        shared.append(time.perf_counter() - begun)
        alone.append(middle_of_it - begun)
        if not total > 0:
            raise RuntimeError("the listings have no price")
    return shared, alone


def _row(name: str, seconds: list[float], pieces: int) -> Row:
    each = [one / pieces * 1e6 for one in seconds]
    return (
        name,
        f"{median(seconds) * 1e3:,.1f}",
        f"{median(each):,.1f}",
        "{:,.1f} to {:,.1f}".format(*middle(each)),
    )
