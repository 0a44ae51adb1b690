"""Value added tax in and on top of prices against published examples."""

from decimal import Decimal

import pytest

from pricing.money import arithmetic, currency
from pricing.price import CostFigures, SaleTerms, sale_at
from pricing.price_book import Channel, Tax

NOTHING = CostFigures(
    per_piece=Decimal(0), labour=Decimal(0), attended_minutes=Decimal(0), by_kind={}
)


@pytest.fixture(autouse=True)
def _fixed_arithmetic():
    with arithmetic():
        yield


def sold(price: str, rate: str, *, inclusive: bool):
    tax = Tax(rate=Decimal(rate), inclusive=inclusive)
    terms = SaleTerms(
        channel=Channel(key="shop", tax=tax), currency=currency("GBP"), quantity=1
    )
    return sale_at(Decimal(price), terms=terms, cost=NOTHING)


# J1, J2: HM Revenue & Customs, calculating VAT for VAT-exclusive prices.
@pytest.mark.parametrize(
    ("net", "rate", "tax", "gross"),
    [("100", "0.20", "20", "120"), ("100", "0.05", "5", "105")],
)
def test_tax_on_top_of_a_price(net, rate, tax, gross):
    sale = sold(net, rate, inclusive=False)
    assert (sale.net, sale.tax) == (Decimal(net), Decimal(tax))
    assert sale.charged == Decimal(gross)


@pytest.mark.parametrize(
    ("gross", "rate", "tax"),
    [
        # J3, J4: Accounting Services for Business, VAT rates and fractions (1/6, 3/23).
        ("120", "0.20", "20.00"),
        ("115", "0.15", "15.00"),
        ("235", "0.175", "35.00"),  # J5: bookkeepers.org.uk, VAT fraction 7/47
        ("80", "0.05", "3.81"),  # J6: itsrelative.co.uk, VAT fraction 1/21
    ],
)
def test_tax_within_a_price(gross, rate, tax):
    sale = sold(gross, rate, inclusive=True)
    assert sale.tax == Decimal(tax)
    assert sale.net == Decimal(gross) - Decimal(tax)
    assert sale.charged == Decimal(gross)
