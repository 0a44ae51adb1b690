"""How quotes are made: one book, one spot, one number, and a date to be ready by."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from math import ceil

import pytest

from api.ports import SpotUnavailable, StaleSpot
from api.services.actor import Actor, acting
from api.services.quotes.making import local_date, new_id
from pricing.catalogue import catalogue_coin
from pricing.coin_document import read_coin
from pricing.errors import InvalidInput, NotMakeable, UnknownKey
from pricing.estimate import estimate
from pricing.order import prepare_order
from tests.services.promising import (
    BASE,
    BOOK,
    CHANNEL,
    COIN,
    DOLLAR,
    INLINE,
    SPOT,
    TERMS,
    Promises,
    ask,
    wish,
)


def priced(promises, *lines, spot=None):
    """The order as the model alone prices it."""
    found = promises.spots.quoted(promises.books.current()).spot
    coins = [(catalogue_coin(coin), wanted) for coin, wanted in lines]
    at = found if spot is None else replace(found, price=Decimal(spot))
    return prepare_order(promises.books.current(), coins).at(at)


def test_a_quote_of_one_line_comes_to_what_its_estimate_says(promises):
    quote = promises.create()
    spot, book = promises.spots.current(), promises.books.current()
    alone = estimate(book, catalogue_coin(COIN), spot, wish())
    assert quote.total == alone.price.sale.charged
    assert (quote.book_version, quote.currency) == (1, "EUR")


def test_a_quote_of_several_lines_is_one_order(promises):
    lines = (COIN, wish(quantity=3)), (DOLLAR, wish("T 1/2", system="uk"))
    quote = promises.create(*(ask(coin, **_asked(w)) for coin, w in lines))
    order = priced(promises, *lines)
    assert (quote.total, quote.tax) == (order.total, order.tax)
    assert quote.bench_hours == order.bench_hours


def _asked(wanted):
    size = wanted.size
    return {"size": size.given, "system": size.system, "quantity": wanted.quantity}


def test_a_spot_of_one_line_counts_for_all(promises):
    quote = promises.create(ask(spot="40"), ask(DOLLAR))
    order = priced(promises, (COIN, wish()), (DOLLAR, wish()), spot="40")
    assert quote.total == order.total
    spots = [line["spot"] for line in promises.quotes.document(quote)["lines"]]
    assert {(spot["price"], spot["source"]) for spot in spots} == {("40", "given")}


def test_a_quote_stands_on_one_state_while_others_change_it(promises, monkeypatch):
    before = promises.create().total
    other = Promises(promises.storage, promises.clock)
    current = promises.books.current

    def changed_meanwhile():
        found = current()
        other.spots.enter("XAG", Decimal(99), "EUR")
        return found

    monkeypatch.setattr(promises.books, "current", changed_meanwhile)
    assert promises.create().total == before
    assert promises.create().total > before


@pytest.mark.parametrize(
    ("asks", "path"),
    [
        ([ask(), ask("at_50s")], ("lines", 1, "coin")),
        ([ask(), ask(channel="market")], ("lines", 1, "channel")),
        ([ask(policy="none")], ("lines", 0, "policy")),
    ],
)
def test_what_is_unknown_is_told_of_its_line(promises, asks, path):
    with pytest.raises(UnknownKey) as refused:
        promises.create(*asks)
    assert refused.value.path == path


@pytest.mark.parametrize(
    ("asks", "path"),
    [
        ([ask(), ask(channel="fair")], ("lines", 1, "channel")),
        ([ask()] * 51, ("lines",)),
        ([ask(quantity=999), ask(quantity=2)], ("lines",)),
        ([ask(spot="27"), ask(spot="28")], ("lines", 1, "spot", "price")),
    ],
)
def test_lines_that_do_not_go_together_are_refused(promises, asks, path):
    with pytest.raises(InvalidInput) as refused:
        promises.create(*asks)
    assert refused.value.path == path


def test_no_lines_are_no_quote(promises):
    with pytest.raises(InvalidInput, match="1 to 50"):
        promises.quotes.create([], TERMS)


def test_what_cannot_be_made_is_told_of_its_line(promises):
    with pytest.raises(NotMakeable) as refused:
        promises.create(ask(), ask(hole_mm=Decimal("33.9")))
    assert refused.value.path[:2] == ("lines", 1)


def test_a_total_that_cannot_be_written_is_refused(promises):
    policies = [{"key": "dear", "min_price": "1000000000"}]
    promises.change_book(policies=policies)
    with pytest.raises(InvalidInput, match="fewer pieces") as refused:
        promises.create(ask(quantity=1000))
    assert refused.value.path == ("lines",)
    assert promises.entries() == []


@pytest.mark.parametrize(("hours", "refused"), [(72, False), (73, True)])
def test_an_old_spot_is_refused_as_in_an_estimate(promises, hours, refused):
    promises.clock.advance(hours=hours)
    if refused:
        with pytest.raises(StaleSpot):
            promises.create()
    else:
        assert promises.create().total > 0
    assert promises.create(ask(spot="27.53")).total > 0
    assert promises.create(ask(BASE)).total > 0


def test_the_most_careful_policy_of_the_lines_judges_the_spot(promises):
    policies = [
        {"key": "retail", "target_margin": "0.3"},
        {
            "key": "careful",
            "target_margin": "0.3",
            "stale_spot": {"warn_hours": "1", "refuse_hours": "2"},
        },
    ]
    promises.change_book(policies=policies)
    promises.clock.advance(hours=3)
    assert promises.create(ask(), ask()).total > 0
    with pytest.raises(StaleSpot, match="'careful'"):
        promises.create(ask(), ask(policy="careful"))


def test_without_a_spot_only_coins_that_need_none_are_quoted(
    open_database, tmp_path, clock
):
    bare = Promises(open_database(str(tmp_path / "bare.sqlite3")), clock)
    bare.books.replace(BOOK | {"recovery": {"slug": "0"}}, expected=None)
    assert bare.create(ask(BASE)).total > 0
    with pytest.raises(SpotUnavailable):
        bare.create(ask(BASE), ask())


def test_numbers_are_counted_by_the_year_it_is_in_the_workshop(promises):
    clock = promises.clock
    clock.time = datetime(2026, 12, 31, 22, 59, 59, tzinfo=UTC)
    numbers = [promises.create(ask(spot="27")).number for _ in range(2)]
    clock.advance(seconds=1)  # midnight in Vienna
    numbers += [promises.create(ask(spot="27")).number for _ in range(2)]
    assert numbers == ["2026-0001", "2026-0002", "2027-0001", "2027-0002"]


def test_a_quote_that_is_not_made_uses_up_no_number(promises):
    with pytest.raises(ZeroDivisionError):
        promises.snapshots.transaction(lambda _: promises.create() and 1 / 0)
    assert promises.create().number == "2026-0001"
    assert len(promises.entries()) == 1


def test_ids_and_addresses_are_long_and_never_the_same(promises):
    quotes = [promises.create() for _ in range(3)]
    ids = {quote.id for quote in quotes} | {new_id() for _ in range(100)}
    tokens = {quote.sheet_token for quote in quotes}
    assert len(ids) == 103
    assert {len(each) for each in ids} == {22}  # 128 bits
    assert len(tokens - ids) == 3
    assert {len(each) for each in tokens} == {32}  # 192 bits


def test_who_makes_a_quote_is_written_down(promises):
    with acting(Actor(by="key-1", via="api", request="r1")):
        quote = promises.create()
    assert quote.created_by == "key-1"
    ((action, subject, before, after),) = promises.entries()
    assert (action, subject, before) == ("quote.created", quote.id, None)
    assert after == {
        "number": "2026-0001",
        "total": format(quote.total, "f"),
        "currency": "EUR",
        "valid_until": "2026-12-04T12:00:00Z",
    }


def test_a_quote_holds_for_the_hours_of_its_terms_or_policies(promises):
    now = promises.clock.now()
    held = [
        promises.create(ask(policy="trade"), ask(policy="retail")).valid_until - now,
        promises.create(valid_hours=1).valid_until - now,
        promises.create().valid_until - now,
    ]
    assert [time / timedelta(hours=1) for time in held] == [24, 1, 72]


def test_the_date_counts_bench_hours_from_the_end_of_the_offer(promises):
    quote = promises.create(ask(quantity=10))
    days = ceil(quote.bench_hours * 7 / 10)
    assert quote.make_by == date(2026, 12, 4) + timedelta(days=days)


def test_the_date_counts_what_was_accepted_and_is_not_done(promises):
    first, open_one = promises.create(ask(quantity=10)), promises.create()
    promises.quotes.accept(first.id, expected=1)
    queued = promises.create(ask(quantity=10))
    days = ceil((first.bench_hours + queued.bench_hours) * 7 / 10)
    assert queued.make_by == date(2026, 12, 4) + timedelta(days=days)
    assert open_one.make_by < first.make_by < queued.make_by
    promises.clock.time = datetime(2027, 3, 1, 12, tzinfo=UTC)
    done = promises.create(ask(quantity=10, spot="27.53"))
    assert done.make_by - date(2027, 3, 4) == first.make_by - date(2026, 12, 4)


def test_a_workshop_without_weekly_hours_promises_no_date(promises):
    promises.change_book(labour={"rate_per_hour": "32.00"})
    assert promises.create().make_by is None


@pytest.mark.parametrize(
    ("zone", "day"), [("Europe/Vienna", 5), ("America/Lima", 4), ("UTC", 4)]
)
def test_a_day_is_the_workshops(promises, zone, day):
    book = replace(promises.books.current(), timezone=zone)
    at = datetime(2026, 12, 4, 23, 30, tzinfo=UTC)
    assert local_date(book, at) == date(2026, 12, day)


def test_the_decimals_of_the_currency_are_kept(promises):
    free = [{**CHANNEL, "fees": [], "shipping": {}, "packaging": "0"}]
    promises.change_book(currency="JPY", channels=free)
    quote = promises.create(ask(spot="4300"), deposit_share=Decimal("0.5"))
    document = promises.quotes.document(quote)
    assert "." not in document["total"] + document["deposit"] + document["fees"]
    assert promises.quotes.get(quote.id) == quote
    renewed = promises.quotes.renew(quote.id, expected=1, spot_price=Decimal(4300))
    named = promises.quotes.document(renewed)["renews"]
    assert named["total"] == document["total"]


def test_a_coin_that_came_with_the_request_is_quoted(promises):
    quote = promises.create(ask(read_coin(INLINE)))
    (coin,) = promises.quotes.document(quote)["coins"]
    assert coin == INLINE
    assert promises.quotes.sheet(quote).pieces[0].coin == INLINE["name"]
    assert promises.spots.current().price == SPOT
