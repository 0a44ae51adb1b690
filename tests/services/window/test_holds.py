"""Holding a price: a promise at the listing's price, and what a page sees of it."""

from __future__ import annotations

import json
from dataclasses import fields
from datetime import timedelta
from decimal import Decimal

import pytest

from api.ports import (
    CannotHold,
    Conflict,
    KeyRecord,
    NotFound,
    QuoteExpired,
    SizeNotOffered,
)
from api.services.actor import Actor, acting
from api.services.quotes.formats import kept
from api.services.window.holds import LONGEST_HOURS, WindowHold
from pricing.errors import InvalidInput
from pricing.ring_size import ring_size
from tests.services.promising import BOOK, CHANNEL, Promises
from tests.services.selling import asked, band
from tests.services.windowing import Storefront

NOTHING = "there is no quote '{}'; check what it is called"


@pytest.fixture
def store(promises):
    made = Storefront(promises)
    made.publish(band(), band("10", "12", "200"), extras=("box",))
    return made


def key(scope="window", name="k1", clock=None):
    return KeyRecord(id=name, scope=scope, label="", created_at=clock)


def test_the_members_that_are_shown_are_these_and_no_others():
    assert {field.name for field in fields(WindowHold)} == {
        "id",
        "number",
        "status",
        "sku",
        "size",
        "quantity",
        "unit_price",
        "total",
        "tax",
        "tax_included",
        "currency",
        "valid_until",
        "token",
    }


def test_a_price_is_held_as_it_is_shown(store):
    price = store.price("L", system="uk", quantity=2)
    hold = store.holds.shown(store.hold("L", system="uk", quantity=2))
    for name in ("sku", "size", "quantity", "unit_price", "total", "tax"):
        assert getattr(hold, name) == getattr(price, name)
    assert (hold.currency, hold.tax_included) == ("EUR", True)
    assert (hold.number, hold.status) == ("2026-0001", "open")


def test_the_bench_sees_the_whole_estimate_at_that_price(store):
    quote = store.hold(quantity=2)
    document = store.promises.quotes.document(quote)
    [line] = document["lines"]
    assert (line["price"]["unit"], line["price"]["bound_by"]) == ("189.95", "given")
    assert line["price"]["total"] == document["goods"] == "379.90"
    assert Decimal(document["cost"]) == Decimal(line["cost"]["per_piece"]) * 2
    assert (line["wish"]["quantity"], line["wish"]["extras"]) == (2, ["box"])
    assert quote.total == Decimal("386.80")  # and 6.90 for shipping
    assert "token" not in json.dumps(document)


def test_the_token_says_what_is_held(store, clock):
    quote = store.hold(quantity=2)
    claims = store.signing.claims(store.holds.shown(quote).token)
    assert claims == {
        "iss": "fineweight",
        "aud": "shop",
        "jti": quote.id,
        "iat": int(clock.now().timestamp()),
        "exp": int(quote.valid_until.timestamp()),
        "sku": "ring-1",
        "size": {"system": "us", "size": "8"},
        "quantity": 2,
        "unit_price": "189.95",
        "total": "379.90",
        "tax": "63.32",
        "tax_included": True,
        "currency": "EUR",
    }


@pytest.mark.parametrize(("hours", "held"), [(72, LONGEST_HOURS), (3, 3)])
def test_it_is_held_for_the_policys_time_but_a_day_at_most(store, clock, hours, held):
    policy = BOOK["policies"][0] | {"validity_hours": hours}
    store.promises.change_book(policies=[policy])
    assert store.hold().valid_until == clock.now() + timedelta(hours=held)


def test_what_is_held_stays_whatever_changes(store):
    quote = store.hold()
    before = store.holds.shown(quote)
    store.listings.replace("ring-1", asked(band(price="300"), published=False))
    store.promises.spots.enter("XAG", Decimal(60), "EUR")
    store.signing.rotate()
    again = store.holds.get(quote.id, key(name=quote.created_by))
    assert store.holds.shown(again) == before
    assert store.signing.claims(before.token)["unit_price"] == "189.95"
    assert store.promises.quotes.accept(quote.id, expected=1).total == quote.total


def test_what_a_page_sees_of_it_tells_its_status(store):
    quote = store.hold()
    accepted = store.promises.quotes.accept(quote.id, expected=None)
    assert store.holds.shown(accepted).status == "accepted"
    with pytest.raises(Conflict, match="accepted already"):
        store.promises.quotes.accept(quote.id, expected=None)


def test_an_expired_one_is_refused_and_says_what_to_do(store, clock):
    quote = store.hold()
    clock.advance(hours=24)
    assert store.holds.shown(quote).status == "expired"
    with pytest.raises(QuoteExpired, match="hold the ring anew for a price of today"):
        store.promises.quotes.accept(quote.id, expected=1)
    plain = store.promises.create(valid_hours=1)
    clock.advance(hours=1)
    with pytest.raises(QuoteExpired, match="renew it for a price of today"):
        store.promises.quotes.accept(plain.id, expected=1)


