"""Every change that the services of a workshop can make, and what may refuse it."""

from __future__ import annotations

from decimal import Decimal

from sqlalchemy import text

from api.ports import AuditFilter, QuoteFilter
from api.schemas.estimate_document import estimate_document
from api.services import Coins, Keys, PriceBooks, Quotes
from api.services.audit import Audit
from api.services.quotes.making import QuoteMaking
from api.services.quotes.terms import QuoteTerms
from pricing.coin_document import read_coin
from tests.services.feeding import ASSAY, Fetchery, reading
from tests.services.promising import ask

HUSH = "hush-hush-canary"
TABLES = (
    "price_book_versions",
    "coins",
    "spot_prices",
    "feeds",
    "feed_secrets",
    "quotes",
)


class Workshop:
    """Every service that writes, on one storage."""

    def __init__(self, storage, clock, book_document):
        fetchery = Fetchery(storage, clock)
        self.storage, self.clock, self.book = storage, clock, book_document
        self.source, self.snapshots = fetchery.source, fetchery.snapshots
        self.feeds, self.spots = fetchery.feeds, fetchery.spots
        self.keys = Keys(self.snapshots, clock)
        self.books = PriceBooks(self.snapshots, clock)
        self.coins = Coins(self.snapshots, clock)
        self.audit = Audit(self.snapshots)
        making = QuoteMaking(
            self.snapshots,
            clock,
            books=self.books,
            coins=self.coins,
            spots=self.spots,
            write_estimate=estimate_document,
        )
        self.quotes = Quotes(self.snapshots, clock, making=making, feeds=self.feeds)
        self.key_id = self.made = "0" * 16

    def trail(self):
        return self.audit.page(AuditFilter(), limit=1000).entries

    def newest(self):
        return self.trail()[0]

    def rows(self):
        """Everything that is kept but the trail and the log of fetches."""
        with self.storage.engine.connect() as connection:
            found = {table: self._rows(connection, table) for table in TABLES}
            keys = text("SELECT id, label, revoked_at FROM api_keys")
            return found | {"keys": sorted(map(repr, connection.execute(keys)))}

    @staticmethod
    def _rows(connection, table):
        wanted = text(f"SELECT * FROM {table}")  # noqa: S608 - our own names
        return sorted(map(repr, connection.execute(wanted)))


def coin(key="own", mass="20", **more):
    given = {"key": key, "gross_mass_g": mass, "fineness_permille": "900"}
    return read_coin(given | {"diameter_mm": "34"} | more)


# What can be done, each as often as one likes; some of it is refused at times.


def make_key(w):
    w.made = w.key_id = w.keys.create("shop", "Till")[0].id


def revoke_key(w):
    w.keys.revoke(w.key_id)


def replace_book(w):
    versions = w.books.versions()
    expected = versions[0].version if versions else None
    w.books.replace(w.book, expected=expected, note="wages")


def replace_stale_book(w):
    w.books.replace(w.book, expected=7)


def refuse_book(w):
    w.books.replace({"title": "Half a book"}, expected=None)


def add_coin(w):
    w.coins.add(coin())


def change_coin(w):
    known = w.coins.get("own")
    w.coins.replace("own", coin(mass="19.5"), expected=known.revision)


def change_published(w):
    known = w.coins.get("at_50s_1959_1973")
    w.coins.replace("at_50s_1959_1973", coin(), expected=known.revision)


def remove_coin(w):
    w.coins.remove("own", expected=w.coins.get("own").revision)


def remove_stale_coin(w):
    w.coins.remove("own", expected=10_000)


def remove_published(w):
    w.coins.remove("at_10s_1957_1973", expected=0)


def enter_price(w):
    w.spots.enter("XAG", Decimal("27.50"), "EUR", note="the board")


def enter_bad_price(w):
    w.spots.enter("XAG", Decimal(0), "EUR")


def set_feed_up(w):
    document = ASSAY | {"secret_headers": ["X-Key"]}
    w.feeds.put("assay", document, expected=None)


def change_feed(w):
    changed = ASSAY | {"title": "Moved", "secret_headers": ["X-Key"]}
    w.feeds.put("assay", changed, expected=w.feeds.get("assay").revision)


