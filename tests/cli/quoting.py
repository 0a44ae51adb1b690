"""A workshop that quotes, for the commands."""

from __future__ import annotations

from contextlib import contextmanager
from datetime import UTC, datetime
from decimal import Decimal
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from types import SimpleNamespace

from api.app import compose
from api.services.quotes.terms import LineAsk, QuoteTerms
from api.settings import Settings
from pricing.ring_size import ring_size
from pricing.wish import OwnCoin, Wish
from tests.services.promising import BOOK, COIN

SPOT = Decimal("27.53")
PAIR = f"""\
customer_note = "Für zwei."
deposit_share = 0.25
valid_hours = 48
show_spot = true
[[lines]]
coin = "{COIN}"
size = {{ system = "us", size = "10" }}
spot = {{ price = "29.17" }}
[[lines]]
coin = "{COIN}"
size = {{ system = "uk", size = "M" }}
quantity = 2
own_coin = {{ compensation = "40" }}
extras = ["engraving"]
"""


@contextmanager
def workshop(database, clock):
    """Its services, with a price book and a spot price, in an SQLite file."""
    Path(database).write_bytes(_seed())
    composed = compose(Settings(database=str(database)), clock=clock)
    yield composed
    composed.close()


@cache
def _seed():
    """The file of a workshop as it begins, made once."""
    noon = SimpleNamespace(now=lambda: datetime(2026, 12, 1, 12, tzinfo=UTC))
    with TemporaryDirectory() as folder:
        file = Path(folder) / "workshop.sqlite3"
        composed = compose(Settings(database=str(file)), clock=noon)
        fill(composed)
        composed.close()
        return file.read_bytes()


def fill(services):
    """A price book and a spot price."""
    services.price_books.replace(BOOK, expected=None)
    services.spot_prices.enter("XAG", SPOT, "EUR")


def promise(services, *, size="10", own=None, **terms):
    """One ring, promised."""
    coin = None if own is None else OwnCoin(compensation=Decimal(own))
    wish = Wish(size=ring_size("us", size), own_coin=coin)
    asks = [LineAsk(coin=COIN, wish=wish)]
    return services.quotes.create(asks, QuoteTerms(**terms))
