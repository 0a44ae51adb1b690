"""Contribution and break-even against published examples.

OpenStax, Principles of Accounting, Volume 2: Managerial Accounting, ch. 3.2. The book
asks how many units break even; the model asks at which spot an order does. Both solve
one straight line, so its solver is given the book's lines: what is missing after n
units is fixed cost − contribution × n. Contribution itself is the margin of a sale.
"""

from decimal import ROUND_CEILING, Decimal

import pytest

from pricing.markup import markup_of_margin
from pricing.metal_line import MetalLine, crossings
from pricing.money import currency
from pricing.price import SaleTerms, sale_at
from pricing.price_book import Channel
from pricing.sale import CostFigures

USD = currency("USD")
START = Decimal(1)


def missing(price, variable, fixed):
    """Fixed cost not yet covered, against units sold."""
    return MetalLine(base=Decimal(fixed), slope=Decimal(variable - price))


def units(line, *, profit=0):
    return crossings(line, target=Decimal(-profit), spot=START).above


def sold(price, cost):
    """One sale without tax, fees or shipping."""
    figures = CostFigures(
        per_piece=Decimal(cost),
        labour=Decimal(0),
        attended_minutes=Decimal(0),
        by_kind={"coin": Decimal(cost)},
    )
    terms = SaleTerms(channel=Channel(key="fair"), currency=USD)
    return sale_at(Decimal(price), terms=terms, cost=figures)


E1 = missing(100, 20, 18_000)


def test_contribution_is_the_margin_of_a_sale():
    # OpenStax PA2 3.2: price 100, variable 20: contribution 80, ratio 80 %
    sale = sold(100, 20)
    assert (sale.margin, sale.margin_rate) == (80, Decimal("0.8"))
    assert sale.markup == markup_of_margin(Decimal("0.8")) == 4
    # OpenStax PA2 3.2: price 400, variable 250: contribution 150
    assert sold(400, 250).margin == 150


@pytest.mark.parametrize(
    ("line", "price", "count", "revenue"),
    [
        (E1, 100, 225, 22_500),  # OpenStax PA2 3.2
        (missing(35, 20, 3_000), 35, 200, 7_000),  # OpenStax PA2 3.2 (revenue ours)
    ],
)
def test_units_and_revenue_that_break_even(line, price, count, revenue):
    assert units(line) == count
    assert units(line) * price == revenue


@pytest.mark.parametrize(("count", "left"), [(175, -4_000), (300, 6_000)])
def test_what_is_left_at_other_quantities(count, left):
    assert -E1.at(Decimal(count)) == left  # OpenStax PA2 3.2


def test_units_for_a_profit():
    # OpenStax PA2 3.2: 16,000 before tax
    assert units(E1, profit=16_000) == 425
    assert units(E1, profit=16_000) * 100 == 42_500


def test_units_for_a_profit_after_tax():
    # OpenStax PA2 3.2: 24,000 after 40 % tax is 40,000 before it
    before_tax = Decimal(24_000) / (1 - Decimal("0.40"))
    assert before_tax == 40_000
    assert units(E1, profit=40_000) == 725
    assert units(E1, profit=40_000) * 100 == 72_500


def test_a_break_even_between_two_units_needs_the_next_whole_one():
    # OpenStax PA2 3.2: price 400, variable 250, fixed 20,000 (units ours)
    found = units(missing(400, 250, 20_000))
    assert found == pytest.approx(Decimal("133.33"), abs=Decimal("0.005"))
    assert found.to_integral_value(ROUND_CEILING) == 134
