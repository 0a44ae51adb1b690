"""A preview of 10,000 bands, end to end, against a spreadsheet that stores nothing.

Everything that the service does: count what is in use, price and judge it at a spot
that nobody asked for before, store the run with its cases and a row for every band,
and the entry in the audit trail, committed. Everything was compiled before.
"""

from __future__ import annotations

import gc
import os
import time
from collections.abc import Iterator
from contextlib import closing
from decimal import Decimal
from itertools import count
from statistics import median

from api.app import compose
from api.app.composition import Services
from api.settings import Settings
from tests.benchmarks.bench_reprice import plain
from tests.benchmarks.contest import table
from tests.benchmarks.databases import postgresql, sqlite
from tests.benchmarks.office import FORMULAS, recalculated
from tests.benchmarks.real_shop import DEARER, specs, stock

BANDS = 10_000
DISTINCT = (500, 5_000)
ROUNDS = 15
MEASURED_S = 0.27
"""Such a sheet of as many rows, 25 formulas and twelve stages a row, recalculated in
memory in another run on a machine of this class (2 shared cores)."""
_spots = (DEARER + Decimal(step) / 100 for step in count(1))


def main() -> None:
    one_minute, *_ = os.getloadavg()
    print(f"load before: {one_minute:.1f} on {os.cpu_count()} cores")
    sheet = recalculated()
    rows = []
    for kind, opened in (("SQLite", sqlite), ("PostgreSQL", postgresql)):
        for distinct in DISTINCT:
            with opened() as storage:
                url = storage.engine.url
                file = kind == "SQLite"
                place = url.database if file else url.render_as_string(False)  # noqa: FBT003 - with its password
                with closing(compose(Settings(database=str(place)))) as services:
                    rows += measured(kind, distinct, services, sheet)
    if sheet:
        rows.append(
            _row(f"{sheet['engine'][:16]}, what depends on spot", sheet["dirty"])
        )
        rows.append(_row("the same, every formula", sheet["all"]))
    headings = ("", "median s", "range s", "x plain UPDATE", "sheet / it")
    title = f"Preview of {BANDS:,} bands, stored; a sheet of {FORMULAS} formulas a row"
    table(title, headings, rows)
    print(f"  a fuller sheet took {MEASURED_S} s in another run on such a machine")


def measured(kind: str, distinct: int, services: Services, sheet) -> Iterator[tuple]:
    """Previews and plain updates in turn."""
    stock(services, BANDS, specs(distinct))
    for _ in range(3):  # warm
        services.repricings.preview(next(_spots))
    gc.collect()
    previews, updates = [], []
    for _ in range(ROUNDS):
        begun = time.perf_counter()
        services.repricings.preview(next(_spots))
        middle = time.perf_counter()
        plain(services.storage)
        updates.append(time.perf_counter() - middle)
        previews.append(middle - begun)
        _back(services)
    against = f"{median(previews) / median(updates):,.1f}"
    faster = f"{median(sheet['all']) / median(previews):,.2f}" if sheet else "-"
    name = f"{kind}, {distinct:,} computations"
    yield _row(name, previews, against, faster)


def _back(services: Services) -> None:
    """The prices as they were, known to have changed."""
    with services.storage.engine.begin() as connection:
        connection.exec_driver_sql("UPDATE listing_bands SET price = price - 1")


def _row(name: str, seconds: list[float], *more: str) -> tuple[str, ...]:
    between = f"{min(seconds):.3f} to {max(seconds):.3f}"
    return (name, f"{median(seconds):.3f}", between, *(more or ("", "")))
