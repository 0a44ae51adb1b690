"""Spot prices: the newest unexpired entry holds, and every entry stays."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from decimal import Decimal

import pytest

from api.ports import Conflict, NotFound, SpotUnavailable
from api.services import Snapshots, SpotPrices
from api.services.actor import acting
from pricing.errors import InvalidInput
from pricing.price_book import read_price_book
from tests.services.feeding import ASSAY, MAKER, RATES, reading

HOUR = timedelta(hours=1)


@pytest.fixture
def spots(storage, clock):
    return SpotPrices(Snapshots(storage, clock), clock)


def enter(spots, price="27.50", **more):
    return spots.enter("XAG", Decimal(price), "EUR", **more)


def test_an_entry_is_in_force_at_once(spots, clock):
    with acting(MAKER):
        entry = enter(spots, note=" from the refiner ")
    assert (entry.source, entry.note, entry.by) == (
        "manual",
        "from the refiner",
        "maker",
    )
    assert (entry.as_of, entry.expires_at) == (clock.now(), None)
    current = spots.current()
    assert (current.metal, current.price, current.currency) == (
        "XAG",
        Decimal("27.50"),
        "EUR",
    )
    assert (current.as_of, current.source) == (clock.now(), "manual")
    assert spots.current_entry() == entry


@pytest.mark.parametrize(
    ("passed", "age"),
    [
        ({}, "0.0"),
        ({"minutes": 90}, "1.5"),
        ({"seconds": 179}, "0.0"),
        ({"minutes": 3}, "0.1"),
        ({"days": 3, "minutes": 6}, "72.1"),
        ({"minutes": -5}, "0.0"),
    ],
)
def test_the_age_is_by_the_clock(spots, clock, passed, age):
    enter(spots)
    clock.advance(**passed)
    assert str(spots.current().age_hours) == age


def test_the_newest_entry_holds(spots):
    enter(spots, "27.50")
    enter(spots, "28.25")
    assert spots.current().price == Decimal("28.25")


def test_an_expired_entry_gives_way_to_the_one_before(spots, clock):
    enter(spots, "27.50")
    enter(spots, "30", expires_at=clock.now() + timedelta(hours=2))
    enter(spots, "40", expires_at=clock.now() + timedelta(hours=1))
    seen = []
    for _ in range(3):
        seen.append(int(spots.current().price))
        clock.advance(hours=1)
    assert seen == [40, 30, 27]


def test_with_nothing_in_force_it_is_said_how_to_enter_a_price(spots, clock):
    with pytest.raises(SpotUnavailable, match="fineweight spot fetch"):
        spots.current()
    enter(spots, expires_at=clock.now() + timedelta(hours=1))
    clock.advance(hours=1)
    with pytest.raises(SpotUnavailable, match="fineweight spot set"):
        spots.current()


@pytest.mark.parametrize("price", ["0.000000001", "999999999.999999999", "1"])
def test_any_price_above_nought_is_taken(spots, price):
    enter(spots, price)
    assert spots.current().price == Decimal(price)


@pytest.mark.parametrize(
    "price", ["0", "-1", "-0.000001", "1000000000", "1.0000000001", "NaN", "Infinity"]
)
def test_a_price_that_cannot_be_is_refused(spots, price):
    with pytest.raises(InvalidInput) as refused:
        enter(spots, price)
    assert refused.value.path == ("price",)
    assert spots.history() == ()


@pytest.mark.parametrize("currency", ["XAG", "eur", "EURO", ""])
def test_a_currency_nothing_is_sold_in_is_refused(spots, currency):
    with pytest.raises(InvalidInput) as refused:
        spots.enter("XAG", Decimal(27), currency)
    assert refused.value.path == ("currency",)


@pytest.mark.parametrize("metal", ["XAU", "base", "", "x" * 99])
def test_only_silver_and_currencies_have_a_price(spots, metal):
    for ask in (
        lambda: spots.enter(metal, Decimal(27), "EUR"),
        lambda: spots.current(metal),
        lambda: spots.history(metal),
    ):
        with pytest.raises(InvalidInput, match="use XAG") as refused:
            ask()
        assert refused.value.path == ("metal",)


def test_a_currency_is_not_priced_in_itself(spots):
    with pytest.raises(InvalidInput, match="one EUR is one EUR") as refused:
        spots.enter("EUR", Decimal(1), "EUR")
    assert refused.value.path == ("currency",)


def test_exchange_rates_are_kept_beside_silver(spots):
    enter(spots)
    spots.enter("EUR", Decimal("1.0853"), "USD")
    assert spots.current("EUR").price == Decimal("1.0853")
    assert spots.current().price == Decimal("27.50")
    assert [entry.metal for entry in spots.history("EUR")] == ["EUR"]


def test_an_entry_cannot_expire_before_it_holds(spots, clock):
    for moment in (clock.now(), clock.now() - timedelta(hours=1)):
        with pytest.raises(InvalidInput, match="later instant") as refused:
            enter(spots, expires_at=moment)
        assert refused.value.path == ("expires_at",)


def test_an_expiry_needs_an_offset(spots):
    with pytest.raises(InvalidInput, match="offset from UTC"):
        enter(spots, expires_at=datetime(2027, 1, 1))  # noqa: DTZ001


def test_an_expiry_in_another_zone_is_the_same_instant(spots, clock):
    there = timezone(timedelta(hours=5))
    enter(spots, expires_at=(clock.now() + timedelta(hours=1)).astimezone(there))
    assert spots.current()
    clock.advance(hours=1)
    with pytest.raises(SpotUnavailable):
        spots.current()


def test_a_note_is_one_plain_line(spots):
    with pytest.raises(InvalidInput) as refused:
        enter(spots, note="x" * 201)
    assert refused.value.path == ("note",)


def test_history_is_paged_from_the_newest(spots):
    ids = [enter(spots, str(price)).id for price in range(1, 8)]
    assert ids == sorted(ids)
    seen, before = [], None
    while page := spots.history(limit=3, before=before):
        assert len(page) <= 3
        seen += [int(entry.price) for entry in page]
        before = page[-1].id
    assert seen == [7, 6, 5, 4, 3, 2, 1]


def test_entries_made_while_paging_do_not_shift_the_pages(spots):
    for price in range(1, 5):
        enter(spots, str(price))
    first = spots.history(limit=2)
    enter(spots, "99")
    second = spots.history(limit=2, before=first[-1].id)
    assert [int(entry.price) for entry in (*first, *second)] == [4, 3, 2, 1]


def test_a_page_begins_wherever_it_is_asked_to(spots):
    enter(spots)
    assert len(spots.history(before=10**30)) == 1
    assert spots.history(before=0) == spots.history(before=-5) == ()


@pytest.mark.parametrize("limit", [0, -1, 1001])
def test_a_page_has_a_size(spots, limit):
    with pytest.raises(InvalidInput) as refused:
        spots.history(limit=limit)
    assert refused.value.path == ("limit",)


@pytest.mark.parametrize("status", ["accepted", "held", "rejected"])
def test_history_can_be_of_one_status(fetchery, clock, status):
    fetchery.fetch(reading("27.50"))
    for price in ("31", "32"):
        clock.advance(hours=24)
        fetchery.fetch(reading(price, clock.now()))
    fetchery.spots.reject(2)
    found = fetchery.spots.history(status=status)
    assert [entry.status for entry in found] == [status]


def test_an_unknown_status_is_refused(spots):
    with pytest.raises(InvalidInput, match="accepted, held, rejected"):
        spots.history(status="perhaps")


@pytest.mark.parametrize("number", [0, 7, 10**30])
def test_a_price_that_is_not_there_is_not_decided(spots, number):
    for decide in (spots.accept, spots.reject):
        with pytest.raises(NotFound, match=str(number)):
            decide(number)


def test_where_fetching_is_not_set_up_it_is_said(spots):
    with pytest.raises(Conflict, match="by hand"):
        spots.fetch()


def test_when_a_price_by_hand_expires_the_fetched_one_has_the_word_again(
    fetchery, clock
):
    fetchery.fetch(reading("27.50", clock.now() - HOUR))
    fetchery.spots.enter("XAG", Decimal(30), "EUR", expires_at=clock.now() + 3 * HOUR)
    fetchery.fetch(reading("27.80", clock.now() - HOUR / 2))
    seen = []
    for _ in range(4):
        current = fetchery.spots.current()
        seen.append((str(current.price), current.source))
        clock.advance(hours=1)
    assert seen == [("30.00", "manual")] * 3 + [("27.80", "assay")]


def test_a_price_by_hand_without_end_lasts_until_a_newer_one_is_fetched(
    fetchery, clock
):
    fetchery.spots.enter("XAG", Decimal("27.50"), "EUR")
    fetchery.fetch(reading("27.40", clock.now() - HOUR))
    assert fetchery.spots.current().source == "manual"
    clock.advance(hours=1)
    fetchery.fetch(reading("27.60", clock.now()))
    assert fetchery.spots.current().source == "assay"


@pytest.fixture
def book(book_document):
    return read_price_book(book_document)


def test_a_spot_in_the_books_currency_is_taken_as_it_is(spots, book):
    enter(spots)
    spot = spots.current_for(book)
    assert spot == spots.current()
    assert spot.fx is None


@pytest.mark.parametrize("given", [("EUR", "1.25", "USD"), ("USD", "0.8", "EUR")])
def test_a_spot_is_converted_by_the_rate_of_either_direction(spots, book, clock, given):
    metal, rate, currency = given
    spots.enter("XAG", Decimal(30), "USD")
    clock.advance(minutes=30)
    spots.enter(metal, Decimal(rate), currency, note="the bank's")
    clock.advance(hours=1)
    spot = spots.current_for(book)
    assert (spot.price, spot.currency) == (Decimal(24), "EUR")
    assert (spot.original_price, spot.original_currency) == (Decimal(30), "USD")
    assert spot.age_hours == Decimal("1.5")
    assert (spot.fx.base, spot.fx.quote, spot.fx.rate) == (
        metal,
        currency,
        Decimal(rate),
    )
    assert (spot.fx.source, spot.fx.age_hours) == ("manual", Decimal("1.0"))


def test_the_newest_rate_of_both_directions_counts(spots, book, clock):
    spots.enter("XAG", Decimal(30), "USD")
    spots.enter("EUR", Decimal("1.25"), "USD")
    clock.advance(hours=1)
    spots.enter("USD", Decimal("0.9"), "EUR")
    assert spots.current_for(book).price == Decimal(27)


def test_without_a_rate_it_is_said_what_to_enter(spots, book):
    spots.enter("XAG", Decimal(30), "USD")
    spots.enter("EUR", Decimal("0.86"), "GBP")
    with pytest.raises(SpotUnavailable, match="enter a price of USD in EUR"):
        spots.current_for(book)


def test_reference_rates_convert_a_fetched_spot(fetchery, book):
    fetchery.set_up("bank", RATES)
    fetchery.set_up("dollars", {**ASSAY, "currency": "USD"})
    fetchery.fetch(reading("30", currency="USD"), key="dollars")
    fetchery.source.say(reading("1.2", currency="USD"), reading("160", currency="JPY"))
    fetchery.spots.fetch("bank")
    spot = fetchery.spots.current_for(book)
    assert (spot.price, spot.source, spot.fx.source) == (25, "dollars", "bank")


def test_ages_are_of_open_market_and_of_each_source(fetchery, book, clock):
    zone = {"path": "/at", "zone": "America/New_York"}
    dollars = {**ASSAY, "currency": "USD", "time": zone, "closed_dates": ["2026-12-02"]}
    fetchery.set_up("dollars", dollars)
    fetchery.fetch(reading("30", currency="USD"), key="dollars")
    fetchery.spots.enter("EUR", Decimal("1.2"), "USD")
    clock.advance(days=2)
    market = fetchery.spots.quoted(book).market
    assert (market.spot_hours, market.rate_hours) == (24, 48)
    assert market.daily == (Decimal(30),)


def test_a_price_or_rate_that_says_when_it_expires_is_not_old(spots, book, clock):
    later = clock.now() + timedelta(days=90)
    spots.enter("XAG", Decimal(30), "USD", expires_at=later)
    spots.enter("EUR", Decimal("1.2"), "USD", expires_at=later)
    clock.advance(days=80)
    market = spots.quoted(book).market
    assert (market.spot_hours, market.rate_hours) == (None, None)


def test_a_quote_in_a_held_request_asks_the_database_once(
    spots, book, storage, monkeypatch
):
    spots.enter("XAG", Decimal(30), "USD")
    spots.enter("EUR", Decimal("1.2"), "USD")
    spots.quoted(book)
    asked = []
    revisions = storage.revisions
    monkeypatch.setattr(storage, "revisions", lambda: asked.append(1) or revisions())
    monkeypatch.setattr(storage, "read", None)
    spots.quoted(book)
    assert asked == [1]
