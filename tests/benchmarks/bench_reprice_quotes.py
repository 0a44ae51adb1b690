"""How long a quote takes while a million prices are being changed.

A server process as `fineweight serve` runs it, with two clients that ask for quotes one
after the other and rest in between. Alone first; then a preview, an apply and an undo
of all bands come in over HTTP, each of which is told apart. BANDS and TURNS change the
size of the shop and how often it is repriced; DATABASES names one of both.
"""

from __future__ import annotations

import json
import os
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from decimal import Decimal
from http.client import HTTPConnection
from itertools import count
from statistics import median, quantiles
from typing import Any

import psutil
from sqlalchemy import text

from api.app import compose
from api.db import SqlStorage
from api.settings import Settings
from tests.benchmarks.contest import table
from tests.benchmarks.databases import postgresql, sqlite
from tests.benchmarks.real_shop import DEARER, specs, stock
from tests.benchmarks.servers import HOST, Running, running, waitress

GOAL = 3.0
THREADS = 4
CLIENTS = 2
REST_S = 0.01
IDLE_S = 6.0
SPECS = 1_000
PATIENCE_S = 120
ALONE, PREVIEW, APPLY, UNDO = "alone", "preview", "apply", "undo"
COMPILING = "first preview"
MEGABYTE = 1_000_000
LINE = 10_000
LOG = text(
    "SELECT count(pg_logical_emit_message(false, 'line', repeat('x', :line))) "
    "FROM generate_series(1, :many)"
)
LOGGED = 2_500  # bytes of log for each band that is repriced a few times
COIN = {"coin": "us_dollar_1921_1935", "size": {"system": "us", "size": "10"}}
RUNS = "/v1/repricings"
QUOTE = json.dumps({"lines": [COIN | {"quantity": 1}]})
DATABASES = {"SQLite": sqlite, "PostgreSQL": postgresql}
_numbers = count(1)


class Client:
    """One connection with a key."""

    def __init__(self, port: int, token: str) -> None:
        self._connection = HTTPConnection(HOST, port, timeout=PATIENCE_S)
        self._headers = {
            "Authorization": f"Bearer {token}",
            "Content-Type": "application/json",
        }

    def post(self, path: str, body: str = "", **headers: str) -> tuple[Any, str]:
        """What is answered, and its tag."""
        told = self._headers | {k.replace("_", "-"): v for k, v in headers.items()}
        told["Idempotency-Key"] = f"benchmark-{next(_numbers):08}"
        self._connection.request("POST", path, body, told)
        answer = self._connection.getresponse()
        text = answer.read()
        if answer.status >= 300:
            raise RuntimeError(f"{path}: {answer.status} {text[:300]!r}")
        return json.loads(text), answer.headers.get("ETag", "")


class Quotes:
    """Clients that ask for quotes all the time, and what each took, by what goes on."""

    def __init__(self, port: int, token: str) -> None:
        self.taken: dict[str, list[float]] = {}
        self.goes_on: str | None = None
        self.failed: list[str] = []
        self._over = threading.Event()
        self._threads = [
            threading.Thread(target=self._ask, args=(Client(port, token),))
            for _ in range(CLIENTS)
        ]

    def _ask(self, client: Client) -> None:
        while not self._over.wait(REST_S):
            during, begun = self.goes_on, time.perf_counter()
            try:
                client.post("/v1/quotes", QUOTE)
            except (RuntimeError, OSError) as error:
                self.failed.append(str(error))
                continue
            if during is not None:
                spent = time.perf_counter() - begun
                self.taken.setdefault(during, []).append(spent)

    @contextmanager
    def asked(self) -> Iterator[None]:
        """Within this they ask."""
        for each in self._threads:
            each.start()
        try:
            yield
        finally:
            self._over.set()
            for each in self._threads:
                each.join()

    def during(self, name: str, work: Callable[[], Any]) -> tuple[Any, float]:
        """What ``work`` gives, and how long it took [s]; quotes count under a name."""
        self.goes_on, begun = name, time.perf_counter()
        done = work()
        spent = time.perf_counter() - begun
        self.goes_on = None
        return done, spent


