import dataclasses
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.errors import InvalidInput
from pricing.money import ZERO, arithmetic, currency
from pricing.price_book import Channel, Fee, Shipping, Tax
from pricing.sale import CostFigures, FeeCharge, SaleTerms, sale_at
from tests.oracles.sale_oracle import Oracle
from tests.strategies.sales import MINOR, orders

COST = CostFigures(
    per_piece=Decimal("41.37"),
    labour=Decimal("20.10"),
    attended_minutes=Decimal("37.69"),
    by_kind={"coin": Decimal("21.27"), "labour": Decimal("20.10")},
)
SHIPPING = Shipping(charged=Decimal("6.90"), paid=Decimal("5.40"))
UNITS = st.integers(0, 20_000)


@pytest.fixture(autouse=True)
def _fixed_arithmetic():
    with arithmetic():
        yield


def sale(unit: str, *, code: str = "EUR", quantity: int = 1, cost=COST, **channel):
    terms = SaleTerms(
        channel=Channel(key="shop", **channel),
        currency=currency(code),
        quantity=quantity,
    )
    return sale_at(Decimal(unit), terms=terms, cost=cost)


# Against the second calculator


@given(orders(), UNITS)
def test_every_amount_equals_that_of_the_second_calculator(order, units):
    terms, cost = order
    got = sale_at(units * MINOR[terms.currency.code], terms=terms, cost=cost)
    oracle = Oracle(terms, cost)
    wanted = oracle.at(units)
    fees = tuple(fee.amount * oracle.scale for fee in got.fees)
    assert (got.total * oracle.scale, fees) == (wanted.goods, wanted.fees)
    for name in ("net", "tax", "shipping_net", "shipping_tax", "margin"):
        assert getattr(got, name) * oracle.scale == getattr(wanted, name)


@given(orders(), UNITS)
def test_what_the_buyer_pays_is_shared_out_to_the_last_unit(order, units):
    terms, cost = order
    got = sale_at(units * MINOR[terms.currency.code], terms=terms, cost=cost)
    shown = got.total + got.shipping_charged
    on_top = ZERO if terms.channel.tax.inclusive else got.tax_total
    assert got.charged == shown + on_top
    assert got.fees_total == sum(fee.amount for fee in got.fees)
    spent = got.tax_total + got.fees_total + got.cost + got.shipping_paid
    assert got.charged == spent + got.margin


@given(orders(), UNITS)
def test_every_amount_is_whole_in_the_minor_unit(order, units):
    terms, cost = order
    minor = MINOR[terms.currency.code]
    got = sale_at(units * minor, terms=terms, cost=cost)
    for field in dataclasses.fields(got):
        value = getattr(got, field.name)
        if isinstance(value, Decimal) and field.name not in {"margin_rate", "markup"}:
            assert value % minor == 0, field.name


@given(orders(), UNITS)
def test_the_rates_follow_from_the_amounts_shown(order, units):
    terms, cost = order
    got = sale_at(units * MINOR[terms.currency.code], terms=terms, cost=cost)
    half = Decimal("0.00005")
    if got.margin_rate is None:
        assert got.net == 0
    else:
        assert abs(got.margin / got.net - got.margin_rate) <= half
    if got.markup is None:
        assert got.cost <= 0
    else:
        assert abs((got.net - got.cost) / got.cost - got.markup) <= half
    hours = Fraction(cost.attended_minutes) * terms.quantity / 60
    if got.hourly is None:
        assert hours == 0
    else:
        earned = Fraction(got.margin + cost.labour * terms.quantity)
        off = abs(earned / hours - Fraction(got.hourly))
        assert off <= Fraction(MINOR[terms.currency.code]) / 2


# By hand


def test_a_sale_with_tax_in_the_price_by_hand():
    got = sale(
        "89.95",
        tax=Tax(rate=Decimal("0.20")),
        fees=(Fee(label="card", rate=Decimal("0.019"), fixed=Decimal("0.25")),),
        shipping=SHIPPING,
    )
    assert (got.net, got.tax) == (Decimal("74.96"), Decimal("14.99"))  # 14.9917
    assert (got.shipping_net, got.shipping_tax) == (Decimal("5.75"), Decimal("1.15"))
    assert got.charged == Decimal("96.85")
    assert got.fees == (
        FeeCharge(label="card", amount=Decimal("2.09"), how="1.9 % × 96.85 + 0.25"),
    )
    # 74.96 + 5.75 − 2.09 − 41.37 − 5.40
    assert got.margin == Decimal("31.85")
    assert got.margin_rate == Decimal("0.4249")  # 31.85 ÷ 74.96 = 0.42489
    assert got.markup == Decimal("0.8119")  # 74.96 ÷ 41.37 = 1.81194
    assert got.hourly == Decimal("82.70")  # 51.95 × 60 ÷ 37.69 = 82.701


def test_a_sale_with_tax_on_top_by_hand():
    got = sale(
        "74.96",
        quantity=2,
        tax=Tax(rate=Decimal("0.0825"), inclusive=False),
        fees=(Fee(label="card", rate=Decimal("0.03")),),
        shipping=SHIPPING,
    )
    assert got.total == got.net == Decimal("149.92")
    assert got.tax == Decimal("12.37")  # 12.3684
    assert (got.shipping_net, got.shipping_tax) == (Decimal("6.90"), Decimal("0.57"))
    assert got.charged == Decimal("169.76")
    assert got.fees_total == Decimal("5.09")  # 3 % × 169.76 = 5.0928
    assert got.margin == Decimal("63.59")  # 149.92 + 6.90 − 5.09 − 82.74 − 5.40


