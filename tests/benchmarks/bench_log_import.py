"""A week of the bench log from one file, against plain bulk inserts of the same rows.

5,000 attempts of 500 jobs, twelve timed stages a row. Everything that the import does:
read the file, find the jobs, check every figure against their plans, write, tell the
audit trail, commit; in the second case complete the jobs and work out what each came
to. The plain inserts are those rows as the database takes them, and one commit.
"""

from __future__ import annotations

import gc
import os
import time
from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import replace
from statistics import median
from typing import Any

from sqlalchemy import Table, delete, insert, select, update

from api.app import compose
from api.app.composition import Services
from api.db import SqlStorage
from api.db.tables import job_attempts, job_coins, job_lines, job_stages, jobs
from api.ports.jobs import Job
from api.services.jobs.plan import read_plan
from api.services.jobs.terms import JobAsk
from api.services.quotes.terms import LineAsk, QuoteTerms
from api.settings import Settings
from pricing.ring_size import ring_size
from pricing.wish import Wish
from tests.benchmarks.contest import table
from tests.benchmarks.databases import postgresql, sqlite
from tests.http.workshop import BOOK, SPOT

JOBS = 500
EACH = 10
TIMED = 12
ROUNDS = 5
CEILING = 5
WRITTEN = (job_attempts, job_coins, job_lines, job_stages)
_MONEY = ",189.95,4.10,2026-11-20"


def main() -> None:
    one_minute, *_ = os.getloadavg()
    print(f"load before: {one_minute:.1f} on {os.cpu_count()} cores")
    rows = []
    for kind, opened in (("SQLite", sqlite), ("PostgreSQL", postgresql)):
        with opened() as storage:
            url = storage.engine.url
            place = url.database
            if kind == "PostgreSQL":
                place = url.render_as_string(hide_password=False)
            with closing(compose(Settings(database=str(place)))) as services:
                rows += measured(kind, storage, services)
    title = f"Import of {JOBS * EACH:,} attempts of {JOBS} jobs, {TIMED} stages timed"
    table(title, ("", "median s", "range s", "x plain INSERT", "rows"), rows)
    print(f"  to stay under: {CEILING} x")


def measured(
    kind: str, storage: SqlStorage, services: Services
) -> Iterator[tuple[str, ...]]:
    """A row of the table for each case, and for the plain inserts beside it."""
    work = _opened(storage, services)
    for case, complete in (("attempts alone", False), ("and completed", True)):
        file = _file(work, complete=complete)
        imports: list[float] = []
        plains: list[float] = []
        count = 0
        for _ in range(ROUNDS):
            _clear(storage)
            imports.append(_timed(lambda: services.bench.files.import_csv(file)))  # noqa: B023 - called at once
            rows = _rows(storage)
            count = sum(len(each) for _, each in rows)
            _clear(storage)
            plains.append(_timed(lambda: _insert(storage, rows)))  # noqa: B023 - called at once
        ratio = median(imports) / median(plains)
        yield _row(f"{kind}, {case}", imports, f"{ratio:.2f}", count)
        yield _row(f"{kind}, plain inserts", plains, "1", count)


def _opened(storage: SqlStorage, services: Services) -> tuple[Job, ...]:
    """Jobs that wait for their week, planned as one ring is."""
    services.price_books.replace(BOOK, expected=None)
    wish = Wish(size=ring_size("us", "10"))
    ask = LineAsk(coin="at_50s_1959_1973", wish=wish, spot_price=SPOT)
    quote = services.quotes.create([ask], QuoteTerms())
    services.quotes.accept(quote.id, expected=None)
    first = services.bench.jobs.open(JobAsk(quote=quote.id))
    others = [
        replace(
            first,
            id=f"job-{n:012}",
            number=f"J{n}",
            quote_id=None,
            sku="ring",
            # Each its own, as promises of different days are.
            plan=first.plan.replace('"coin_name":"', f'"coin_name":"{n} '),
        )
        for n in range(1, JOBS + 1)
    ]
    return storage.write(lambda unit: unit.jobs.add(others))


def _file(work: Sequence[Job], *, complete: bool) -> bytes:
    """A week as a spreadsheet writes it: every tenth attempt scrapped."""
    stages = [each.key for each in read_plan(work[0].plan).lines[0].stages][:TIMED]
    minutes = ",".join(f"minutes:{key}" for key in stages)
    money = ",sold_price,fees,completed_at" if complete else ""
    lines = [f"job,outcome,stage,slug_g,{minutes}{money}"]
    for job in work:
        for n in range(EACH):
            end = "scrapped,punch" if n == 0 else "good,"
            times = ",".join(f"{3 + (n * 7 + i) % 40 / 10}" for i in range(TIMED))
            told = _MONEY if n == 0 else ",,,"
            line = f"{job.number},{end},{3 + n / 100:.2f},{times}"
            lines.append(line + (told if complete else ""))
    return "\n".join(lines).encode()


def _clear(storage: SqlStorage) -> None:
    """Take everything back that was written down."""
    undone = ("completed_at", "completed_day", "week", "realised_margin")
    with storage.engine.begin() as connection:
        for each in WRITTEN:
            connection.execute(delete(each))
        values = {"status": "open", "money": "{}", **dict.fromkeys(undone)}
        connection.execute(update(jobs).values(values))


def _rows(storage: SqlStorage) -> list[tuple[Table, list[dict[str, Any]]]]:
    with storage.engine.connect() as connection:
        found = [
            (each, [dict(row) for row in connection.execute(select(each)).mappings()])
            for each in WRITTEN
        ]
    return [(each, rows) for each, rows in found if rows]


def _insert(
    storage: SqlStorage, rows: Sequence[tuple[Table, list[dict[str, Any]]]]
) -> None:
    with storage.engine.begin() as connection:
        for each, of_table in rows:
            connection.execute(insert(each), of_table)


def _timed(work: Any) -> float:
    gc.collect()
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def _row(name: str, times: Sequence[float], ratio: str, rows: int) -> tuple[str, ...]:
    spread = f"{min(times):.3f} to {max(times):.3f}"
    return name, f"{median(times):.3f}", spread, ratio, f"{rows:,}"


if __name__ == "__main__":
    main()
