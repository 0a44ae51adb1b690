"""What a run over the listings stands on."""

from __future__ import annotations

import json
from datetime import timedelta
from decimal import Decimal

import pytest

from api.ports import NotFound, SpotUnavailable
from api.services.repricings.price_ground import PriceGrounds
from pricing.errors import InvalidInput
from tests.services.repricing import SHOP_BOOK, Shop


@pytest.fixture
def grounds(shop):
    return PriceGrounds(shop.clock, books=shop.books, spots=shop.spots)


def test_a_given_spot_is_used_and_never_stale(grounds, clock):
    clock.advance(days=30)
    ground = grounds.at(Decimal("29.10"))
    assert ground.spot.price == Decimal("29.10")
    assert json.loads(ground.spot_text()) == {
        "metal": "XAG",
        "price": "29.10",
        "currency": "EUR",
        "as_of": "2026-12-31T12:00:00.000Z",
        "source": "given",
        "age_hours": None,
        "stale": False,
        "fx": None,
        "original_price": None,
        "original_currency": None,
    }


def test_without_one_the_spot_in_force_is_used_and_says_its_age(shop, grounds, clock):
    shop.silver("28.00")
    clock.advance(hours=30)
    told = json.loads(grounds.at(None).spot_text())
    assert (told["price"], told["source"]) == ("28.00", "manual")
    assert (told["age_hours"], told["stale"]) == ("30.0", True)


def test_a_converted_spot_says_by_which_rate(shop, grounds, clock):
    clock.advance(hours=1)
    shop.spots.enter("XAG", Decimal(33), "USD")
    shop.spots.enter("EUR", Decimal("1.10"), "USD")
    told = json.loads(grounds.at(None).spot_text())
    assert told["price"] == "30.00"
    assert (told["original_price"], told["original_currency"]) == ("33.00", "USD")
    assert (told["fx"]["base"], told["fx"]["quote"]) == ("EUR", "USD")
    assert told["fx"]["rate"] == "1.10"
    assert told["fx"]["as_of"] == "2026-12-01T13:00:00.000Z"


def test_where_none_is_in_force_it_says_what_to_do(storage, clock):
    shop = Shop(storage, clock)
    with pytest.raises(NotFound, match="no price book"):
        shop.repricings.preview()
    shop.books.replace(SHOP_BOOK, expected=None)
    grounds = PriceGrounds(clock, books=shop.books, spots=shop.spots)
    ground = grounds.at(None)
    assert ground.spot is None
    assert "fineweight spot set" in ground.missing
    assert ground.spot_text() == "null"
    with pytest.raises(SpotUnavailable):
        grounds.moved(Decimal(5))


@pytest.mark.parametrize(
    ("change", "price"),
    [("10", "30.25"), ("-10", "24.75"), ("0", "27.50"), ("0.0001", "27.50")],
)
def test_a_change_is_of_the_spot_in_force(grounds, change, price):
    assert grounds.moved(Decimal(change)).spot.price == Decimal(price)


def test_a_change_has_to_leave_a_price(grounds):
    with pytest.raises(InvalidInput, match="above -100 %") as refused:
        grounds.moved(Decimal(-100))
    assert refused.value.path == ("change_percent",)


def test_an_expired_spot_is_none(shop, clock):
    shop.spots.enter(
        "XAG", Decimal(99), "EUR", expires_at=clock.now() + timedelta(hours=1)
    )
    grounds = PriceGrounds(clock, books=shop.books, spots=shop.spots)
    assert grounds.in_force().price == 99
    clock.advance(hours=2)
    assert grounds.in_force().price == Decimal("27.50")