def test_the_bench_may_renew_it_by_its_own_rules(store, clock):
    quote = store.hold()
    clock.advance(hours=24)
    new = store.promises.quotes.renew(quote.id, expected=1)
    [line] = store.promises.quotes.document(new)["lines"]
    assert line["price"]["bound_by"] != "given"
    with pytest.raises(NotFound):
        store.holds.get(new.id, key("bench"))


# Who may see it


def test_it_is_for_the_key_that_asked_and_for_the_shop(store):
    with acting(Actor(by="k1")):
        quote = store.hold()
    for caller in (key(), key("shop", "k2"), key("bench", "k3")):
        assert store.holds.get(quote.id, caller) == quote
    for caller in (key(name="k2"), None):
        with pytest.raises(NotFound) as theirs:
            store.holds.get(quote.id, caller)
        assert theirs.value.message == NOTHING.format(quote.id)


def test_another_quote_is_none_even_for_the_bench(store):
    with acting(Actor(by="k1")):
        quote = store.promises.create()
    for caller in (key(), key("shop"), key("bench")):
        with pytest.raises(NotFound):
            store.holds.get(quote.id, caller)
    with pytest.raises(NotFound) as unknown:
        store.holds.get("a" * 22, key())
    assert unknown.value.message == NOTHING.format("a" * 22)


def test_a_token_is_of_one_quote_alone(store, clock):
    one, other = store.hold(), store.hold()
    token = store.holds.shown(one).token
    store.holds.check(token, one)
    with pytest.raises(InvalidInput, match="of another quote") as refused:
        store.holds.check(token, other)
    assert refused.value.path == ("token",)
    with pytest.raises(InvalidInput, match="was changed"):
        store.holds.check(token[:-8] + "AAAAAAAA", one)
    clock.advance(hours=24)
    store.holds.check(token, one)  # its time is the quote's to tell


# What cannot be held


def test_what_is_not_shown_or_not_offered_cannot_be_held(store):
    store.create(sku="hidden")
    for sku in ("hidden", "nothing"):
        with pytest.raises(NotFound):
            store.hold(sku=sku)
    with pytest.raises(SizeNotOffered):
        store.hold("14")
    assert store.promises.entries("quote") == []


def test_why_it_cannot_be_held_is_not_told(store, storage, clock):
    refusals = []
    store.promises.change_book(policies=[BOOK["policies"][1]])  # none called retail
    with pytest.raises(CannotHold) as no_policy:
        store.hold()
    refusals.append(no_policy.value.message)
    store.promises.change_book(policies=BOOK["policies"])
    store.publish(band("0", "0.25", "5"), sku="tiny")
    with pytest.raises(CannotHold) as not_makeable:
        store.hold("0", sku="tiny")
    refusals.append(not_makeable.value.message)
    assert len(set(refusals)) == 1
    assert not any(word in refusals[0] for word in ("policy", "wall", "size"))


def test_without_a_price_of_silver_nothing_is_held(storage, clock):
    bare = Promises(storage, clock)
    bare.books.replace(BOOK, expected=None)
    store = Storefront(bare)
    store.publish()
    assert store.price().unit_price == Decimal("189.95")
    with pytest.raises(CannotHold):
        store.hold()
    with pytest.raises(CannotHold):
        store.holds.work_out("ring-1", ring_size("us", "8"), 1)


def test_an_old_price_of_silver_does_not_keep_a_shown_price_from_being_held(
    store, clock
):
    clock.advance(days=30)
    quote = store.hold()
    cautions = store.promises.quotes.document(quote)["lines"][0]["cautions"]
    assert any("stale" in each["code"] for each in cautions)


def test_a_price_below_every_rule_is_held_all_the_same(store):
    store.publish(band(price="1"), sku="gift")
    quote = store.hold(sku="gift")
    assert Decimal(store.promises.quotes.document(quote)["margin"]) < 0


def test_tax_on_top_is_held_as_it_is_shown(store):
    tax = {"rate": "0.20", "inclusive": False}
    store.promises.change_book(channels=[CHANNEL, {"key": "fair", "tax": tax}])
    store.publish(band(price="100.01"), sku="top", channel="fair")
    hold = store.holds.shown(store.hold(sku="top", quantity=2))
    assert (hold.total, hold.tax, hold.tax_included) == (
        Decimal("200.02"),
        Decimal("40.00"),
        False,
    )


def test_working_it_out_ahead_promises_nothing(store):
    store.holds.work_out("ring-1", ring_size("us", "8"), 2)
    assert store.promises.entries("quote") == []


def test_what_is_noted_names_the_ring(store):
    with acting(Actor(by="k1")):
        quote = store.hold()
    [(action, subject, _, after)] = store.promises.entries("quote")
    assert (action, subject) == ("quote.created", quote.id)
    assert (after["held"], after["total"]) == ("ring-1", "196.85")


def test_a_quote_made_at_the_bench_holds_nothing(store):
    assert kept(store.promises.create())["held"] is None
