"""What is told about a typed price before it counts."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from api.ports import SpotEntry
from api.services.spot.second_look import doubts
from tests.services.feeding import NOON

LAST = SpotEntry(
    metal="XAG", price=Decimal("27.50"), currency="EUR", as_of=NOON, source="manual"
)


@pytest.mark.parametrize("price", ["27.50", "25.30", "29.70"])
def test_a_usual_change_passes(price):
    assert doubts(Decimal(price), LAST) == ()


@pytest.mark.parametrize(
    ("price", "said"),
    [
        ("29.71", "29.71 EUR is 8.0 % above the 27.50 in force; a change of"),
        ("20", "20.00 EUR is 27.3 % below the 27.50 in force"),
        ("0.88", "looks like a price per gram read as one per troy ounce"),
        ("884", "looks like a price per kilogram read as one per troy ounce"),
        ("2750", "in hundredths"),
    ],
)
def test_a_strange_one_is_told_of(price, said):
    [told] = doubts(Decimal(price), LAST)
    assert said in told


def test_what_is_no_price_is_left_to_whoever_refuses_it():
    assert doubts(Decimal(-1), LAST) == ()
    assert doubts(Decimal(5), replace(LAST, price=Decimal(0))) == ()
