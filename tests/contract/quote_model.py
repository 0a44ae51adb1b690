"""Quotes as plain dictionaries: what has to be so, worked out without a database."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from functools import cache
from math import ceil
from zoneinfo import ZoneInfo

from api.ports import Conflict, PreconditionFailed, QuoteExpired
from pricing.catalogue import catalogue_coin
from pricing.coin_document import read_coin
from pricing.order import prepare_order
from pricing.price_book.reading import read_price_book
from pricing.spot import Spot
from tests.services.promising import BASE, BOOK, DOLLAR, INLINE, ask

VIENNA = ZoneInfo("Europe/Vienna")
PATIENT = {"warn_hours": "8000", "refuse_hours": "8760"}
POLICIES = [policy | {"stale_spot": PATIENT} for policy in BOOK["policies"]]
BOOKS = (
    BOOK | {"policies": POLICIES},
    BOOK | {"policies": POLICIES, "labour": {"rate_per_hour": "40.00"}},
    BOOK
    | {
        "title": "A dearer bench",
        "policies": [policy | {"target_margin": "0.5"} for policy in POLICIES],
        "labour": BOOK["labour"] | {"hours_per_week": "31"},
    },
)
SPOTS = tuple(map(Decimal, ("27.53", "31.10", "55.00")))
LINES = (
    ask(),
    ask(DOLLAR, quantity=3, policy="trade"),
    ask(DOLLAR, own="40", size="T 1/2", system="uk"),
    ask(read_coin(INLINE), quantity=2),
    ask(BASE),
)
ALLOWED = {  # to → from
    "accepted": {"open"},
    "declined": {"open"},
    "renewed": {"open", "expired", "declined"},
}


@cache
def parsed(book):
    return read_price_book(BOOKS[book])


@cache
def priced(book, spot, lines):
    """The order as the model of prices alone has it."""
    asks = [LINES[line] for line in lines]
    rings = [
        (catalogue_coin(a.coin) if isinstance(a.coin, str) else a.coin, a.wish)
        for a in asks
    ]
    return prepare_order(parsed(book), rings).at(Spot(price=spot, currency="EUR"))


class Model:
    """What there should be."""

    def __init__(self, now):
        self.now, self.book, self.spot = now, 0, SPOTS[0]
        self.quotes = []
        self.numbers = {}
        self.changes = 0

    def status(self, quote):
        if quote["status"] == "open" and self.now >= quote["valid_until"]:
            return "expired"
        return quote["status"]

    def add(self, lines, *, hours, deposit, note, renews=None):
        """The quote that a creation or a renewal has to give."""
        order = priced(self.book, self.spot, lines)
        least = 24 if any(LINES[i].wish.policy == "trade" for i in lines) else 72
        until = self.now + timedelta(hours=hours or least)
        year = self.now.astimezone(VIENNA).year
        self.numbers[year] = self.numbers.get(year, 0) + 1
        quote = {
            "number": f"{year}-{self.numbers[year]:04d}",
            "status": "open",
            "version": 1,
            "created_at": self.now,
            "valid_until": until,
            "total": order.total,
            "tax": order.tax,
            "deposit": None if deposit is None else half_up(order.total * deposit),
            "bench_hours": order.bench_hours,
            "make_by": self._make_by(until, order.bench_hours),
            "renews": renews and renews["id"],
            "customer_note": note,
            "lines": lines,
            "share": deposit,
        }
        self.quotes.append(quote)
        self.changes += 1
        return quote

    def _make_by(self, until, hours):
        weekly = BOOKS[self.book]["labour"].get("hours_per_week")
        if weekly is None:
            return None
        today = self.now.astimezone(VIENNA).date()
        queue = sum(
            quote["bench_hours"]
            for quote in self.quotes
            if quote["status"] == "accepted"
            and quote["make_by"] is not None
            and quote["make_by"] >= today
        )
        days = ceil((queue + hours) * 7 / Decimal(weekly))
        return until.astimezone(VIENNA).date() + timedelta(days=days)

    def refusal(self, quote, to, expected):
        """The error that has to come, or None."""
        if expected not in {None, quote["version"]}:
            return PreconditionFailed
        status = self.status(quote)
        if status in ALLOWED[to]:
            return None
        return QuoteExpired if (status, to) == ("expired", "accepted") else Conflict

    def decide(self, quote, to, reason=""):
        quote.update(
            status=to,
            version=quote["version"] + 1,
            decided_at=self.now,
            reason=reason,
        )
        self.changes += 1

    def listed(self, *, status=None, since=None, text=""):
        """What a list has to show, newest first."""
        return [
            quote["id"]
            for quote in reversed(self.quotes)
            if status in {None, self.status(quote)}
            and (since is None or quote["created_at"] >= since)
            and text in quote["number"] + "\n" + quote["customer_note"]
        ]


def half_up(amount):
    """To cents, by whole numbers."""
    return Decimal(int(amount * 1000 + 5) // 10) / 100
