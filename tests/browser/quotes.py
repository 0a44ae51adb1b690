"""Quotes of every kind, from a price book full of figures that no customer may see."""

from __future__ import annotations

from copy import deepcopy
from datetime import UTC, datetime, timedelta
from decimal import Decimal

from api.services.quotes.terms import LineAsk, QuoteTerms
from pricing.coin import Coin
from pricing.ring_size import ring_size
from pricing.wish import OwnCoin, Wish
from tests.http.workshop import BOOK

TOLD = ("9173.4621", "9173", "37.913", "0.37913", "37.9", "613.37", "0.2971", "29.71")
CANARIES = (*TOLD, "CANARY", "31.4159", "31.42")
"""Costs, shares, minutes and names of the book, as they stand or might be said."""
SPOT = Decimal("31.4159")
HOURS = 72
FINDS = Coin(
    name="Find",
    fineness_permille=Decimal(900),
    gross_mass_g=Decimal(20),
    diameter_mm=Decimal(34),
    basis="paid",
    paid=Decimal("9173.4621"),
)
NOTE = (
    "\u0645\u0631\u062d\u0628\u0627 \U0001f48d <script>alert(1)</script> {{7*7}}\n"
    + "Donaudampfschifffahrtsgesellschaftskapit\u00e4n" * 6
)
LONG = "Teschen, 15 kreuzer klippe of an unusually talkative description " * 3


def canary_book():
    """The demo's price book with a canary at every place a cost can leak from."""
    book = deepcopy(BOOK)
    for kind in ("consumables", "tools", "stages", "policies"):
        for entry in book[kind]:
            entry["title"] = "CANARYSUPPLIER"
    book["stages"][0]["minutes"] = "613.37"
    book["stages"][1]["scrap"] = {"rate": "0.2971"}
    book["policies"][0]["target_margin"] = "0.37913"
    for fee in book["channels"][0]["fees"]:
        fee["label"] += " CANARYFEE"
    return book


class Clock:
    """Stands still until it is moved."""

    def __init__(self):
        self.time = datetime(2026, 12, 1, 12, tzinfo=UTC)

    def now(self):
        return self.time


def make_quotes(services, clock):
    """A quote of every kind, by what became of it."""
    services.price_books.replace(canary_book(), expected=None)
    services.spot_prices.enter("XAG", SPOT, "EUR")
    made = {
        "open": pair(services),
        "accepted": pair(services),
        "declined": pair(services),
        "expired": pair(services, valid_hours=1),
        "renewed": pair(services),
        "many": many(services),
        "bare": services.quotes.create([line()], QuoteTerms()),
    }
    services.quotes.accept(made["accepted"].id, expected=None)
    services.quotes.decline(made["declined"].id, expected=None)
    made["renewal"] = services.quotes.renew(made["renewed"].id, expected=None)
    clock.time += timedelta(hours=2)
    return made


def line(coin=FINDS, size="10", **wish):
    return LineAsk(coin=coin, wish=Wish(size=ring_size("us", size), **wish))


def pair(services, **terms):
    """A wedding pair: two lines, with all that a quote can have."""
    asks = [
        line(extras=("ring_box",)),
        LineAsk(
            coin="at_50s_1959_1973", wish=Wish(size=ring_size("uk", "L"), quantity=2)
        ),
    ]
    agreed = {
        "customer_note": "For a wedding in May.\nMeasure in the evening.",
        "deposit_share": Decimal("0.5"),
        "valid_hours": HOURS,
    }
    return services.quotes.create(asks, QuoteTerms(**agreed | terms))


def many(services):
    """Fifty lines, own coins among them, with names and a note that are hard to set."""
    talkative = Coin(
        name=LONG,
        fineness_permille=Decimal(500),
        gross_mass_g=Decimal(20),
        diameter_mm=Decimal(34),
        nickel="present",
    )
    own = OwnCoin(compensation=Decimal(40))
    asks = [
        line(talkative, own_coin=own if n % 5 == 0 else None, quantity=n % 9 + 1)
        for n in range(50)
    ]
    terms = QuoteTerms(customer_note=NOTE, show_spot=True)
    return services.quotes.create(asks, terms)
