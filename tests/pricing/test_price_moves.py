"""What moves the price, and which way. A rule that gets harder to meet at every
price leaves fewer prices to choose from, so the smallest of them cannot fall.
That holds exactly, roundings and all, for cost, minutes, fee rates and amounts,
and for a tax that comes on top. It holds for a tax within the price unless a fee
is taken on net: see the last of these.
"""

import dataclasses
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.money import arithmetic, currency
from pricing.price import CostFigures, SaleTerms, decide_price
from pricing.price_book import Channel, Fee, Policy, Rounding, Tax
from tests.strategies.sales import MINOR, priced

CARD = Fee(label="card", rate=Decimal("0.019"), fixed=Decimal("0.25"))


@pytest.fixture(autouse=True)
def _fixed_arithmetic():
    with arithmetic():
        yield


def unit_price(
    policy: Policy, terms: SaleTerms, cost: CostFigures, **channel
) -> Decimal:
    """The price where these parts of the channel are as given."""
    changed = dataclasses.replace(terms.channel, **channel)
    terms = dataclasses.replace(terms, channel=changed)
    return decide_price(policy, terms=terms, cost=cost).sale.unit


def bare_price(policy: Policy, channel: Channel, cost: str, quantity: int = 1):
    """In euro, for a cost with no labour in it."""
    terms = SaleTerms(channel=channel, currency=currency("EUR"), quantity=quantity)
    figures = CostFigures(
        per_piece=Decimal(cost),
        labour=Decimal(0),
        attended_minutes=Decimal(0),
        by_kind={"coin": Decimal(cost)},
    )
    return unit_price(policy, terms, figures)


@given(priced(), st.integers(1, 300))
def test_the_price_never_falls_when_the_cost_rises(case, more):
    policy, terms, cost = case
    more *= MINOR[terms.currency.code]
    dearer = dataclasses.replace(
        cost,
        per_piece=cost.per_piece + more,
        by_kind=cost.by_kind | {"tool": more},
    )
    assert unit_price(policy, terms, dearer) >= unit_price(policy, terms, cost)


@given(priced(), st.integers(1, 3000))
def test_the_price_never_falls_when_attended_minutes_rise(case, hundredths):
    policy, terms, cost = case
    longer = cost.attended_minutes + hundredths * Decimal("0.01")
    slower = dataclasses.replace(cost, attended_minutes=longer)
    assert unit_price(policy, terms, slower) >= unit_price(policy, terms, cost)


@given(priced(), st.data())
def test_the_price_never_falls_when_a_fee_rises(case, data):
    policy, terms, cost = case
    old = data.draw(st.sampled_from(terms.channel.fees or (CARD,)))
    rate = old.rate + data.draw(st.integers(0, 50)) * Decimal("0.001")
    fixed = old.fixed + data.draw(st.integers(0, 50)) * MINOR[terms.currency.code]
    new = dataclasses.replace(old, rate=rate, fixed=fixed)
    others = tuple(fee for fee in terms.channel.fees if fee is not old)
    assert unit_price(policy, terms, cost, fees=(*others, new)) >= unit_price(
        policy, terms, cost, fees=(*others, old)
    )


def raised_tax(tax: Tax, thousandths: int) -> Tax:
    return dataclasses.replace(tax, rate=tax.rate + thousandths * Decimal("0.001"))


@given(priced(), st.integers(1, 100))
def test_the_price_never_falls_when_the_tax_rises_and_no_fee_is_taken_on_net(
    case, thousandths
):
    policy, terms, cost = case
    tax = raised_tax(terms.channel.tax, thousandths)
    fees = terms.channel.fees
    if tax.inclusive:
        fees = tuple(fee for fee in fees if fee.on != "net")
    assert unit_price(policy, terms, cost, fees=fees, tax=tax) >= unit_price(
        policy, terms, cost, fees=fees
    )


@given(priced(), st.integers(1, 100))
def test_fees_on_net_give_back_at_most_one_minor_unit_each_when_the_tax_rises(
    case, thousandths
):
    policy, terms, cost = case
    tax = raised_tax(terms.channel.tax, thousandths)
    on_net = sum(fee.on == "net" for fee in terms.channel.fees)
    minor, shipping = MINOR[terms.currency.code], terms.channel.shipping
    paid = shipping.paid + on_net * minor
    before = dataclasses.replace(shipping, paid=shipping.paid)
    after = dataclasses.replace(shipping, paid=paid)
    assert unit_price(policy, terms, cost, tax=tax, shipping=after) >= unit_price(
        policy, terms, cost, shipping=before
    )


def test_a_fee_on_net_can_give_back_more_than_the_tax_took_of_the_margin():
    # At 10.25 and no tax: fee 2 % × 10.25 = 0.205 → 0.21, margin 10.25 − 0.21 −
    # 4.92 = 5.12, asked 5.125. With 0.01 of tax in the price: fee 2 % × 10.24 =
    # 0.2048 → 0.20, margin 5.12 as before, asked 5.12. By hand.
    untaxed = Channel(key="net", fees=(Fee(label="f", rate=Decimal("0.02"), on="net"),))
    taxed = dataclasses.replace(untaxed, tax=Tax(rate=Decimal("0.001")))
    policy = Policy(
        key="half",
        target_margin=Decimal("0.5"),
        rounding=Rounding(step=Decimal("0.50"), offset=Decimal("0.25")),
    )
    assert bare_price(policy, untaxed, "4.92") == Decimal("10.75")
    assert bare_price(policy, taxed, "4.92") == Decimal("10.25")


@given(priced(), st.integers(1, 100))
def test_the_price_never_falls_when_a_rule_asks_more(case, more):
    policy, terms, cost = case
    harder = dataclasses.replace(
        policy,
        target_margin=policy.target_margin
        and policy.target_margin + more * Decimal("0.001"),
        markup=policy.markup and policy.markup + more * Decimal("0.01"),
        min_hourly=policy.min_hourly and policy.min_hourly + more,
        min_price=policy.min_price and policy.min_price + more,
    )
    assert unit_price(harder, terms, cost) >= unit_price(policy, terms, cost)


def test_more_pieces_share_a_fixed_fee_so_the_price_of_one_may_fall():
    policy = Policy(key="even", target_margin=Decimal(0))
    channel = Channel(key="fair", fees=(Fee(label="stall", fixed=Decimal(10)),))
    assert bare_price(policy, channel, "20.00") == Decimal("30.00")
    assert bare_price(policy, channel, "20.00", quantity=5) == Decimal("22.00")
