"""`/v1/window/prices` against a bare Flask JSON route on the same server.

The bare route answers JSON of as many bytes as the average price, to the same method.
The goal is 0.40 of its requests a second. Every request is counted under a quota.
"""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Iterator
from itertools import islice, product
from pathlib import Path
from statistics import mean

from api.app import compose
from api.services.csv_table import CsvForm
from api.services.window.listings import MOST_KEPT
from api.settings import Settings
from tests.benchmarks.contest import table
from tests.benchmarks.load import (
    CONNECTIONS,
    Target,
    answer,
    answered,
    client_name,
    compared,
    measure,
)
from tests.benchmarks.served import furnish
from tests.benchmarks.servers import Running, running, waitress

GOAL = 0.40
THREADS = 4  # what `fineweight serve` takes
LISTINGS = MOST_KEPT + 1000  # in rotation, each has been forgotten when it comes again
IN_ONE_FILE = 2000
DISTINCT = 500
PATH = "/v1/window/prices"
HEADER = "sku,title,kind,coin,channel,policy,extras,locked,published,from,to,price"
KIND = "made_to_order,at_50s_1959_1973,own_shop,retail,,false,true"
NEITHER_BAND = 9.75  # lies between the two
SIZES = [("us", str(each / 4)) for each in range(20, 49) if each != NEITHER_BAND * 4]
BANDS = (("5", "9.5", "189.95"), ("10", "12", "200.00"))

Asked = tuple[int, str, str, int]


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        database = str(Path(folder) / "workshop.sqlite3")
        furnish(database)
        token = open_shop(database)
        contests = both(token)
        size = average_bytes(database, contests[0][1])
        with running(waitress(THREADS), database, size) as server:
            for targets in contests:
                warm(server, targets)
                measure(server, targets)
            memory = server.memory_mb()
    report(contests)
    print(f"  every answer of the bare route has {size:,} bytes, a price's on average")
    print(f"  {LISTINGS:,} listings; memory of the server process {memory:.0f} MB")


def open_shop(database: str) -> str:
    """Publish the listings; a storefront's key."""
    services = compose(Settings(database=database))
    for first in range(0, LISTINGS, IN_ONE_FILE):
        rows = [
            f"ring-{n},A band ring of a coin,{KIND},{','.join(band)}"
            for n in range(first, min(first + IN_ONE_FILE, LISTINGS))
            for band in BANDS
        ]
        services.listings.import_csv(
            "\r\n".join([HEADER, *rows]).encode(), CsvForm(), dry_run=False
        )
    _, token = services.keys.create("window", "benchmark")
    services.close()
    return token


def rings(listings: int) -> Iterator[Asked]:
    """Rings of so many listings, one listing after the other."""
    for quantity, (system, size), listing in product(
        range(1, 101), SIZES, range(listings)
    ):
        yield listing, system, size, quantity


def both(token: str) -> list[list[Target]]:
    """A contest of reading and one of asking by POST, the bare route first."""
    headers = {"Authorization": f"Bearer {token}"}
    again = list(islice(rings(50), DISTINCT))
    other = list(islice(rings(50), 50 * 28 * 20))
    forgotten = list(islice(rings(LISTINGS), LISTINGS))
    ways = {
        "(a) rings asked for again": again,
        "(b) another size or number each": other,
        "(c) a listing each": forgotten,
    }
    read = [
        Target(name, PATH, list(map(_address, asked)), headers, "GET")
        for name, asked in ways.items()
    ]
    known = Target("(d) (a), not changed since", PATH, read[0].bodies, headers, "GET")
    posted = [
        Target(name, PATH, list(map(_body, asked)), headers | JSON)
        for name, asked in ways.items()
    ]
    return [
        [Target("bare Flask JSON route, GET", "/bare", [b"/bare"], {}, "GET"),
         *read[:2], known, read[2]],
        [Target("bare Flask JSON route, POST", "/bare", posted[0].bodies, JSON),
         *posted],
    ]  # fmt: skip


def _address(asked: Asked) -> bytes:
    listing, system, size, quantity = asked
    query = f"sku=ring-{listing}&system={system}&size={size}&quantity={quantity}"
    return f"{PATH}?{query}".encode()


def _body(asked: Asked) -> bytes:
    listing, system, size, quantity = asked
    size = {"system": system, "size": size}
    return json.dumps(
        {"sku": f"ring-{listing}", "size": size, "quantity": quantity}
    ).encode()


def average_bytes(database: str, target: Target) -> int:
    """Size of an answer [bytes]."""
    with running(waitress(1), database, 1000) as server:
        sizes = [len(answer(server.port, target, body)) for body in target.bodies]
    return round(mean(sizes))


def warm(server: Running, targets: list[Target]) -> None:
    """Ask for every ring in rotation once; those who know it send its tag from then."""
    for target in targets:
        told = [(body, answered(server.port, target, body)[0])
                for body in target.bodies[:DISTINCT]]  # fmt: skip
        if target.name.startswith("(d)"):
            target.bodies = [body + b" " + tag.encode() for body, tag in told]


def report(contests: list[list[Target]]) -> None:
    rows = [
        (each.name, *(f"{each.median(name):,.{places}f}" for name, places in FIGURES),
         *(("", "") if each is first
           else (compared(each, first, "rate"), f"{GOAL:.2f}")))
        for first, *ours in contests for each in (first, *ours)
    ]  # fmt: skip
    table(
        f"Prices in the window: waitress, {THREADS} threads, {CONNECTIONS} "
        f"connections, client {client_name()}, {os.cpu_count()} cores",
        ("", "requests/s", "p50 ms", "p99 ms", "server CPU ms", "server cores",
         "x bare", "goal"),
        rows,
    )  # fmt: skip


JSON = {"Content-Type": "application/json"}
FIGURES = (
    ("rate", 0), ("p50_ms", 1), ("p99_ms", 1), ("server_ms", 2), ("server_share", 2),
)  # fmt: skip
