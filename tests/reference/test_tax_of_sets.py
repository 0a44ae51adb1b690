"""The published examples of value added tax, with the price cut into many lines.

Tax is worked once on an order, so a set that comes to the price of an example has
its tax, though the taxes of its lines, each rounded, add up to something else.
"""

from decimal import Decimal

import pytest

from pricing import price_book as pb
from pricing.money import currency
from pricing.order import prepare_order
from tests.oracles.workshops import base_coin, book, policy, wish


def sold(lines: int, price: str, rate: str, *, inclusive: bool):
    """An order of so many lines of one piece at a price, with nothing but the tax."""
    channel = pb.Channel(
        key="shop", tax=pb.Tax(rate=Decimal(rate), inclusive=inclusive)
    )
    shop = book(
        currency=currency("GBP"),
        recovery=pb.Recovery(),
        channels=(channel,),
        policies=(policy(min_price=price),),
    )
    return prepare_order(shop, [(base_coin(), wish())] * lines).at(None)


def taxes(order):
    return sum(line.price.sale.tax for line in order.lines)


@pytest.mark.parametrize(
    ("set_of", "rate", "tax", "gross", "one_by_one"),
    [
        # J1, J2: HM Revenue & Customs, calculating VAT for VAT-exclusive prices.
        ((40, "2.50"), "0.20", "20", "120", "20.00"),  # 0.50 each, exact
        ((40, "2.50"), "0.05", "5", "105", "5.20"),  # 0.125 each
    ],
)
def test_tax_on_top_of_a_set(set_of, rate, tax, gross, one_by_one):
    order = sold(*set_of, rate, inclusive=False)
    assert (order.goods, order.net) == (Decimal(100), Decimal(100))
    assert (order.tax, order.total) == (Decimal(tax), Decimal(gross))
    assert taxes(order) == Decimal(one_by_one)


@pytest.mark.parametrize(
    ("set_of", "rate", "gross", "tax", "one_by_one"),
    [
        # J3, J4: Accounting Services for Business, VAT rates and fractions (1/6, 3/23).
        ((48, "2.50"), "0.20", "120", "20.00", "20.16"),  # 0.4167 each
        ((46, "2.50"), "0.15", "115", "15.00", "15.18"),  # 0.3261 each
        # J5: bookkeepers.org.uk, VAT fraction 7/47
        ((47, "5.00"), "0.175", "235", "35.00", "34.78"),  # 0.7447 each
        # J6: itsrelative.co.uk, VAT fraction 1/21
        ((50, "1.60"), "0.05", "80", "3.81", "4.00"),  # 0.0762 each
    ],
)
def test_tax_within_a_set(set_of, rate, gross, tax, one_by_one):
    order = sold(*set_of, rate, inclusive=True)
    assert order.goods == order.total == Decimal(gross)
    assert order.tax == Decimal(tax)
    assert order.net == Decimal(gross) - Decimal(tax)
    assert taxes(order) == Decimal(one_by_one)
