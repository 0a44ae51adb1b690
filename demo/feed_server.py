"""A small feed of an invented price of silver, on this machine alone.

The price is made up: a walk of daily steps from a fixed seed that always ends at
27.50 today. It is no market's price and says nothing about one. Started by itself
it serves until it is interrupted; the demo starts it beside the workshop.

    python demo/feed_server.py [PORT]     # 8372 if left out, for demo/feed.toml
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from random import Random
from threading import Thread

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from pricing.market_days import MarketCalendar
from pricing.money import half_up

TODAY = Decimal("27.50")
"""The price of today, whatever day it is [EUR/ozt]."""
DAYS = 30
SEED = 1959
STEP = 0.012
"""How far it moves in a day, as a share."""
PATH = "/silver.json"
PORT = 8372

_CENT = Decimal("0.01")


def walk(today: date) -> dict[date, Decimal]:
    """A price for each of the last market days, oldest first [EUR/ozt].

    The last of them is today's, or that of the last day on which a market was
    open; the steps are the same on every day.
    """
    chance, price = Random(SEED), float(TODAY)  # noqa: S311 - a walk, not a secret
    days: dict[date, Decimal] = {}
    for day in _open_days_before(today):
        days[day] = half_up(Decimal(str(price)), _CENT)
        price /= 1 + chance.gauss(0, STEP)
    return dict(reversed(days.items()))


def _open_days_before(today: date) -> Iterator[date]:
    """The last market days, the newest first."""
    calendar, day, left = MarketCalendar(), today, DAYS
    while left:
        if calendar.is_open(day):
            left -= 1
            yield day
        day -= timedelta(days=1)


def answer(now: datetime) -> bytes:
    """What the feed says at a moment; the layout is this demo's own."""
    days = [
        {"day": day.isoformat(), "close": f"{price}"}
        for day, price in walk(now.date()).items()
    ]
    said = {
        "house": "The counting house of Brackelau (invented)",
        "silver": {
            "now": {"euro_per_ounce": f"{TODAY}", "at": now.isoformat()},
            "days": days,
        },
    }
    return json.dumps(said, indent=1).encode()


class _Counter(BaseHTTPRequestHandler):
    """Answers one path and nothing else, without a word on the terminal."""

    def do_GET(self) -> None:
        found = self.path == PATH
        body = answer(datetime.now(UTC)) if found else b"{}"
        self.send_response(200 if found else 404)
        self.send_header("Content-Type", "application/json")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - the library names it
        """Say nothing."""


def listen(port: int = 0) -> ThreadingHTTPServer:
    """A server on a port of this machine, 0 for any free one."""
    return ThreadingHTTPServer(("127.0.0.1", port), _Counter)


def address(server: ThreadingHTTPServer) -> str:
    """The URL of the feed."""
    return f"http://127.0.0.1:{server.server_address[1]}{PATH}"


@contextmanager
def serving() -> Iterator[str]:
    """Serve in a thread for as long as this lasts; the URL of the feed."""
    with listen() as server:
        thread = Thread(target=server.serve_forever, daemon=True)
        thread.start()
        try:
            yield address(server)
        finally:
            server.shutdown()
            thread.join()


if __name__ == "__main__":
    with listen(int(sys.argv[1]) if sys.argv[1:] else PORT) as started:
        print(f"An invented price at {address(started)}; stop with Ctrl-C.")
        try:
            started.serve_forever()
        except KeyboardInterrupt:
            sys.exit(130)
