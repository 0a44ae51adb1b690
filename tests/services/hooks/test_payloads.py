from __future__ import annotations

import base64
import json
import re
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal

from api.ports import Band, StoredQuote
from api.services.hooks.payloads import MOST_BYTES, price_bodies, quote_body
from pricing.money import currency
from tests.services.hooking import URL
from tests.services.promising import ask
from tests.services.selling import asked, band

AT = datetime(2026, 12, 1, 12, tzinfo=UTC)
EUR = currency("EUR")
CANARIES = ("9173.4621", "37.913", "CANARYSUPPLIER", "613", "0.2971")
SECRET_WORDS = re.compile(
    "cost|margin|markup|labou?r|minutes|failure|overhead|supplier|spot|profit"
)
PRICES = {"type", "timestamp", "data"}, {"version", "currency", "listings"}
LISTING, BAND = {"sku", "published", "bands"}, {"from", "to", "price"}
QUOTE = {"id", "number", "total", "currency"}


def keys(document):
    """Every key of a document, however deep."""
    if isinstance(document, list):
        return {key for each in document for key in keys(each)}
    if isinstance(document, dict):
        inner = (keys(each) for each in document.values())
        return {*document}.union(*inner)
    return set()


def written(canary):
    """A canary as it may be hidden in a text: plain, or in Base64 at any place."""
    yield canary
    for ahead in range(3):
        text = base64.b64encode(b"-" * ahead + canary.encode()).decode()
        yield text.rstrip("=")[ahead + (ahead > 0) : -1]  # what others cannot change


def clean(body):
    """Whether a message holds no canary in any writing, and no word of costs."""
    leaks = [each for canary in CANARIES for each in written(canary) if each in body]
    words = [key for key in keys(json.loads(body)) if SECRET_WORDS.search(key)]
    return not (leaks or words)


def bodies(*listings, version=7, unit=EUR):
    pairs = [(each.sku, each) for each in listings]
    return list(price_bodies(pairs, version=version, unit=unit, at=AT))


def test_a_message_about_prices_holds_exactly_this(shop):
    secret = {
        "title": "CANARYSUPPLIER",
        "actual_cost": Decimal("9173.4621"),
        "policy": "CANARYSUPPLIER",
        "coin": "0.2971",
        "changed_by": "CANARYSUPPLIER",
        "seq": 613,
        "revision": 613,
    }
    listing = shop.listing("a", ("5", "9.5", "89.95"), published=True, **secret)
    band = replace(listing.bands[0], id=613, run=613)
    [body] = bodies(replace(listing, bands=(band,)))
    told = json.loads(body)
    assert ({*told}, {*told["data"]}) == PRICES
    assert {*told["data"]["listings"][0]} == LISTING
    assert {*told["data"]["listings"][0]["bands"][0]} == BAND
    assert told == {
        "type": "listing.prices_changed",
        "timestamp": "2026-12-01T12:00:00.000Z",
        "data": {
            "version": 7,
            "currency": "EUR",
            "listings": [
                {
                    "sku": "a",
                    "published": True,
                    "bands": [{"from": "5", "to": "9.5", "price": "89.95"}],
                }
            ],
        },
    }
    assert clean(body)


def test_a_message_about_a_quote_holds_exactly_this():
    quote = StoredQuote(
        id="q", number="2026-0001", created_at=AT, created_by="CANARYSUPPLIER",
        valid_until=AT, currency="EUR", total=Decimal("179.9"), tax=Decimal("37.913"),
        deposit=Decimal("9173.4621"), book_version=613, bench_hours=Decimal(613),
        make_by=None, sheet_token="CANARYSUPPLIER", customer_note="CANARYSUPPLIER",
        reason="CANARYSUPPLIER", document='{"cost":"9173.4621"}',
    )  # fmt: skip
    body = quote_body("quote.accepted", quote, AT)
    told = json.loads(body)
    assert {*told["data"]} == QUOTE
    assert told == {
        "type": "quote.accepted",
        "timestamp": "2026-12-01T12:00:00.000Z",
        "data": {
            "id": "q",
            "number": "2026-0001",
            "total": "179.90",
            "currency": "EUR",
        },
    }
    assert clean(body)


def test_the_check_finds_what_must_not_be_there():
    texts = [b"9173.4621", b"a9173.4621 b", b"ab CANARYSUPPLIER b"]
    encoded = [base64.b64encode(text).decode() for text in texts]
    leaks = [json.dumps({"a": each}) for each in ("9173.4621", *encoded)]
    for leak in (*leaks, '{"unit_cost":1}', '{"a":[{"margin":1}]}'):
        assert not clean(leak)
    assert clean('{"a":"1"}')


def test_whatever_a_shop_does_no_message_holds_a_figure_of_the_bench(office):
    office.hook(URL)
    office.create()
    office.listings.create(
        replace(
            asked(band(), published=True),
            actual_cost=Decimal("9173.46"),
            sku="ready",
            kind="ready_made",
        )
    )
    quote = office.shop.create(ask(), customer_note="CANARYSUPPLIER")
    ending = office.shop.create(ask(size="8"))
    office.shop.quotes.accept(quote.id, expected=1)
    office.clock.advance(days=40)
    told = office.told()
    assert {each["type"] for each in told} == {
        "listing.prices_changed",
        "quote.accepted",
        "quote.expired",
    }
    assert told[-1]["data"]["id"] == ending.id
    allowed = PRICES[0] | PRICES[1] | LISTING | BAND | QUOTE
    for each in told:
        assert keys(each) <= allowed
        body = json.dumps(each)
        assert "9173.46" not in body
        assert "CANARYSUPPLIER" not in body


def test_of_no_listings_there_is_no_message():
    assert bodies() == []


def test_what_is_not_published_is_told_without_prices(shop):
    hidden = shop.listing("hidden", ("5", "9.5", "89.95"))
    pairs = [("hidden", hidden), ("gone", None)]
    [body] = price_bodies(pairs, version=1, unit=EUR, at=AT)
    assert json.loads(body)["data"]["listings"] == [
        {"sku": "hidden", "published": False, "bands": []},
        {"sku": "gone", "published": False, "bands": []},
    ]


def test_no_message_is_larger_than_advised_or_holds_more_than_a_hundred(shop):
    wide = tuple(
        Band(size_from=Decimal(n), size_to=Decimal(n), price=Decimal("99999999.95"))
        for n in range(1, 41)
    )
    one = shop.listing("a", published=True)
    large = [replace(one, sku=f"{n:0>64}", bands=wide) for n in range(50)]
    small = [replace(one, sku=f"small-{n}") for n in range(250)]
    found = bodies(*large, *small)
    told = [json.loads(body)["data"]["listings"] for body in found]
    assert max(map(len, told)) == 100
    assert max(len(body.encode()) for body in found) < MOST_BYTES < 20_000
    names = [each["sku"] for part in told for each in part]
    assert names == [each.sku for each in (*large, *small)]


def test_amounts_have_the_decimals_of_their_currency(shop):
    listing = shop.listing("ä\u2028", ("5.25", "9.50", "12000"), published=True)
    [body] = bodies(listing, unit=currency("JPY"))
    assert body.isascii()
    [told] = json.loads(body)["data"]["listings"]
    assert told["sku"] == "ä\u2028"
    assert told["bands"] == [{"from": "5.25", "to": "9.5", "price": "12000"}]
