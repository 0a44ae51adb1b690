"""Repricing many workshops on PostgreSQL, sharded by workshop; simulated in one server.

The tables that a repricing writes get a column in front of every key, `workshop`, and
are partitioned by its hash into eight. A partition stands for a server of its own: what
touches one of them only would need no other server. The statements are those of the
program with that column in every join. Told are the partitions that the planner leaves
in each plan, rows a second of each shard with the shards one after the other, and how
unevenly workshops fall.
"""

# ruff: noqa: S608 - statements made of this file's own words

from __future__ import annotations

import os
import re
import time
from collections.abc import Callable, Iterator
from statistics import mean, median

import psycopg

from tests.benchmarks.contest import table
from tests.benchmarks.databases import postgresql

SHARDS = 8
WORKSHOPS = 40
LISTINGS = 1_250  # of each workshop
EACH = 4  # bands of a listing
CASES = 250  # specs of a workshop, at one price each
RUN = 1
TABLES = {
    "listing_bands": "workshop int, id bigint, listing bigint, spec bigint, locked "
    "bool, price bigint, price_run bigint, next_price bigint, next_run bigint, "
    "PRIMARY KEY (workshop, id)",
    "repricings": "workshop int, seq bigint, status text, PRIMARY KEY (workshop, seq)",
    "repricing_cases": "workshop int, run bigint, spec bigint, old_price bigint, "
    "new_price bigint, moves bool, PRIMARY KEY (workshop, run, spec, old_price)",
    "repricing_bands": "workshop int, run bigint, listing bigint, band bigint, spec "
    "bigint, old_run bigint, old_price bigint, new_price bigint, locked bool, moves "
    "bool, PRIMARY KEY (workshop, run, listing, band)",
}
STOCK = f"""INSERT INTO listing_bands SELECT w, i, (i - 1) / {EACH} + 1,
    i::bigint * 7919 % {CASES} + 1, false, 600000 + i::bigint * 7919 % {CASES} * 100
    FROM generate_series(1, {WORKSHOPS}) w, generate_series(1, {LISTINGS * EACH}) i"""
BEGIN = f"""INSERT INTO repricings SELECT w, {RUN}, 'applying'
    FROM generate_series(1, {WORKSHOPS}) w"""
IN_FORCE = """CASE WHEN b.next_run IN (SELECT seq FROM repricings WHERE workshop = {w}
    AND status = 'applied') THEN b.next_price ELSE b.price END"""
COUNT = f"""SELECT spec, {IN_FORCE} AS price, count(*) FROM listing_bands b
    WHERE workshop = {{w}} GROUP BY 1, 2"""
CASES_OF = f"""INSERT INTO repricing_cases SELECT {{w}}, {RUN}, spec, price,
    price + 50000, true FROM ({COUNT}) found"""
FILL = f"""INSERT INTO repricing_bands SELECT b.workshop, c.run, b.listing, b.id,
    b.spec, b.price_run, c.old_price, c.new_price, b.locked, c.moves
    FROM listing_bands b JOIN repricing_cases c ON c.workshop = b.workshop
    AND c.run = {RUN} AND c.spec = b.spec AND c.old_price = {IN_FORCE}
    WHERE b.workshop = {{w}}"""
READY = f"""UPDATE listing_bands b SET price = c.old_price, next_price = c.new_price,
    next_run = {RUN} FROM repricing_cases c WHERE c.workshop = {{w}} AND c.run = {RUN}
    AND c.spec = b.spec AND c.old_price = {IN_FORCE} AND c.moves AND NOT b.locked
    AND b.workshop = {{w}}"""
SWITCH = f"""UPDATE repricings SET status = 'applied'
    WHERE workshop = {{w}} AND seq = {RUN} AND status = 'applying'"""
STEPS = {
    "count the cases": COUNT,
    "store the cases": CASES_OF,
    "fill the preview": FILL,
    "make prices ready": READY,
    "switch": SWITCH,
}
PARTITION = re.compile(r"\bon (\w+)_(\d+)\b")


def main() -> None:
    one_minute, *_ = os.getloadavg()
    print(f"load before: {one_minute:.1f} on {os.cpu_count()} cores")
    with postgresql() as storage:
        address = storage.engine.url.set(drivername="postgresql", database="postgres")
        uri = address.render_as_string(hide_password=False)
        for shards in (1, SHARDS):
            with psycopg.connect(uri, autocommit=True) as connection:
                measured(connection, shards)


def measured(connection: psycopg.Connection, shards: int) -> None:
    for statement in (*tables(shards), STOCK, "ANALYZE"):
        connection.execute(statement)
    connection.execute(BEGIN)
    homes = dict(where(connection))
    plans = {name: touched(connection, said) for name, said in STEPS.items()}
    taken: dict[str, dict[int, float]] = {name: {} for name in STEPS}
    for workshop, home in homes.items():
        for name, said in STEPS.items():
            spent = timed(lambda s=said, w=workshop: connection.execute(s.format(w=w)))
            taken[name][home] = taken[name].get(home, 0.0) + spent
    report(shards, homes, plans, taken)


def tables(shards: int) -> Iterator[str]:
    for name, columns in TABLES.items():
        yield f"DROP TABLE IF EXISTS {name} CASCADE"
        full = " WITH (fillfactor = 50)" if name == "listing_bands" else ""
        yield f"CREATE TABLE {name} ({columns}) PARTITION BY HASH (workshop)"
        for part in range(shards):
            hashed = f"FOR VALUES WITH (MODULUS {shards}, REMAINDER {part})"
            yield f"CREATE TABLE {name}_{part} PARTITION OF {name} {hashed}{full}"


def where(connection: psycopg.Connection) -> list[tuple[int, int]]:
    """Every workshop with its shard."""
    said = "SELECT DISTINCT workshop, tableoid::regclass::text FROM repricings"
    found = connection.execute(said).fetchall()
    return sorted((workshop, int(name.rpartition("_")[2])) for workshop, name in found)


def touched(connection: psycopg.Connection, said: str) -> int:
    """How many shards the plan of a statement for one workshop has in it."""
    plan = connection.execute(f"EXPLAIN {said.format(w=7)}").fetchall()
    return len({part for (line,) in plan for _, part in PARTITION.findall(line)})


def timed(work: Callable[[], object]) -> float:
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def report(
    shards: int,
    homes: dict[int, int],
    plans: dict[str, int],
    taken: dict[str, dict[int, float]],
) -> None:
    bands = dict.fromkeys(range(shards), 0)
    for home in homes.values():
        bands[home] += LISTINGS * EACH
    rows = []
    for name, by_home in taken.items():
        rates = [bands[home] / spent for home, spent in by_home.items()]
        whole = sum(by_home.values())
        rows.append(
            (
                name,
                f"{plans[name]}",
                f"{whole / len(homes) * 1e3:,.2f}",
                f"{median(rates):,.0f}",
                f"{min(rates):,.0f}",
                f"{whole:,.2f}",
                f"{max(by_home.values()):,.2f}",
            )
        )
    table(
        f"{sum(bands.values()):,} bands of {len(homes)} workshops on {shards} shard(s)",
        ("", "shards in plan", "ms a workshop", "bands/s of a shard", "slowest",
         "all one by one s", "fullest shard s"),
        rows,
    )  # fmt: skip
    uneven = max(bands.values()) / mean(bands.values())
    print(f"  the fullest shard has {uneven:.2f} times the mean number of bands")
