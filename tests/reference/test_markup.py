"""Markup and margin against published examples.

Source of D1 to D7: OpenStax, Contemporary Mathematics, section 6.2. The margins
beside them are our own division.
"""

from decimal import Decimal

import pytest

from pricing.money import arithmetic, currency
from pricing.price import (
    CostFigures,
    SaleTerms,
    decide_price,
    margin_of_markup,
    markup_of_margin,
    sale_at,
)
from pricing.price_book import Channel, Policy

STALL = SaleTerms(channel=Channel(key="stall"), currency=currency("USD"), quantity=1)


@pytest.fixture(autouse=True)
def _fixed_arithmetic():
    with arithmetic():
        yield


def cost_of(amount: str) -> CostFigures:
    return CostFigures(
        per_piece=Decimal(amount),
        labour=Decimal(0),
        attended_minutes=Decimal(0),
        by_kind={},
    )


@pytest.mark.parametrize(
    ("cost", "price", "markup", "margin"),
    [
        ("90.00", "103.50", "0.15", "0.1304"),  # D1
        ("5.20", "9.90", "0.9038", "0.4747"),  # D2
        ("480", "840", "0.75", "0.4286"),  # D6
    ],
)
def test_markup_and_margin_of_a_price(cost, price, markup, margin):
    sale = sale_at(Decimal(price), terms=STALL, cost=cost_of(cost))
    assert sale.markup == Decimal(markup)
    assert sale.margin_rate == Decimal(margin)


@pytest.mark.parametrize(
    ("cost", "markup", "price"),
    [
        ("8.85", "0.20", "10.62"),  # D3
        # D4. A middle line of the page prints 1 + 2.25 = 3.25; its answer, 11.80,
        # goes with 1 + 1.25 = 2.25.
        ("11.80", "1.25", "26.55"),
        ("1.30", "0.60", "2.08"),  # D5
        ("25.00", "0.18", "29.50"),  # D7, answer our own: not on the part read
    ],
)
def test_the_price_that_a_markup_asks(cost, markup, price):
    policy = Policy(key="markup", markup=Decimal(markup))
    decision = decide_price(policy, terms=STALL, cost=cost_of(cost))
    assert decision.sale.unit == Decimal(price)
    assert decision.bound_by == "markup"


# D8: a question-and-answer page on margin and markup in programs. It prints 33.33 %
# for the third.
@pytest.mark.parametrize(
    ("margin", "markup"),
    [
        (Decimal("0.5"), Decimal(1)),
        (Decimal("0.75"), Decimal(3)),
        (Decimal("0.3333"), Decimal("0.50")),
    ],
)
def test_the_markup_that_gives_a_margin(margin, markup):
    assert markup_of_margin(margin) == pytest.approx(markup, abs=Decimal("0.0001"))
    assert margin_of_markup(markup) == pytest.approx(margin, abs=Decimal("0.0001"))
