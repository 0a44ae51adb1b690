"""Quotes as promises: found, kept as they were, and made anew when asked."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from decimal import Decimal

import pytest

from api.ports import Conflict, NotFound, QuoteFilter, StaleSpot
from api.services.actor import Actor, acting
from api.services.quotes.formats import kept
from pricing.catalogue import catalogue_coin
from pricing.coin_document import read_coin
from pricing.errors import InvalidInput
from tests.services.promising import BOOK, COIN, DOLLAR, INLINE, Promises, ask

MADE_ANEW = {"id", "number", "created_at", "valid_until", "sheet", "renews"}


def test_a_quote_is_found_by_its_id_its_number_and_its_sheet(promises):
    quote = promises.create()
    assert promises.quotes.get(quote.id) == quote
    assert promises.quotes.find(quote.id) == quote
    assert promises.quotes.find("2026-0001") == quote
    assert promises.quotes.by_sheet(quote.sheet_token) == quote


def test_what_is_not_there_is_not_found(promises):
    quote = promises.create()
    for look, name in (
        (promises.quotes.get, quote.number),
        (promises.quotes.get, quote.sheet_token),
        (promises.quotes.find, "2026-0002"),
        (promises.quotes.find, quote.sheet_token),
        (promises.quotes.by_sheet, quote.id),
        (promises.quotes.by_sheet, ""),
    ):
        with pytest.raises(NotFound, match="no quote"):
            look(name)


def test_nothing_of_a_quote_changes_when_all_else_does(promises):
    quote = promises.create(
        ask(quantity=2), ask(DOLLAR, own="40"), deposit_share=Decimal("0.5")
    )
    document, sheet = promises.quotes.document(quote), promises.quotes.sheet(quote)
    promises.spots.enter("XAG", Decimal(60), "EUR")
    promises.change_book(title="Another", channels=[{"key": "x"}], currency="USD")
    mine = replace(catalogue_coin(COIN), gross_mass_g=Decimal(40), name="Another")
    promises.coins.replace(COIN, mine, expected=0)
    found = promises.quotes.get(quote.id)
    assert found == quote
    assert promises.quotes.document(found) == document
    assert promises.quotes.sheet(found) == sheet


def test_nothing_is_priced_to_read_a_quote(promises, monkeypatch):
    quote = promises.create()
    for service in (promises.books, promises.coins, promises.spots):
        for name in ("current", "get", "quoted"):
            monkeypatch.setattr(service, name, None, raising=False)
    assert promises.quotes.document(quote)["total"] == format(quote.total, "f")
    assert promises.quotes.summaries([quote])[0]["number"] == quote.number
    assert promises.quotes.sheet(quote).total == quote.total
    assert promises.quotes.accept(quote.id, expected=1).total == quote.total


def test_it_is_known_who_decided_and_when(promises):
    quote, other = promises.create(), promises.create()
    promises.clock.advance(hours=3)
    with acting(Actor(by="the shop", via="api")):
        accepted = promises.quotes.accept(quote.id, expected=None)
        declined = promises.quotes.decline(other.id, expected=None, reason="  dear ")
    for decided in (accepted, declined):
        assert decided == promises.quotes.get(decided.id)
        assert decided.decided_by == "the shop"
        assert decided.decided_at == promises.clock.now()
    assert (accepted.reason, declined.reason) == ("", "dear")


def test_a_reason_is_one_plain_line(promises):
    quote = promises.create()
    for reason in ("a\nb", "x" * 201):
        with pytest.raises(InvalidInput) as refused:
            promises.quotes.decline(quote.id, expected=1, reason=reason)
        assert refused.value.path == ("reason",)
    assert promises.quotes.status(quote) == "open"


def test_the_status_is_by_the_clock(promises):
    quote = promises.create()
    promises.clock.time = quote.valid_until
    assert promises.quotes.status(quote) == "expired"
    page = promises.quotes.page(
        QuoteFilter(now=promises.clock.now(), status="expired"), limit=10
    )
    assert page.quotes == (quote,)


def test_a_renewal_is_the_same_promise_at_todays_price(promises):
    old = promises.create(
        ask(quantity=2, extras=("box",)),
        ask(DOLLAR, own="40", size="T 1/2", system="uk"),
        customer_note="For Lily",
        deposit_share=Decimal("0.25"),
        show_spot=True,
        valid_hours=5,
    )
    new = promises.quotes.renew(old.id, expected=1)
    before = promises.quotes.document(promises.quotes.get(old.id))
    after = promises.quotes.document(new)
    assert (before["status"], after["status"]) == ("renewed", "open")
    decided = {"status", "version", "decided_at", "decided_by", "renewed_by"}
    told = {"make_by"}  # counted from the end of the offer
    same = before.keys() - MADE_ANEW - decided - told
    assert {name: after[name] for name in same} == {name: before[name] for name in same}
    assert (new.renews, new.version) == (old.id, 1)
    assert new.number == "2026-0002"
    assert after["valid_until"] == "2026-12-04T12:00:00.000Z"
    assert kept(new)["wishes"] == kept(old)["wishes"]


def test_a_renewal_takes_the_book_coins_and_spot_of_today(promises):
    inline = read_coin(INLINE)
    old = promises.create(ask(), ask(inline))
    mine = replace(catalogue_coin(COIN), gross_mass_g=Decimal(40), name="Heavy")
    promises.coins.replace(COIN, mine, expected=0)
    promises.change_book(title="Another bench")
    promises.spots.enter("XAG", Decimal(60), "EUR")
    new = promises.quotes.renew(old.id, expected=1, valid_hours=1)
    fresh = promises.create(ask(), ask(inline))
    assert new.total == fresh.total > old.total
    assert (new.book_version, promises.quotes.sheet(new).workshop) == (
        2,
        "Another bench",
    )
    names = [piece.coin for piece in promises.quotes.sheet(new).pieces]
    assert names == ["Heavy", INLINE["name"]]
    assert new.valid_until - promises.clock.now() < fresh.valid_until - old.created_at


def test_a_spot_may_come_with_a_renewal(promises):
    old = promises.create(ask(spot="40"))
    again = promises.quotes.renew(old.id, expected=1, spot_price=Decimal(40))
    assert again.total == old.total
    now = promises.quotes.renew(again.id, expected=1)
    assert now.total == promises.create().total < old.total


@pytest.mark.parametrize(
    ("asked", "path"),
    [
        ({"spot_price": Decimal(0)}, ("spot", "price")),
        ({"valid_hours": 0}, ("valid_hours",)),
        ({"valid_hours": 8761}, ("valid_hours",)),
    ],
)
def test_a_renewal_that_cannot_be_leaves_the_old_quote(promises, asked, path):
    old = promises.create()
    with pytest.raises(InvalidInput) as refused:
        promises.quotes.renew(old.id, expected=1, **asked)
    assert refused.value.path == path
    assert promises.quotes.get(old.id) == old
    assert len(promises.entries()) == 1


def test_an_old_spot_refuses_a_renewal_too(promises):
    old = promises.create()
    promises.clock.advance(days=7)
    with pytest.raises(StaleSpot):
        promises.quotes.renew(old.id, expected=1)
    assert promises.quotes.get(old.id).status == "open"


GONE = {
    "a channel": ({"channels": [{"key": "fair"}]}, "line 1: .*no channel 'own_shop'"),
    "an extra": ({"extras": []}, "line 2: .*no extra 'box'"),
    "a possible price": (
        {"policies": [{"key": "retail", "target_margin": "0.99"}]},
        "line 1: .*target_margin",
    ),
}


@pytest.mark.parametrize(("change", "said"), GONE.values(), ids=GONE.keys())
def test_what_is_gone_from_the_book_is_named(promises, change, said):
    lines = ask(channel="own_shop"), ask(channel="own_shop", extras=("box",))
    old = promises.create(*lines)
    promises.change_book(**change)
    with pytest.raises(Conflict, match=f"2026-0001 cannot be made again.*{said}"):
        promises.quotes.renew(old.id, expected=1)
    assert promises.quotes.get(old.id) == old


def test_a_coin_that_is_gone_is_named(promises):
    promises.coins.add(replace(catalogue_coin(COIN), key="mine"))
    old = promises.create(ask(), ask("mine"))
    promises.coins.remove("mine", expected=1)
    with pytest.raises(Conflict, match=r"line 2: .*'mine'"):
        promises.quotes.renew(old.id, expected=1)


def test_what_concerns_no_line_alone_is_told_of_none(promises):
    old = promises.create(ask(quantity=1000))
    promises.change_book(policies=[{"key": "retail", "min_price": "1000000000"}])
    with pytest.raises(Conflict, match="as it was; the order comes to 10"):
        promises.quotes.renew(old.id, expected=1)


def test_what_a_transaction_of_many_does_is_one_change(promises):
    old = promises.create()

    def all_or_nothing(_):
        promises.quotes.renew(old.id, expected=1)
        promises.create()
        raise RuntimeError

    with suppress(RuntimeError):
        promises.snapshots.transaction(all_or_nothing)
    assert promises.quotes.get(old.id) == old
    assert len(promises.entries()) == 1
    assert promises.create().number == "2026-0002"


def test_a_new_quote_can_be_written_down_before_it_is_committed(promises):
    document = promises.snapshots.transaction(
        lambda _: promises.quotes.document(promises.create())
    )
    assert document == promises.quotes.document(promises.quotes.get(document["id"]))


@pytest.mark.parametrize("move", ["accept", "decline", "renew"])
def test_a_quote_can_be_decided_and_shown_in_one_transaction(promises, move):
    old = promises.create()
    decide = getattr(promises.quotes, move)
    sheet = promises.snapshots.transaction(
        lambda _: promises.quotes.sheet(decide(old.id, expected=1))
    )
    found = promises.quotes.find(sheet.number)
    assert promises.quotes.sheet(found) == sheet


def test_quotes_work_alike_on_either_database(any_storage, clock):
    promises = Promises(any_storage, clock)
    promises.books.replace(BOOK, expected=None)
    promises.spots.enter("XAG", Decimal("27.53"), "EUR")
    quote = promises.create(ask(), ask(DOLLAR), deposit_share=Decimal("0.5"))
    assert promises.quotes.get(quote.id) == quote
    new = promises.quotes.renew(quote.id, expected=1)
    accepted = promises.quotes.accept(new.id, expected=1)
    assert promises.quotes.get(new.id) == accepted
    assert promises.quotes.document(accepted)["renews"]["id"] == quote.id
    assert [action for action, *_ in promises.entries()] == [
        "quote.created",
        "quote.renewed",
        "quote.created",
        "quote.accepted",
    ]
