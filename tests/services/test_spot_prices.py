"""Spot prices: the newest unexpired entry holds, and every entry stays."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from decimal import Decimal

import pytest

from api.ports import SpotUnavailable
from api.services import Snapshots, SpotPrices
from pricing.errors import InvalidInput


@pytest.fixture
def spots(storage, clock):
    return SpotPrices(Snapshots(storage, clock), clock)


def enter(spots, price="27.50", **more):
    return spots.enter("XAG", Decimal(price), "EUR", **more)


def test_an_entry_is_in_force_at_once(spots, clock):
    entry = enter(spots, note=" from the refiner ", by="maker")
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
    with pytest.raises(SpotUnavailable, match="fineweight spot set"):
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
def test_only_silver_has_a_spot_price(spots, metal):
    for ask in (
        lambda: spots.enter(metal, Decimal(27), "EUR"),
        lambda: spots.current(metal),
        lambda: spots.history(metal),
    ):
        with pytest.raises(InvalidInput, match="use XAG") as refused:
            ask()
        assert refused.value.path == ("metal",)


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
