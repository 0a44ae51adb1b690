"""Rates between currencies, direct or by way of a third."""

from __future__ import annotations

from collections import defaultdict
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from api.ports import SpotEntry
from api.services.spot.exchange_rates import exchange

NOON = datetime(2026, 12, 1, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)


def spots(*rates):
    found = defaultdict(tuple)
    for number, (metal, price, currency, hours, source) in enumerate(rates, 1):
        entry = SpotEntry(
            id=number,
            metal=metal,
            price=Decimal(price),
            currency=currency,
            as_of=NOON - hours * HOUR,
            source=source,
        )
        found[metal] += (entry,)
    return found


REFERENCE = (
    ("EUR", "1.2", "USD", 1, "bank"),
    ("EUR", "0.9", "GBP", 2, "bank"),
    ("XAG", "30", "USD", 0, "assay"),
)


def test_a_recorded_rate_is_taken_as_it_was_recorded():
    found = exchange(spots(*REFERENCE), "USD", "EUR", now=NOON)
    assert (found.rate.base, found.rate.quote) == ("EUR", "USD")
    assert found.rate.rate == Decimal("1.2")
    assert [leg.id for leg in found.legs] == [1]


@pytest.mark.parametrize("asked", [("USD", "GBP"), ("GBP", "USD")])
def test_two_currencies_of_one_file_have_a_rate_by_way_of_its_own(asked):
    found = exchange(spots(*REFERENCE), *asked, now=NOON)
    assert (found.rate.base, found.rate.quote) == ("GBP", "USD")
    assert found.rate.rate == Decimal("1.333333333")  # 1.2 over 0.9
    assert (found.rate.source, found.rate.as_of) == ("bank", NOON - 2 * HOUR)
    assert found.rate.age_hours == 2
    assert {leg.id for leg in found.legs} == {1, 2}


def test_a_recorded_rate_goes_before_one_by_way_of_a_third_however_old():
    rates = spots(*REFERENCE, ("GBP", "1.25", "USD", 99, "manual"))
    assert exchange(rates, "USD", "GBP", now=NOON).rate.rate == Decimal("1.25")


def test_the_way_with_the_newest_older_leg_is_taken():
    by_francs = (
        ("CHF", "1.1", "USD", 1, "manual"),
        ("GBP", "1.1", "CHF", Decimal("1.5"), "other"),
    )
    later = [(m, p, c, int(h), s) for m, p, c, h, s in by_francs]
    found = exchange(spots(*REFERENCE, *later), "GBP", "USD", now=NOON)
    assert found.rate.rate == Decimal("1.21")
    assert found.rate.source == "other, manual"


def test_silver_is_no_way_from_currency_to_currency():
    dealers = (("XAG", "30", "USD", 0, "a"), ("XAG", "25", "EUR", 0, "b"))
    assert exchange(spots(*dealers), "USD", "EUR", now=NOON) is None


def test_where_there_is_no_way_there_is_no_rate():
    assert exchange(spots(*REFERENCE), "USD", "JPY", now=NOON) is None
    assert exchange({}, "USD", "EUR", now=NOON) is None


def test_a_small_rate_keeps_its_figures():
    tiny = (("EUR", "27000", "VND", 0, "bank"), ("EUR", "0.33", "KWD", 0, "bank"))
    rate = exchange(spots(*tiny), "VND", "KWD", now=NOON).rate
    assert (rate.base, rate.quote) == ("KWD", "VND")
    assert rate.rate == Decimal("81818.181818182")
