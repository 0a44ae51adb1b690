"""The silver in a coin, worn as it is."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from api.services.melt_value import melt_value
from pricing.catalogue import catalogue_coin
from pricing.price_book import CoinBuying
from pricing.spot import Spot

COIN = catalogue_coin("at_50s_1959_1973")
SPOT = Spot(price=Decimal("27.50"), currency="EUR", as_of=None)


def test_it_is_fine_weight_times_spot():
    found = melt_value(COIN, CoinBuying(), SPOT)
    assert abs(found.fine_ozt - Decimal(18) / Decimal("31.1034768")) < Decimal("1e-20")
    assert abs(found.value - Decimal("15.9146195")) < Decimal("1e-6")
    assert "20 g × 0.900 ÷ 31.1035" in found.how


def test_wear_counts_and_the_coins_own_goes_first():
    worn = melt_value(COIN, CoinBuying(wear=Decimal("0.01")), SPOT)
    own = melt_value(replace(COIN, wear=Decimal("0.02")), CoinBuying(), SPOT)
    assert worn.how.startswith("19.8 g")
    assert own.how.startswith("19.6 g")


def test_what_was_paid_does_not_count():
    bought = CoinBuying(basis="paid", premium=Decimal("0.5"), extra=Decimal(9))
    paid = replace(COIN, paid=Decimal(99))
    assert (
        melt_value(paid, bought, SPOT).value
        == melt_value(COIN, CoinBuying(), SPOT).value
    )


def test_without_a_spot_there_is_the_fine_weight_alone():
    assert melt_value(COIN, CoinBuying(), None).value is None


def test_base_metal_has_none():
    assert melt_value(catalogue_coin("us_5c_cuni"), CoinBuying(), SPOT) is None
