"""A workshop that gives quotes, with figures in its book that are told from others."""

from __future__ import annotations

import json
from decimal import Decimal

from api.ports import AuditFilter
from api.schemas.estimate_document import estimate_document
from api.services import Coins, Feeds, PriceBooks, Quotes, Snapshots, SpotPrices
from api.services.quotes.making import QuoteMaking
from api.services.quotes.terms import LineAsk, QuoteTerms
from pricing.coin_document import read_coin
from pricing.ring_size import ring_size
from pricing.wish import OwnCoin, Wish

COIN = "at_50s_1959_1973"
DOLLAR = "us_dollar_1921_1935"
SPOT = Decimal("27.53")
TERMS = QuoteTerms()
CHANNEL = {
    "key": "own_shop",
    "title": "Own shop",
    "tax": {"rate": "0.20", "inclusive": True},
    "fees": [{"label": "card", "rate": "0.0187", "fixed": "0.27"}],
    "shipping": {"charged": "6.90", "paid": "5.37"},
    "packaging": "1.8347",
}
BOOK = {
    "title": "A bench",
    "currency": "EUR",
    "timezone": "Europe/Vienna",
    "labour": {
        "rate_per_hour": "91.7346",
        "overhead_per_hour": "9.4781",
        "hours_per_week": "10",
    },
    "stages": [
        {"key": "punch", "title": "Punch", "minutes": "8.37", "removes": "slug"},
        {
            "key": "fold",
            "title": "Fold",
            "minutes": "21.73",
            "scrap": {"tried": 101, "failed": 13},
        },
    ],
    "channels": [CHANNEL, {"key": "fair", "title": "Fair"}],
    "policies": [
        {"key": "retail", "title": "Retail", "target_margin": "0.3719"},
        {
            "key": "trade",
            "title": "Trade",
            "target_margin": "0.2137",
            "validity_hours": 24,
        },
    ],
    "extras": [
        {"key": "engraving", "title": "Engraved inside", "price_cost": "7.4319"},
        {"key": "box", "price_cost": "2.1734"},
    ],
}
INLINE = {
    "name": "A medal of the fair",
    "fineness_permille": "900",
    "gross_mass_g": "14.58",
    "diameter_mm": "30",
}

BASE = read_coin(
    {
        "metal": "base",
        "gross_mass_g": "22.68",
        "diameter_mm": "38.1",
        "density_g_cm3": "8.95",
        "paid": "1.50",
    }
)
"""A coin without a metal price."""


def wish(size="10", *, system="us", own=None, **asked):
    """A ring; ``own`` is the compensation agreed for the customer's own coin."""
    coin = None if own is None else OwnCoin(compensation=Decimal(own))
    return Wish(size=ring_size(system, size), own_coin=coin, **asked)


def ask(coin=COIN, *, spot=None, **asked):
    """One line of a quote."""
    price = None if spot is None else Decimal(spot)
    return LineAsk(coin=coin, wish=wish(**asked), spot_price=price)


class Promises:
    """The services of a workshop with a book and a spot price."""

    def __init__(self, storage, clock):
        self.storage, self.clock = storage, clock
        self.snapshots = Snapshots(storage, clock)
        self.books = PriceBooks(self.snapshots, clock)
        self.coins = Coins(self.snapshots, clock)
        self.feeds = Feeds(self.snapshots, clock)
        self.spots = SpotPrices(self.snapshots, clock, feeds=self.feeds)
        making = QuoteMaking(
            self.snapshots,
            clock,
            books=self.books,
            coins=self.coins,
            spots=self.spots,
            write_estimate=estimate_document,
        )
        self.quotes = Quotes(self.snapshots, clock, making=making, feeds=self.feeds)

    def open(self):
        """The workshop, ready to quote."""
        self.books.replace(BOOK, expected=None)
        self.spots.enter("XAG", SPOT, "EUR")
        return self

    def change_book(self, **parts):
        """A new version of the book, with these parts put in their place."""
        version = self.books.stored().about.version
        document = json.loads(self.books.stored().document) | parts
        self.books.replace(document, expected=version)

    def create(self, *asks, **terms):
        """A quote of these lines, or of one ring."""
        return self.quotes.create(list(asks) or [ask()], QuoteTerms(**terms))

    def entries(self, about="quote"):
        """Part of the audit trail, oldest first: action, subject, before, after."""

        wanted = AuditFilter(action=about)
        found = self.storage.read(
            lambda unit: unit.audit.page(wanted, limit=10_000, past=None)
        )
        return [
            (each.action, each.subject, each.before, each.after)
            for each in reversed(found)
        ]
