"""Which price is in force: a plain rule, the same at any moment."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from api.ports import SpotEntry
from api.services.spot.choice import (
    age_hours,
    fx_rate_of,
    in_force,
    market_age_hours,
    rate_in_force,
    spot_of,
)
from pricing.market_days import MarketCalendar

NOON = datetime(2026, 12, 1, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)


def entry(number, hours=0, source="manual", expires=None, **more):
    given = {"metal": "XAG", "currency": "EUR"} | more
    return SpotEntry(
        id=number,
        price=Decimal(number),
        as_of=NOON + hours * HOUR,
        source=source,
        expires_at=None if expires is None else NOON + expires * HOUR,
        **given,
    )


def chosen(*entries, hours=0):
    found = in_force(entries, NOON + hours * HOUR)
    return found and found.id


def test_of_nothing_nothing_is_in_force():
    assert chosen() is None
    assert chosen(entry(1, expires=1), hours=1) is None


@pytest.mark.parametrize("turned", [False, True])
def test_the_newest_by_its_own_time_is_in_force(turned):
    entries = [entry(1, hours=2, source="a"), entry(2, hours=1, source="b"), entry(3)]
    assert chosen(*(reversed(entries) if turned else entries)) == 1


def test_of_one_moment_the_last_entered_is_in_force():
    assert chosen(entry(2), entry(1), entry(3, source="a")) == 3


def test_a_price_by_hand_that_expires_wins_while_it_lasts():
    by_hand, fetched = entry(1, expires=5), entry(2, hours=2, source="a")
    assert chosen(by_hand, fetched, hours=4) == 1
    assert chosen(by_hand, fetched, hours=5) == 2


def test_a_price_by_hand_without_end_gives_way_to_a_newer_one():
    assert chosen(entry(1), entry(2, hours=-1, source="a")) == 1
    assert chosen(entry(1), entry(2, hours=1, source="a")) == 2


def test_a_later_price_by_hand_replaces_one_that_has_not_expired():
    lasting, expiring = entry(2, hours=1), entry(1, expires=9)
    assert chosen(expiring, lasting, hours=2) == 2
    assert chosen(expiring, lasting, entry(3, hours=2, source="a"), hours=2) == 3
    assert chosen(entry(3, expires=3), entry(2, expires=9)) == 3


def test_a_rate_counts_whichever_of_the_two_it_prices():
    there = entry(1, metal="EUR", currency="USD")
    back = entry(2, hours=1, metal="USD", currency="EUR")
    other = entry(3, hours=2, metal="USD", currency="GBP")
    spots = {"EUR": (there,), "USD": (other, back)}
    assert rate_in_force(spots, "EUR", "USD", now=NOON) is back
    assert rate_in_force(spots, "USD", "EUR", now=NOON) is back
    assert rate_in_force({"EUR": (there,)}, "USD", "EUR", now=NOON) is there
    assert rate_in_force(spots, "EUR", "GBP", now=NOON) is None


def test_an_entry_becomes_a_spot_or_a_rate_with_its_age():
    one = entry(7, metal="EUR", currency="USD", source="rates")
    spot, rate = spot_of(entry(27), NOON + HOUR), fx_rate_of(one, NOON + HOUR / 2)
    assert (spot.price, spot.currency, spot.source) == (27, "EUR", "manual")
    assert (spot.as_of, spot.age_hours) == (NOON, Decimal("1.0"))
    assert (rate.base, rate.quote, rate.rate) == ("EUR", "USD", 7)
    assert (rate.source, rate.as_of, rate.age_hours) == ("rates", NOON, Decimal("0.5"))


def test_what_is_to_come_is_not_old():
    assert age_hours(NOON + HOUR, NOON) == 0


def test_the_market_age_leaves_closed_days_out():
    friday = entry(1, hours=-96, source="a")  # 27 November 2026 is a Friday
    monday = NOON - 24 * HOUR
    assert market_age_hours(friday, MarketCalendar(), monday) == 24


def test_a_price_that_says_when_it_expires_is_not_old_before():
    lasting = entry(1, expires=999)
    assert market_age_hours(lasting, MarketCalendar(), NOON + 900 * HOUR) is None