def change_stale_feed(w):
    w.feeds.put("assay", ASSAY, expected=10_000)


def set_secret(w):
    w.feeds.set_secrets("assay", {"X-Key": HUSH})


def set_unknown_secret(w):
    w.feeds.set_secrets("assay", {"X-Other": HUSH})


def remove_feed(w):
    w.feeds.remove("assay", expected=w.feeds.get("assay").revision)


def fetch(w):
    w.clock.advance(minutes=1)
    last = w.spots.history(limit=1, status="accepted")
    w.source.say(reading(str(last[0].price if last else 27), w.clock.now()))
    w.spots.fetch("assay")


def fetch_a_jump(w):
    w.clock.advance(minutes=1)
    w.source.say(reading("50", w.clock.now()))
    w.spots.fetch("assay")


def held(w):
    waiting = w.spots.history(limit=1, status="held")
    return waiting[0].id if waiting else 10_000


def accept(w):
    w.spots.accept(held(w))


def reject(w):
    w.spots.reject(held(w))


def quote_id(w, status):
    """The newest quote of a status, or of none."""
    wanted = QuoteFilter(now=w.clock.now(), status=status)
    found = w.quotes.page(wanted, limit=1, past=None).quotes
    return found[0].id if found else "none"


def promise(w):
    terms = QuoteTerms(customer_note="for the wedding")
    w.made = w.quotes.create([ask()], terms).id


def promise_nothing(w):
    w.quotes.create([ask()], QuoteTerms(valid_hours=0))


def accept_quote(w):
    w.quotes.accept(quote_id(w, "open"), expected=1)


def accept_late(w):
    w.clock.advance(days=10)
    w.quotes.accept(quote_id(w, "expired"), expected=None)


def accept_again(w):
    w.quotes.accept(quote_id(w, "accepted"), expected=None)


def accept_stale_quote(w):
    w.quotes.accept(quote_id(w, "open"), expected=2)


def decline_quote(w):
    w.quotes.decline(quote_id(w, "open"), expected=None, reason="too dear")


def renew_quote(w):
    w.quotes.renew(quote_id(w, "declined"), expected=None, spot_price=Decimal(28))


def renew_for_too_long(w):
    w.quotes.renew(quote_id(w, "declined"), expected=None, valid_hours=10**6)


def renew_accepted(w):
    w.quotes.renew(quote_id(w, "accepted"), expected=None)


# What was done, and what is written of it; the subject is what was made last
# where it has a name of its own.
STORY = (
    (replace_book, "price_book.replaced", "1"),
    (replace_book, "price_book.replaced", "2"),
    (make_key, "key.created", None),
    (revoke_key, "key.revoked", None),
    (add_coin, "coin.added", "own"),
    (change_coin, "coin.changed", "own"),
    (change_published, "coin.changed", "at_50s_1959_1973"),
    (remove_coin, "coin.removed", "own"),
    (set_feed_up, "feed.added", "assay"),
    (set_secret, "feed.secret_set", "assay"),
    (change_feed, "feed.changed", "assay"),
    (enter_price, "spot.entered", "1"),
    (fetch, "spot.fetched", "2"),
    (fetch_a_jump, "spot.fetched", "3"),
    (accept, "spot.accepted", "3"),
    (promise, "quote.created", None),
    (decline_quote, "quote.declined", None),
    (promise, "quote.created", None),
    (accept_quote, "quote.accepted", None),
    (fetch_a_jump, "spot.fetched", "4"),
    (enter_price, "spot.entered", "5"),
    (remove_feed, "feed.removed", "assay"),
)
LINES = {renew_quote: 2}
"""Deeds that change more than one thing."""
FETCHES = (fetch, fetch_a_jump)
DEEDS = (
    make_key, revoke_key, replace_book, replace_stale_book, refuse_book, add_coin,
    change_coin, change_published, remove_coin, remove_stale_coin, remove_published,
    enter_price, enter_bad_price, set_feed_up, change_feed, change_stale_feed,
    set_secret, set_unknown_secret, remove_feed, *FETCHES, accept, reject,
    promise, promise_nothing, accept_quote, accept_late, accept_again,
    accept_stale_quote, decline_quote, renew_quote, renew_for_too_long, renew_accepted,
)  # fmt: skip
