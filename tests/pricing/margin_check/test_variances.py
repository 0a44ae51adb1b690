from decimal import Decimal

import pytest

from pricing.margin_check.variances import (
    MixedInput,
    efficiency_variance,
    mix_variance,
    price_variance,
    quantity_variance,
    rate_variance,
    yield_variance,
)

D = Decimal
COINS = (MixedInput(quantity=D(10), share=D(1), price=D(25)),)


def test_price_and_quantity_make_the_whole_difference():
    price = price_variance(
        actual_price=D("27.10"), standard_price=D(25), actual_quantity=D(3)
    )
    quantity = quantity_variance(
        actual_quantity=D(3), standard_quantity=D("2.4"), standard_price=D(25)
    )
    assert price + quantity == D("2.4") * 25 - 3 * D("27.10")


def test_rate_and_efficiency_make_the_whole_difference():
    rate = rate_variance(actual_rate=D(34), standard_rate=D(32), actual_hours=D("1.5"))
    efficiency = efficiency_variance(
        actual_hours=D("1.5"), standard_hours=D(1), standard_rate=D(32)
    )
    assert (rate, efficiency) == (-3, -16)
    assert rate + efficiency == 32 - D("1.5") * 34


def test_one_input_has_no_mix_and_its_yield_is_spoilage():
    # 10 coins for 8 good rings where 9 were to come of them: one ring of 250 ÷ 9
    assert mix_variance(COINS) == 0
    lost = yield_variance(COINS, output=D(8), standard_yield=D("0.9"))
    assert lost == pytest.approx(D(-250) / 9)
    assert yield_variance(COINS, output=D(9), standard_yield=D("0.9")) == 0


def test_mix_is_what_the_dearer_share_cost():
    inputs = (
        MixedInput(quantity=D(6), share=D("0.5"), price=D(8)),
        MixedInput(quantity=D(4), share=D("0.5"), price=D(5)),
    )
    assert mix_variance(inputs) == -3
