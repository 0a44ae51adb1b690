"""Prices of published rings: those of the bands, and nothing in between."""

from __future__ import annotations

from dataclasses import fields
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from api.ports import NotFound, SizeNotOffered
from api.services.window.prices import HOLDS_FOR, WindowPrice
from pricing.errors import InvalidInput
from tests.services.promising import BOOK, CHANNEL, Promises
from tests.services.selling import band
from tests.services.windowing import Storefront

ON_TOP = {"key": "fair", "tax": {"rate": "0.20", "inclusive": False}}


@pytest.fixture
def store(promises):
    made = Storefront(promises)
    made.publish(band(), band("10", "12", "200"))
    return made


def test_the_members_that_are_shown_are_these_and_no_others():
    assert {field.name for field in fields(WindowPrice)} == {
        "sku",
        "title",
        "size",
        "quantity",
        "unit_price",
        "total",
        "tax",
        "tax_included",
        "currency",
        "valid_until",
        "availability",
        "cautions",
    }


def test_a_price_is_that_of_the_band(store):
    price = store.price("8")
    assert (price.sku, price.title, price.quantity) == ("ring-1", "A band ring", 1)
    assert (price.size.system, price.size.size) == ("us", "8")
    assert (price.unit_price, price.total) == (Decimal("189.95"), Decimal("189.95"))
    assert (price.tax, price.tax_included) == (Decimal("31.66"), True)
    assert (price.currency, price.availability) == ("EUR", "made_to_order")
    assert [each.code for each in price.cautions] == ["metal_silver", "wide_band"]


SIZES = {
    "a US size": ("us", "10", "200.00"),
    "a UK letter": ("uk", "L", "189.95"),
    "a UK half": ("uk", "T 1/2", "200.00"),
    "an ISO mark": ("iso", "54", "189.95"),
    "a Japanese number": ("jp", "14", "189.95"),
    "a Swiss number": ("ch", "22", "200.00"),
    "a diameter": ("diameter_mm", "17.3", "189.95"),
    "a circumference": ("circumference_mm", "62", "200.00"),
    "the smallest": ("us", "5", "189.95"),
    "the largest": ("us", "12", "200.00"),
    "a little under the smallest": ("us", "4.88", "189.95"),
    "a little over a band": ("us", "9.62", "189.95"),
    "a little under the next": ("us", "9.88", "200.00"),
}


@pytest.mark.parametrize(("system", "size", "price"), SIZES.values(), ids=SIZES)
def test_a_size_of_any_system_falls_into_a_band_at_its_nearest_quarter(
    store, system, size, price
):
    assert str(store.price(size, system=system).unit_price) == price


@pytest.mark.parametrize("size", ["4.5", "4.87", "9.75", "12.25", "16", "0"])
def test_a_size_in_no_band_is_refused_and_told_what_there_is(store, size):
    with pytest.raises(SizeNotOffered) as refused:
        store.price(size)
    assert refused.value.message == (
        f"US {size} is not offered; this ring comes in US 5 to 9.5, US 10 to 12"
    )
    assert refused.value.path == ("size", "size")


def test_a_band_of_one_size_is_named_by_it(store):
    store.publish(band("7", "7"), sku="one")
    with pytest.raises(SizeNotOffered, match=r"comes in US 7$"):
        store.price("8", sku="one")


def test_quantity_multiplies_and_the_tax_is_rounded_once(store):
    price = store.price("8", quantity=3)
    assert (price.unit_price, price.total) == (Decimal("189.95"), Decimal("569.85"))
    assert price.tax == Decimal("94.98")  # 569.85 / 6 = 94.975


def test_tax_on_top_is_told_beside_the_total(store):
    store.promises.change_book(channels=[CHANNEL, ON_TOP])
    store.publish(band(price="100.01"), sku="top", channel="fair")
    price = store.price("8", sku="top", quantity=2)
    assert (price.total, price.tax) == (Decimal("200.02"), Decimal("40.00"))
    assert not price.tax_included


def test_a_channel_without_tax_has_none(store):
    store.publish(sku="free", channel="fair")
    assert store.price(sku="free").tax == 0


@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(18, 50), st.integers(1, 100))
def test_asking_for_every_size_and_quantity_tells_the_steps_alone(
    store, quarters, quantity
):
    us = Decimal(quarters) / 4
    expected = {
        us <= Decimal("9.5"): Decimal("189.95"),
        us >= 10: Decimal(200),
    }.get(True)
    if expected is None or us < 5 or us > 12:
        with pytest.raises(SizeNotOffered):
            store.price(f"{us:f}", quantity=quantity)
        return
    price = store.price(f"{us:f}", quantity=quantity)
    assert price.unit_price == expected
    assert price.total == quantity * expected


def test_a_listing_that_is_not_shown_has_no_price(store):
    store.create(sku="hidden")
    for sku in ("hidden", "nothing"):
        with pytest.raises(NotFound, match=f"there is no listing '{sku}'"):
            store.price(sku=sku)


def test_a_quantity_of_none_is_refused(store):
    with pytest.raises(InvalidInput):
        store.price(quantity=0)


# Until when it is good


def test_a_price_is_good_for_a_quarter_of_an_hour_to_the_minute(store, clock):
    clock.time = datetime(2026, 12, 1, 12, 3, 41, 5, tzinfo=UTC)
    assert store.price().valid_until == datetime(2026, 12, 1, 12, 18, tzinfo=UTC)


@pytest.mark.parametrize(
    ("ends", "until"),
    [
        (timedelta(minutes=7, seconds=30), timedelta(minutes=7)),
        (timedelta(seconds=20), timedelta(seconds=20)),
        (timedelta(hours=5), HOLDS_FOR),
    ],
)
def test_it_is_never_good_for_longer_than_the_price_of_silver(
    store, clock, ends, until
):
    now = clock.now()
    store.promises.spots.enter("XAG", Decimal(28), "EUR", expires_at=now + ends)
    assert store.price().valid_until == now + until
    clock.advance(seconds=ends.total_seconds())
    assert store.price().valid_until == (now + ends + HOLDS_FOR).replace(second=0)


def test_without_any_price_of_silver_what_is_shown_is_shown(storage, clock):
    bare = Promises(storage, clock)
    bare.books.replace(BOOK, expected=None)
    store = Storefront(bare)
    store.publish()
    assert store.price().valid_until == clock.now() + HOLDS_FOR


def test_a_price_asked_for_again_is_the_same_until_something_changes(store, clock):
    first = store.price("8")
    assert store.price("8") is first
    assert store.price("8", quantity=2) is not first
    clock.advance(seconds=60)
    later = store.price("8")
    assert later.valid_until > first.valid_until
    assert later.unit_price == first.unit_price
    store.publish(sku="ring-2")  # another listing; nothing is kept of before
    again = store.price("8")
    assert again == later
    assert again is not later


def test_the_prices_that_are_kept_are_bounded(store, monkeypatch):
    monkeypatch.setattr("api.services.window.prices.MOST_KEPT", 2)
    for quantity in range(1, 6):
        assert store.price("8", quantity=quantity).quantity == quantity
        assert len(store.window_prices._kept) <= 2
