"""Repricing in the storage, against a plain UPDATE of the same rows.

The bands share 5,000 cases. "Preview" counts the cases in use and stores the run with
a row for every band, which is its history; "apply" makes all of them ready, chunk by
chunk, and switches. The rests between chunks on SQLite are left out. What the prices
are is worked out elsewhere and not measured here.
"""

from __future__ import annotations

import os
import resource
import sys
import time
from collections import defaultdict
from collections.abc import Callable
from itertools import count
from statistics import median

from sqlalchemy import text

from api.db import SqlStorage
from tests.benchmarks.contest import table
from tests.benchmarks.databases import postgresql, sqlite
from tests.benchmarks.many_listings import apply, fill, preview, undo

SIZES = (10_000, 100_000, 1_000_000)
ROUNDS = {10_000: 9, 100_000: 7, 1_000_000: 5}
MIB = 1024
PLAIN = text("UPDATE listing_bands SET price = price + 1")
_names = map(str, count(1))


def plain(storage: SqlStorage) -> None:
    """The floor: every row written once, in one transaction."""
    with storage.engine.begin() as connection:
        connection.execute(PLAIN)


def measure(storage: SqlStorage, bands: int) -> dict[str, list[float]]:
    """Seconds of each piece, round by round."""
    spent: dict[str, list[float]] = defaultdict(list)

    def timed(name: str, work: Callable[[], object]) -> object:
        begun = time.perf_counter()
        done = work()
        spent[name].append(time.perf_counter() - begun)
        return done

    for _ in range(ROUNDS[bands]):
        tidy(storage)
        timed("plain UPDATE", lambda: plain(storage))
        tidy(storage)
        run = timed("preview", lambda: preview(storage, next(_names)))
        run = timed("apply", lambda made=run: apply(storage, made, bands, rest=False))
        tidy(storage)
        timed("undo", lambda made=run: undo(storage, made))
    together = zip(spent["preview"], spent["apply"], strict=True)
    spent["preview + apply"] = [sum(both) for both in together]
    return spent


def tidy(storage: SqlStorage) -> None:
    """Leave no entry the rest of another's work."""
    if storage.engine.dialect.name == "sqlite":
        with storage.engine.connect() as connection:
            connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
        return
    alone = storage.engine.execution_options(isolation_level="AUTOCOMMIT")
    with alone.connect() as connection:
        for name in ("listing_bands", "repricing_bands", "repricing_cases"):
            connection.execute(text(f"VACUUM ANALYZE {name}"))
        connection.execute(text("CHECKPOINT"))


def show(kind: str, bands: int, spent: dict[str, list[float]]) -> None:
    floor = median(spent["plain UPDATE"])
    rows = [
        (
            name,
            f"{median(seconds):,.3f}",
            f"{median(seconds) / bands * 1e6:,.2f}",
            f"{min(seconds):,.3f} to {max(seconds):,.3f}",
            f"{median(seconds) / floor:,.2f}",
            f"{min(seconds) / min(spent['plain UPDATE']):,.2f}",
        )
        for name, seconds in spent.items()
    ]
    headings = ("", "median s", "µs a band", "range s", "x plain", "best x best")
    table(f"{kind}, {bands:,} bands", headings, rows)


def main() -> None:
    one_minute, *_ = os.getloadavg()
    print(f"load before: {one_minute:.1f} on {os.cpu_count()} cores")
    wanted = [int(n) for n in os.environ.get("BANDS", "").split()] or SIZES
    for kind, opened in (("SQLite", sqlite), ("PostgreSQL", postgresql)):
        for bands in wanted:
            with opened() as storage:
                fill(storage, bands)
                show(kind, bands, measure(storage, bands))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / MIB
    print(f"\npeak memory of this process: {peak:,.0f} MiB ({sys.platform})")
