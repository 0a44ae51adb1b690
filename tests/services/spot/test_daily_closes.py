"""One price a market day, out of the accepted history."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from api.ports import SpotUnavailable
from pricing.errors import InvalidInput
from tests.services.feeding import NOON, Fetchery, reading


@pytest.fixture
def spots(storage, clock):
    return Fetchery(storage, clock).spots


def enter_daily(spots, clock, days, currency="EUR"):
    for day in range(days):
        spots.enter("XAG", Decimal(20 + day), currency)
        clock.advance(days=1)


def test_closed_days_have_no_close(spots, clock):
    enter_daily(spots, clock, 7)  # Tuesday to Monday
    found = spots.daily(currency="EUR")
    assert [int(price) for price in found] == [20, 21, 22, 23, 26]


def test_the_last_price_of_a_day_is_its_close(spots, clock):
    for price in ("27.10", "27.30", "27.20"):
        spots.enter("XAG", Decimal(price), "EUR")
        clock.advance(minutes=1)
    assert spots.daily() == (Decimal("27.20"),)


def test_prices_of_another_currency_are_left_out(spots, clock):
    enter_daily(spots, clock, 2, "USD")
    enter_daily(spots, clock, 1)
    assert spots.daily() == (Decimal(20),)
    assert [int(price) for price in spots.daily(currency="USD")] == [20, 21]


def test_so_many_days_back_and_no_further(spots, clock):
    enter_daily(spots, clock, 3)
    clock.advance(days=-1)
    assert [int(price) for price in spots.daily(days=1)] == [21, 22]
    assert len(spots.daily(days=2)) == 3


def test_held_prices_are_left_out(fetchery, clock):
    fetchery.fetch(reading("27.50"))
    clock.advance(hours=24)
    fetchery.fetch(reading("31", clock.now()))
    assert fetchery.spots.daily() == (Decimal("27.50"),)
    fetchery.spots.accept(2)
    assert fetchery.spots.daily() == (Decimal("27.50"), Decimal(31))


def test_what_was_worked_out_is_kept_until_something_changes(spots, clock):
    enter_daily(spots, clock, 2)
    found = spots.daily()
    assert spots.daily() is found
    assert spots.daily(days=89) is not found
    spots.enter("XAG", Decimal(30), "EUR")
    assert len(spots.daily()) == 3


def test_a_day_long_ago_is_forgotten(spots, clock):
    enter_daily(spots, clock, 1)
    clock.time = NOON + timedelta(days=181)
    spots.enter("XAG", Decimal(30), "EUR")
    assert spots.daily(days=180) == (Decimal(30),)


@pytest.mark.parametrize(
    ("asked", "path"),
    [
        ({"days": 0}, "days"),
        ({"days": 181}, "days"),
        ({"metal": "EUR"}, "metal"),
    ],
)
def test_days_that_are_not_kept_are_refused(spots, asked, path):
    with pytest.raises(InvalidInput, match="ask for 1 to 180 days of XAG") as refused:
        spots.daily(currency="EUR", **asked)
    assert refused.value.path == (path,)


def test_without_a_price_there_is_no_currency_to_take(spots):
    assert spots.daily(currency="EUR") == ()
    with pytest.raises(SpotUnavailable):
        spots.daily()