def main() -> None:
    one_minute, *_ = os.getloadavg()
    print(f"load before: {one_minute:.1f} on {os.cpu_count()} cores")
    bands = int(os.environ.get("BANDS", "1000000"))
    turns = int(os.environ.get("TURNS", "2"))
    made = specs(SPECS)
    for kind in os.environ.get("DATABASES", " ".join(DATABASES)).split():
        with DATABASES[kind]() as storage:
            address = storage.engine.url.render_as_string(hide_password=False)
            database = address if kind == "PostgreSQL" else storage.engine.url.database
            services = compose(Settings(database=str(database)))
            stock(services, bands, made)
            token = services.keys.create("bench", "benchmark")[1]
            services.close()
            settle(storage, bands)
            with running(waitress(THREADS), str(database), 100) as server:
                measured(kind, bands, server, token, turns)


def settle(storage: SqlStorage, bands: int) -> None:
    """Let PostgreSQL be as after some days: with files of its log to use again.

    A new server makes each when it is needed, and whoever commits then waits for it.
    """
    if storage.engine.dialect.name != "postgresql":
        return
    alone = storage.engine.execution_options(isolation_level="AUTOCOMMIT")
    with alone.connect() as connection:
        for _ in range(bands * LOGGED // MEGABYTE):
            connection.execute(LOG, {"many": MEGABYTE // LINE, "line": LINE})
        connection.execute(text("CHECKPOINT"))


def measured(kind: str, bands: int, server: Running, token: str, turns: int) -> None:
    quotes, maker = Quotes(server.port, token), Client(server.port, token)
    spent: dict[str, list[float]] = {name: [] for name in (PREVIEW, APPLY, UNDO)}
    with quotes.asked():
        time.sleep(1)  # warm
        quotes.during(ALONE, lambda: time.sleep(IDLE_S))
        first = asking(DEARER - 1)
        _, seconds = quotes.during(COMPILING, lambda: maker.post(RUNS, first))
        spent[COMPILING] = [seconds]
        for turn in range(turns):
            for name, seconds in repriced(quotes, maker, turn).items():
                spent[name].append(seconds)
        quotes.during(ALONE, lambda: time.sleep(IDLE_S))
    report(f"{kind}, {bands:,} bands", quotes, spent)
    peak = peak_memory_mb(server.process)
    print(f"  peak memory of the server process: {peak:,.0f} MB")


def repriced(quotes: Quotes, maker: Client, turn: int) -> dict[str, float]:
    """A preview, applied and undone; what each took [s]."""
    body = asking(DEARER + turn)
    (run, tag), first = quotes.during(PREVIEW, lambda: maker.post(RUNS, body))
    place = f"{RUNS}/{run['id']}"
    (run, tag), second = quotes.during(
        APPLY, lambda: maker.post(f"{place}/apply", '{"include": []}', If_Match=tag)
    )
    if run["status"] != "applied":
        raise RuntimeError(run["status"])
    _, third = quotes.during(UNDO, lambda: maker.post(f"{place}/undo", If_Match=tag))
    return {PREVIEW: first, APPLY: second, UNDO: third}


def asking(price: Decimal) -> str:
    """For a preview at a spot price [EUR/ozt]."""
    return json.dumps({"spot": {"price": str(price)}})


def report(title: str, quotes: Quotes, spent: dict[str, list[float]]) -> None:
    alone = p99(quotes.taken[ALONE])
    rows = [
        (
            name,
            f"{median(spent[name]):,.2f}" if name in spent else "",
            f"{len(taken):,}",
            f"{median(taken) * 1e3:,.1f}",
            f"{p99(taken) * 1e3:,.1f}",
            f"{max(taken) * 1e3:,.1f}",
            f"{p99(taken) / alone:,.2f}",
        )
        for name, taken in quotes.taken.items()
    ]
    headings = ("quotes during", "it takes s", "quotes", "p50 ms", "p99 ms", "max ms")
    table(title, (*headings, f"p99 x alone (goal {GOAL:g})"), rows)
    print(f"  quotes refused or failed: {len(quotes.failed)} {quotes.failed[:1]}")


def p99(seconds: list[float]) -> float:
    return quantiles(seconds, n=100, method="inclusive")[98]


def peak_memory_mb(process: psutil.Process) -> float:
    """The most it ever held [MB]; what it holds now where nobody kept count."""
    try:
        with open(f"/proc/{process.pid}/status") as told:  # noqa: PTH123 - no file
            for line in told:
                if line.startswith("VmHWM:"):
                    return int(line.split()[1]) * 1024 / 1e6
    except OSError:
        pass
    return process.memory_info().rss / 1e6
