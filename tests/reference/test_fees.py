"""Prices that keep an amount after payment fees, against published examples."""

from decimal import Decimal

import pytest

from pricing.money import arithmetic, currency
from pricing.price import CostFigures, SaleTerms, decide_price, sale_at
from pricing.price_book import Channel, Fee, Policy, Shipping, Tax

KEEP_A_HUNDRED = CostFigures(
    per_piece=Decimal("100.00"),
    labour=Decimal(0),
    attended_minutes=Decimal(0),
    by_kind={},
)


@pytest.fixture(autouse=True)
def _fixed_arithmetic():
    with arithmetic():
        yield


def terms_of(**channel) -> SaleTerms:
    return SaleTerms(
        channel=Channel(key="web", **channel), currency=currency("USD"), quantity=1
    )


@pytest.mark.parametrize(
    ("rate", "fixed", "price"),
    [
        # K1: vadimkononov.ca and a help article on passing on payment fees,
        # (100 + 0.30) ÷ (1 − 0.029) = 103.2956, printed as 103.30.
        ("0.029", "0.30", "103.30"),
        # K2: a question page on 3 percent fees, 100 ÷ (1 − 0.03) = 103.0928.
        ("0.03", "0", "103.09"),
    ],
)
def test_the_price_that_keeps_a_hundred_after_a_fee_taken_out_of_it(rate, fixed, price):
    terms = terms_of(fees=(Fee(label="f", rate=Decimal(rate), fixed=Decimal(fixed)),))
    even = Policy(key="even", target_margin=Decimal(0))
    sale = decide_price(even, terms=terms, cost=KEEP_A_HUNDRED).sale
    assert sale.unit == Decimal(price)
    assert sale.total - sale.fees_total == Decimal("100.00")


def test_a_share_added_on_top_is_another_contract():
    # K3: an askmath thread, 200.00 in all with 2.9 % and 0.99 on top is a price of
    # (200 − 0.99) ÷ 1.029 = 193.40. A share on top works as a tax on top does; the
    # amount is not subject to it, so it stands beside the sale here.
    on_top = terms_of(tax=Tax(rate=Decimal("0.029"), inclusive=False))
    sale = sale_at(Decimal("193.40"), terms=on_top, cost=KEEP_A_HUNDRED)
    assert sale.charged + Decimal("0.99") == Decimal("200.00")

    taken_out = terms_of(
        fees=(Fee(label="f", rate=Decimal("0.029"), fixed=Decimal("0.99")),)
    )
    sale = sale_at(Decimal("200.00"), terms=taken_out, cost=KEEP_A_HUNDRED)
    assert sale.total - sale.fees_total == Decimal("193.21")


def test_a_fee_on_what_is_charged_is_taken_on_shipping_and_tax_too():
    # Common practice of card payments, no source: the rate is on the whole payment.
    terms = terms_of(
        tax=Tax(rate=Decimal("0.10"), inclusive=False),
        fees=(Fee(label="f", rate=Decimal("0.029"), fixed=Decimal("0.30")),),
        shipping=Shipping(charged=Decimal("10.00")),
    )
    sale = sale_at(Decimal("90.00"), terms=terms, cost=KEEP_A_HUNDRED)
    assert sale.charged == Decimal("110.00")
    assert sale.fees_total == Decimal("3.49")
