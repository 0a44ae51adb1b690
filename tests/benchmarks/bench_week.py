"""A margin check over 100,000 jobs, against one plain aggregate query over them.

The jobs lie over a year, each of one line and as many stages as the demo's price book
has. The plain query adds two columns of all jobs up, which nobody can do without; a
check adds up jobs, lines and stages, judges every stage and works out proposals.
"""

from __future__ import annotations

import gc
import os
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from statistics import median
from typing import Any

from sqlalchemy import Connection, insert, literal, select, text, union_all

from api.app import compose
from api.app.composition import Services
from api.db import SqlStorage
from api.db.job_mapping import PARTS, job_values
from api.db.job_tables import job_lines, job_stages, jobs
from api.settings import Settings
from pricing.iso_week import IsoWeek
from tests.benchmarks.contest import table
from tests.benchmarks.databases import postgresql, sqlite
from tests.benchmarks.workshop import document
from tests.contract.completed_jobs import job

JOBS = 100_000
ROUNDS = 7
FIRST, LAST = date(2025, 12, 1), date(2026, 11, 29)
WEEK = IsoWeek.of(LAST)
PLAIN = text("SELECT count(*), sum(planned_margin), sum(realised_margin) FROM jobs")


def main() -> None:
    one_minute, *_ = os.getloadavg()
    print(f"load before: {one_minute:.1f} on {os.cpu_count()} cores")
    rows: list[tuple[str, ...]] = []
    for kind, opened in (("SQLite", sqlite), ("PostgreSQL", postgresql)):
        with opened() as storage:
            url = storage.engine.url
            place = url.render_as_string(False) if kind != "SQLite" else url.database  # noqa: FBT003 - with its password
            with closing(compose(Settings(database=str(place)))) as services:
                services.price_books.replace(document(), expected=None)
                stages = [each.key for each in services.price_books.current().stages]
                fill(storage, stages)
                rows += measured(kind, services)
    headings = ("", "median ms", "range ms", "x plain query")
    table(f"A check of {JOBS:,} jobs in a year", headings, rows)


def measured(kind: str, services: Services) -> Iterator[tuple[str, ...]]:
    """The plain query and the checks in turn."""
    checks = services.bench.margin_checks
    works: dict[str, Callable[[], Any]] = {
        "plain query over all": lambda: plain(services),
        "a week, judged by twelve": lambda: checks.week(WEEK),
        "the whole year, judged by itself": lambda: checks.days(FIRST, LAST),
    }
    taken: dict[str, list[float]] = {name: [] for name in works}
    for work in works.values():
        work()
    gc.collect()
    for _ in range(ROUNDS):
        for name, work in works.items():
            begun = time.perf_counter()
            work()
            taken[name].append(time.perf_counter() - begun)
    first = median(taken["plain query over all"])
    for name, seconds in taken.items():
        yield (
            f"{kind}, {name}",
            f"{median(seconds) * 1e3:,.1f}",
            f"{min(seconds) * 1e3:,.1f} to {max(seconds) * 1e3:,.1f}",
            f"{median(seconds) / first:,.1f}",
        )


def plain(services: Services) -> None:
    with services.storage.engine.connect() as connection:
        count, *_ = connection.execute(PLAIN).one()
    if count != JOBS:
        raise RuntimeError(f"{count} jobs were added up")


def fill(storage: SqlStorage, stages: list[str]) -> None:
    """Lay the jobs in, with a line and the stages of each."""
    days = (LAST - FIRST).days + 1
    made = datetime(2025, 11, 1, tzinfo=UTC)
    rows = [
        job_values(
            job(
                FIRST + timedelta(days=number % days),
                parts={"spoilage": -(number % 7), "labour_efficiency": number % 5 - 2},
                under_floor=number % 100 == 0,
                created_at=made,
            )
        )
        for number in range(JOBS)
    ]
    with storage.engine.begin() as connection:
        connection.execute(insert(jobs), rows)
        add_lines(connection)
        add_stages(connection, stages)
        connection.execute(text("ANALYZE"))


def add_lines(connection: Connection) -> None:
    """A line a job, which has all that the job has."""
    zero = literal(0)
    columns = {
        "job": jobs.c.seq, "line": zero, "coin": literal("at_50s_1959_1973"),
        "coin_name": literal("A coin"), "size_us": literal(10 * 10**9),
        "pieces": jobs.c.pieces, "coins_planned": literal(10**9),
        "coins_used": literal(10**9), "planned_margin": jobs.c.planned_margin,
        "realised_margin": jobs.c.realised_margin,
        **{f"part_{name}": jobs.c[f"part_{name}"] for name in PARTS},
        **{f"{what}_{each}": zero for what in ("slug", "bored")
           for each in ("n", "ratio", "ratio_sq")},
    }  # fmt: skip
    query = select(*columns.values())
    connection.execute(insert(job_lines).from_select(list(columns), query))


def add_stages(connection: Connection, stages: list[str]) -> None:
    """Each stage a job, tried once and timed."""
    route = union_all(*(select(literal(key).label("key")) for key in stages))
    keys = route.subquery()
    one, ten = literal(1), literal(10 * 10**6)
    columns = {
        "job": jobs.c.seq, "line": literal(0), "stage": keys.c.key,
        "title": keys.c.key, "tried": one, "failed": literal(0), "counted": one,
        "redone": literal(0), "timed": one, "minutes": ten, "planned_minutes": ten,
        "difference_sq": one, "labour_efficiency": literal(0),
        "scrap_chance": literal(10**7), "redo_chance": literal(10**7),
    }  # fmt: skip
    query = select(*columns.values()).join_from(jobs, keys, literal(value=True))
    connection.execute(insert(job_stages).from_select(list(columns), query))


if __name__ == "__main__":
    main()
