"""What a person may enter a price of, and in what."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from api.ports import SpotEntry
from api.services.spot.manual_price import manual_entry, priced_thing
from pricing.errors import InvalidInput

NOON = datetime(2026, 12, 1, 12, tzinfo=UTC)


def entry(**given):
    usual = {
        "metal": "XAG",
        "price": Decimal("27.50"),
        "currency": "EUR",
        "as_of": NOON,
        "source": "manual",
    }
    return SpotEntry(**usual | given)


@pytest.mark.parametrize("name", ["XAG", "EUR", "JPY"])
def test_silver_and_every_currency_can_have_a_price(name):
    assert priced_thing(name) == name


@pytest.mark.parametrize("name", ["XAU", "base", "", "eur", "x" * 99])
def test_nothing_else_has_one(name):
    with pytest.raises(InvalidInput, match="use XAG for silver") as refused:
        priced_thing(name)
    assert refused.value.path == ("metal",)


def test_an_entry_is_recorded_when_it_is_made():
    made = manual_entry(entry(note=" board ", expires_at=NOON + timedelta(hours=1)))
    assert (made.recorded_at, made.note, made.status) == (NOON, "board", "accepted")


@pytest.mark.parametrize(
    ("given", "path"),
    [
        ({"metal": "XAU"}, "metal"),
        ({"metal": "EUR"}, "currency"),
        ({"currency": "XAG"}, "currency"),
        ({"price": Decimal(0)}, "price"),
        ({"price": Decimal("0.0000000001")}, "price"),
        ({"note": "two\nlines"}, "note"),
        ({"expires_at": NOON}, "expires_at"),
        ({"expires_at": datetime(2027, 1, 1)}, "expires_at"),  # noqa: DTZ001
    ],
)
def test_an_entry_that_cannot_be_is_pointed_at(given, path):
    with pytest.raises(InvalidInput) as refused:
        manual_entry(entry(**given))
    assert refused.value.path == (path,)
