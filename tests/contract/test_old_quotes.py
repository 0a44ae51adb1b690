"""A quote of a year ago opens with the same figures, though all else has changed.

The database is built as the program of then left it, by the migrations of then and
the rows of ``data/quotes_of_2025.json``, and brought up to date.
"""

from __future__ import annotations

from contextlib import closing
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from api.db import open_storage, upgrade
from api.db.engine import make_engine
from api.ports import Conflict, QuoteExpired, QuoteFilter
from pricing.catalogue import catalogue_coin
from tests.contract.old_database import kept, rebuild
from tests.services.promising import COIN, DOLLAR, Promises

KEPT = kept("quotes_of_2025")
THEN = "0003"
ACCEPTED, OPEN = KEPT["shown"]
BOOK = {
    "title": "The bench of today",
    "currency": "EUR",
    "timezone": "Europe/Vienna",
    "labour": {"rate_per_hour": "120.00"},
    "stages": [{"key": "cast", "title": "Cast", "minutes": "33", "removes": "slug"}],
    "channels": [{"key": "own_shop", "title": "Web shop", "tax": {"rate": "0.10"}}],
    "policies": [{"key": "retail", "markup": "2"}],
}


@pytest.fixture
def old(any_database, tmp_path):
    """The database as it was; its address."""
    rebuild(any_database, KEPT["rows"], THEN, tmp_path / "then")
    return any_database


@pytest.fixture
def today(old, clock):
    """The same workshop a year later, with another book, other coins and spot."""
    engine = make_engine(old)
    done = upgrade(engine, now=clock.now())
    assert (done.before, done.after > THEN) == (THEN, True)
    engine.dispose()
    with closing(open_storage(old)) as storage:
        workshop = Promises(storage, clock)
        workshop.books.replace(BOOK, expected=1)
        dollar = replace(catalogue_coin(DOLLAR), key="my_dollar", name="Another")
        workshop.coins.replace("my_dollar", dollar, expected=1)
        heavy = replace(catalogue_coin(COIN), gross_mass_g=Decimal(25), name="Heavy")
        workshop.coins.replace(COIN, heavy, expected=0)
        workshop.spots.enter("XAG", Decimal("88.80"), "EUR")
        yield workshop


def test_old_quotes_open_with_the_very_same_figures(today):
    for shown in (ACCEPTED, OPEN):
        quote = today.quotes.get(shown["id"])
        now = today.quotes.document(quote)
        changed = {"status": "expired"} if shown is OPEN else {}
        assert now == shown | changed
        assert today.quotes.find(shown["number"]) == quote


def test_the_figures_are_those_of_then_one_by_one(today):
    quote = today.quotes.find("2025-0001")
    assert (quote.total, quote.tax) == (Decimal("696.87"), Decimal("116.15"))
    assert (quote.deposit, quote.bench_hours) == (Decimal("348.44"), Decimal("2.31"))
    assert (quote.status, quote.book_version) == ("accepted", 1)
    assert quote.make_by == date(2025, 11, 28)
    assert quote.decided_at == datetime(2025, 11, 25, 14, 40, tzinfo=UTC)
    assert today.quotes.find("2025-0002").total == Decimal("382.09")


def test_the_customers_sheet_of_then_is_the_same(today):
    sheet = today.quotes.sheet(today.quotes.by_sheet(ACCEPTED["sheet"].split("/")[-1]))
    assert (sheet.workshop, sheet.tax_rate) == (
        "The bench of last year",
        Decimal("0.20"),
    )
    assert [(piece.coin, piece.size, piece.unit) for piece in sheet.pieces] == [
        ("A worn dollar", "US 10", Decimal("211.57")),
        ("Austria 50 schilling, .900", "UK T 1/2", Decimal("104.41")),
        ("A medal of the fair", "US 9", Decimal("162.42")),
    ]
    assert sheet.pieces[0].extras == ("Engraved inside",)
    assert "About 13 in 100 coins fail" in sheet.pieces[1].own_coin_text
    assert (sheet.total, sheet.balance) == (Decimal("696.87"), Decimal("348.43"))
    assert sheet.spot.price == Decimal("44.425163")
    assert sheet.customer_note == "For Lily,\nin one box"


def test_old_quotes_are_found_in_the_list(today):
    for status, shown in (("accepted", ACCEPTED), ("expired", OPEN)):
        wanted = QuoteFilter(now=today.clock.now(), status=status, text="2025-")
        page = today.quotes.page(wanted, limit=10)
        assert [quote.id for quote in page.quotes] == [shown["id"]]


def test_an_old_quote_keeps_to_its_time_and_can_be_renewed_at_todays_price(today):
    with pytest.raises(QuoteExpired):
        today.quotes.accept(OPEN["id"], expected=1)
    new = today.quotes.renew(OPEN["id"], expected=1)
    document = today.quotes.document(new)
    assert (new.number, new.book_version) == ("2026-0001", 2)
    assert document["renews"] == {
        name: OPEN[name] for name in ("id", "number", "total", "created_at")
    }
    assert new.total > 2 * Decimal(OPEN["total"])
    assert [coin["name"] for coin in document["coins"]] == ["Another", "Heavy"]
    assert document["lines"][0]["spot"]["price"] == "88.80"
    old = today.quotes.document(today.quotes.get(OPEN["id"]))
    assert (old["status"], old["renewed_by"]["id"]) == ("renewed", new.id)
    figures = OPEN.keys() - {"status", "version", "decided_at", "renewed_by"}
    assert {name: old[name] for name in figures} == {
        name: OPEN[name] for name in figures
    }
    assert today.quotes.accept(new.id, expected=1).status == "accepted"


def test_what_was_accepted_then_stays_accepted(today):
    with pytest.raises(Conflict, match="accepted and cannot be renewed"):
        today.quotes.renew(ACCEPTED["id"], expected=2)
