"""`POST /v1/estimates` against a bare Flask JSON route on the same server.

The bare route reads JSON and answers JSON of as many bytes as the average estimate.
The goal is 0.30 of its requests a second for wishes that come again.
"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from statistics import mean

from tests.benchmarks.contest import table
from tests.benchmarks.load import (
    CONNECTIONS,
    Target,
    answer,
    client_name,
    compared,
    measure,
)
from tests.benchmarks.served import furnish
from tests.benchmarks.servers import Running, running, waitress
from tests.benchmarks.workshop import DISTINCT, kept_wishes, new_spots, new_wishes

GOAL = 0.30
THREADS = 4  # what `fineweight serve` takes
JSON = {"Content-Type": "application/json"}


def main() -> None:
    # Whatever is written goes to a folder that is gone afterwards.
    with tempfile.TemporaryDirectory() as folder:
        database = str(Path(folder) / "workshop.sqlite3")
        *kept, fresh = estimates(furnish(database))
        size = average_bytes(database, kept[0])
        # New rings push out the kept wishes, so they have a contest of their own.
        contests = [[bare(kept[0]), *kept], [bare(kept[0]), fresh]]
        with running(waitress(THREADS), database, size) as server:
            memory = [server.memory_mb()]
            for targets in contests:
                warm(server, targets)
                measure(server, targets)
                memory.append(server.memory_mb())
    report(contests)
    print(f"  every answer has {size:,} bytes, an estimate's on average")
    print(
        "  memory of the server process: {:.0f} MB before the first request, "
        "{:.0f} MB after (b), {:.0f} MB after (c)".format(*memory)
    )


def bare(kept: Target) -> Target:
    return Target("bare Flask JSON route", "/bare", kept.bodies, JSON)


def estimates(token: str) -> list[Target]:
    """The three ways of asking."""
    headers = JSON | {"Authorization": f"Bearer {token}"}
    ways = {
        f"(a) {DISTINCT} wishes in rotation": kept_wishes(),
        "(b) (a) with a new spot price each": new_spots(),
        "(c) a new ring each": new_wishes(),
    }
    return [
        Target(name, "/v1/estimates", bodies, headers) for name, bodies in ways.items()
    ]


def average_bytes(database: str, kept: Target) -> int:
    """Size of an answer to the wishes in rotation [bytes]."""
    with running(waitress(1), database, 1000) as server:
        sizes = [len(answer(server.port, kept, body)) for body in kept.bodies]
    return round(mean(sizes))


def warm(server: Running, targets: list[Target]) -> None:
    """Ask for every wish in rotation once, so that it is kept."""
    for target in targets:
        for body in target.bodies[:DISTINCT]:
            answer(server.port, target, body)


def report(contests: list[list[Target]]) -> None:
    rows = [
        (each.name, *(f"{each.median(name):,.{places}f}" for name, places in FIGURES),
         *(("", "") if each is first
           else (compared(each, first, "rate"), compared(first, each, "server_ms"))),
         f"{GOAL:.2f}" if each.name.startswith("(a)") else "")
        for first, *ours in contests for each in (first, *ours)
    ]  # fmt: skip
    table(
        f"Estimates over HTTP: waitress, {THREADS} threads, {CONNECTIONS} connections, "
        f"client {client_name()}, {os.cpu_count()} cores",
        ("", "requests/s", "p50 ms", "p99 ms", "server CPU ms", "server cores",
         "client cores", "x bare", "x bare by CPU", "goal"),
        rows,
    )  # fmt: skip


FIGURES = (
    ("rate", 0), ("p50_ms", 1), ("p99_ms", 1), ("server_ms", 2),
    ("server_share", 2), ("client_share", 2),
)  # fmt: skip
