from __future__ import annotations

from decimal import Decimal

import pytest

from pricing.money import currency
from pricing.own_coin import own_coin_risk

EUR = currency("EUR")


def test_the_chance_of_losing_the_coin_is_what_is_left_of_a_good_one():
    risk = own_coin_risk(Decimal("0.905537"), Decimal(40), currency=EUR)
    assert risk.chance_lost == Decimal("0.094463")
    assert risk.compensation == Decimal(40)
    assert risk.text.startswith("About 9 in 100 coins fail")
    assert "40.00 EUR are agreed" in risk.text


def test_without_compensation_it_says_that_nothing_is_agreed():
    risk = own_coin_risk(Decimal("0.9"), Decimal(0), currency=EUR)
    assert "nothing is agreed if it is lost" in risk.text


@pytest.mark.parametrize("good", ["0.996", "1"])
def test_a_small_chance_is_never_told_as_none(good):
    risk = own_coin_risk(Decimal(good), Decimal(1), currency=EUR)
    assert risk.text.startswith("Fewer than 1 in 100 coins fail")
