"""Which server to run the API on: the bare route and estimates on each.

Ratios within a row are of one server; the rows follow one another, so between them
only large differences mean something.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from tests.benchmarks.bench_server import average_bytes, bare, estimates, warm
from tests.benchmarks.contest import table
from tests.benchmarks.load import (
    CONNECTIONS,
    client_name,
    compared,
    measure,
)
from tests.benchmarks.served import furnish
from tests.benchmarks.servers import Kind, granian, gunicorn, running, waitress

ROUNDS = 4
KINDS = (
    waitress(1),
    waitress(4),
    waitress(8),
    gunicorn(1, 4),
    gunicorn(2, 1),
    gunicorn(2, 4),
    granian(1, 1),
    granian(1, 4),
    granian(2, 1),
    granian(2, 4),
)


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        database = str(Path(folder) / "workshop.sqlite3")
        token = furnish(database)
        size = average_bytes(database, estimates(token)[0])
        rows = [row(kind, database, token, size) for kind in KINDS if kind.installed]
    table(
        f"Servers: {CONNECTIONS} connections, client {client_name()}; an estimate is "
        "one of the wishes in rotation",
        ("", "bare/s", "estimates/s", "x bare", "p99 ms bare", "p99 ms", "MB"),
        rows,
    )
    missing = sorted({kind.module for kind in KINDS if not kind.installed})
    if missing:
        print(f"  not installed, so not measured: {', '.join(missing)}")


def row(kind: Kind, database: str, token: str, size: int) -> tuple[str, ...]:
    """One server's figures."""
    kept = estimates(token)[0]
    plain = bare(kept)
    with running(kind, database, size) as server:
        warm(server, [plain, kept])
        measure(server, [plain, kept], ROUNDS)
        memory = server.memory_mb()
    return (
        kind.name,
        f"{plain.median('rate'):,.0f}",
        f"{kept.median('rate'):,.0f}",
        compared(kept, plain, "rate"),
        f"{plain.median('p99_ms'):,.1f}",
        f"{kept.median('p99_ms'):,.1f}",
        f"{memory:.0f}",
    )
