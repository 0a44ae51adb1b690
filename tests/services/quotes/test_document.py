"""The document of a quote: what it keeps, and what has become of it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal

import pytest

from api.services.actor import Actor, acting
from api.services.quotes.document import exact, instant
from api.services.quotes.formats import kept
from pricing import RULES_VERSION
from tests.services.promising import DOLLAR, ask

EAST = timezone(timedelta(hours=2))
KEPT = (
    *("goods", "shipping", "tax", "total", "deposit", "net", "fees", "cost"),
    *("margin", "margin_rate", "bench_hours", "coins_to_start"),
)


def test_the_document_says_everything_of_a_new_quote(promises):
    with acting(Actor(by="maker", via="command line")):
        quote = promises.create(
            ask(), ask(DOLLAR), customer_note="For Lily", show_spot=True
        )
    document = promises.quotes.document(quote)
    own = kept(quote)
    assert {name: document.pop(name) for name in KEPT} == {
        name: own["order"][name] for name in KEPT
    }
    assert document == {
        "id": quote.id,
        "number": "2026-0001",
        "status": "open",
        "version": 1,
        "created_at": "2026-12-01T12:00:00.000Z",
        "created_by": "maker",
        "valid_until": "2026-12-04T12:00:00.000Z",
        "decided_at": None,
        "decided_by": "",
        "reason": "",
        "currency": "EUR",
        "book_version": 1,
        "rules_version": RULES_VERSION,
        "make_by": quote.make_by.isoformat(),
        "customer_note": "For Lily",
        "show_spot": True,
        "sheet": f"/quotes/{quote.sheet_token}",
        "lines": own["lines"],
        "coins": own["coins"],
        "renews": None,
        "renewed_by": None,
    }


def test_what_became_of_it_is_said_and_nothing_else_changes(promises):
    quote = promises.create()
    before = promises.quotes.document(quote)
    promises.clock.advance(hours=1)
    with acting(Actor(by="shop", via="api")):
        declined = promises.quotes.decline(quote.id, expected=1, reason="too wide")
    changed = {
        "status": "declined",
        "version": 2,
        "decided_at": "2026-12-01T13:00:00.000Z",
        "decided_by": "shop",
        "reason": "too wide",
    }
    assert promises.quotes.document(declined) == before | changed


def test_an_open_quote_expires_in_its_document_by_time_alone(promises):
    quote = promises.create()
    before = promises.quotes.document(quote)
    promises.clock.time = quote.valid_until
    found = promises.quotes.get(quote.id)
    assert promises.quotes.document(found) == before | {"status": "expired"}


def test_a_renewed_quote_and_its_renewal_name_each_other(promises):
    old = promises.create()
    promises.clock.advance(days=1)
    new = promises.quotes.renew(old.id, expected=1, spot_price=Decimal(35))
    names = {
        quote.id: {
            "id": quote.id,
            "number": quote.number,
            "total": format(quote.total, "f"),
            "created_at": instant(quote.created_at),
        }
        for quote in (old, new)
    }
    renewed = promises.quotes.document(promises.quotes.get(old.id))
    assert (renewed["renews"], renewed["renewed_by"]) == (None, names[new.id])
    document = promises.quotes.document(new)
    assert (document["renews"], document["renewed_by"]) == (names[old.id], None)


def test_a_list_has_the_same_without_lines_and_coins(promises):
    old, other = promises.create(), promises.create()
    new = promises.quotes.renew(old.id, expected=1)
    quotes = [promises.quotes.get(each.id) for each in (new, other, old)]
    whole = [promises.quotes.document(quote) for quote in quotes]
    for document in whole:
        del document["lines"], document["coins"]
    assert promises.quotes.summaries(quotes) == whole
    assert promises.quotes.summaries([]) == []


def test_a_quote_without_a_date_says_so(promises):
    promises.change_book(labour={"rate_per_hour": "32.00"})
    assert promises.quotes.document(promises.create())["make_by"] is None


@pytest.mark.parametrize(
    ("at", "text"),
    [
        (datetime(2026, 12, 1, 12, tzinfo=UTC), "2026-12-01T12:00:00.000Z"),
        (
            datetime(
                2026, 12, 1, 1, 0, 0, 999_999, tzinfo=timezone(timedelta(hours=2))
            ),
            "2026-11-30T23:00:00.999Z",
        ),
    ],
)
def test_a_moment_is_written_in_utc_to_the_millisecond(at, text):
    assert instant(at) == text


@pytest.mark.parametrize(
    ("figure", "text"),
    [("0.00", "0.00"), ("-0.00", "0.00"), ("1E+3", "1000"), ("-1.50", "-1.50")],
)
def test_an_exact_figure_is_written_in_digits(figure, text):
    assert exact(Decimal(figure)) == text