@pytest.mark.parametrize(
    ("on", "how", "amount"),
    [
        ("charged", "10 % × 126.00", "12.60"),  # (100 + 5) with 20 % on top
        ("goods", "10 % × 100.00", "10.00"),
        ("net", "10 % × 100.00", "10.00"),
    ],
)
def test_a_fee_is_taken_on_its_base_with_tax_on_top(on, how, amount):
    got = sale(
        "100.00",
        tax=Tax(rate=Decimal("0.20"), inclusive=False),
        fees=(Fee(label="f", rate=Decimal("0.10"), on=on),),
        shipping=Shipping(charged=Decimal("5.00")),
    )
    assert got.fees == (FeeCharge(label="f", amount=Decimal(amount), how=how),)


@pytest.mark.parametrize(
    ("on", "how", "amount"),
    [
        ("charged", "10 % × 126.00", "12.60"),
        ("goods", "10 % × 120.00", "12.00"),
        ("net", "10 % × 100.00", "10.00"),
    ],
)
def test_a_fee_is_taken_on_its_base_with_tax_in_the_price(on, how, amount):
    got = sale(
        "120.00",
        tax=Tax(rate=Decimal("0.20")),
        fees=(Fee(label="f", rate=Decimal("0.10"), on=on),),
        shipping=Shipping(charged=Decimal("6.00")),
    )
    assert got.fees == (FeeCharge(label="f", amount=Decimal(amount), how=how),)


def test_a_fixed_fee_is_taken_once_an_order():
    got = sale("10.00", quantity=3, fees=(Fee(label="stall", fixed=Decimal("2.00")),))
    assert got.fees == (
        FeeCharge(label="stall", amount=Decimal("2.00"), how="2.00 an order"),
    )


def test_a_fixed_fee_of_one_line_among_others_is_its_share():
    stall = Channel(key="shop", fees=(Fee(label="stall", fixed=Decimal("0.80")),))
    terms = SaleTerms(
        channel=stall, currency=currency("EUR"), quantity=2, order_pieces=5
    )
    (fee,) = sale_at(Decimal(10), terms=terms, cost=COST).fees
    assert (fee.amount, fee.how) == (Decimal("0.80"), "0.80, its share")


def test_a_fee_of_half_a_unit_is_rounded_up():
    got = sale("0.50", fees=(Fee(label="f", rate=Decimal("0.01")),))
    assert got.fees_total == Decimal("0.01")


def test_a_tax_of_exactly_half_a_unit_is_rounded_up_though_its_share_never_ends():
    # 0.13 × 0.04 ÷ 1.04 = 0.005, while 0.04 ÷ 1.04 = 0.0384615… goes on for ever.
    assert sale("0.13", tax=Tax(rate=Decimal("0.04"))).tax == Decimal("0.01")


@pytest.mark.parametrize(
    ("code", "unit", "tax", "fee"),
    [
        ("JPY", "1000", "91", "36"),  # 90.909 and 36.00
        ("EUR", "10.00", "0.91", "0.36"),
        ("KWD", "10.000", "0.909", "0.360"),
    ],
)
def test_tax_and_fees_are_rounded_to_the_minor_unit(code, unit, tax, fee):
    got = sale(
        unit,
        code=code,
        tax=Tax(rate=Decimal("0.10")),
        fees=(Fee(label="f", rate=Decimal("0.036")),),
    )
    assert (got.tax, got.fees_total) == (Decimal(tax), Decimal(fee))
    assert got.tax.as_tuple().exponent == -currency(code).minor_units


def test_the_tax_on_an_order_is_rounded_once_not_for_each_piece():
    # 1.03 × 0.2 ÷ 1.2 = 0.1717 → 0.17 a piece, 0.51 for three; 3.09 has 0.515 → 0.52.
    got = sale("1.03", quantity=3, tax=Tax(rate=Decimal("0.20")))
    assert got.tax == Decimal("0.52")


def test_shipping_of_a_broken_amount_is_charged_and_paid_in_whole_units():
    odd = Shipping(charged=Decimal("6.905"), paid=Decimal("5.404"))
    got = sale("10.00", shipping=odd)
    assert (got.shipping_charged, got.shipping_paid) == (
        Decimal("6.91"),
        Decimal("5.40"),
    )


def test_rates_are_left_out_where_there_is_nothing_to_divide_by():
    free = CostFigures(per_piece=ZERO, labour=ZERO, attended_minutes=ZERO, by_kind={})
    got = sale("0", cost=free)
    assert (got.margin_rate, got.markup, got.hourly) == (None, None, None)


@pytest.mark.parametrize(
    ("rate", "kept"), [("0.2", True), ("0.2001", False), ("0.19", True)]
)
def test_a_margin_is_compared_before_it_is_rounded(rate, kept):
    cost = dataclasses.replace(COST, per_piece=Decimal("40.00"))
    assert sale("50.00", cost=cost).keeps(Decimal(rate)) is kept


def test_a_margin_rate_rounded_up_does_not_pass_for_the_rate():
    cost = dataclasses.replace(COST, per_piece=Decimal("800.01"))
    got = sale("1000.00", cost=cost)
    assert got.margin_rate == Decimal("0.2000")
    assert not got.keeps(Decimal("0.2"))


# Refusals


@pytest.mark.parametrize(
    ("unit", "code"), [("-0.01", "EUR"), ("9.995", "EUR"), ("0.5", "JPY")]
)
def test_a_price_that_nobody_can_pay_is_refused(unit, code):
    with pytest.raises(InvalidInput, match=f"{unit} is no price in {code}") as told:
        sale(unit, code=code)
    assert told.value.path == ("unit",)


@pytest.mark.parametrize("quantity", [0, -3])
def test_an_order_of_no_pieces_is_refused(quantity):
    with pytest.raises(InvalidInput, match="order 1 or more") as told:
        sale("1.00", quantity=quantity)
    assert told.value.path == ("quantity",)
