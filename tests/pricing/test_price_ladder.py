from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pricing import price_ladder as module
from pricing.errors import NoPossiblePrice
from pricing.money import ZERO, arithmetic, currency
from pricing.price import decide_price
from pricing.price_book import Channel, Policy
from pricing.price_ladder import Ask, PriceLadder
from pricing.sale import sale_at
from tests.oracles.workshops import RETAIL, SHOP, policy
from tests.strategies.sales import priced

EURO = currency("EUR")


@pytest.fixture(autouse=True)
def _fixed_arithmetic():
    with arithmetic():
        yield


def one_piece(terms):
    return replace(terms, quantity=1)


def ask_of(rules, cost):
    """What the cost figures of a piece ask under these rules."""
    factors = rules.multipliers or {}
    earned = (rules.min_hourly or ZERO) * cost.attended_minutes / 60
    return Ask(
        cost=cost.per_piece,
        weighted=sum(factors.get(k, 1) * part for k, part in cost.by_kind.items()),
        earning=earned - cost.labour,
    )


@settings(max_examples=150, deadline=None)
@given(priced())
def test_it_finds_the_price_that_an_estimate_would(case):
    rules, terms, cost = case
    terms = one_piece(terms)
    ladder = PriceLadder(rules, terms.channel, terms.currency)
    try:
        unit = decide_price(rules, terms=terms, cost=cost).sale.unit
    except NoPossiblePrice:
        unit = None
    assert ladder.least(ask_of(rules, cost)) == unit


@settings(deadline=None)
@given(priced(), st.tuples(*[st.integers(-5, 5)] * 3))
def test_who_asks_for_no_less_pays_no_less(case, more):
    rules, terms, cost = case
    terms = one_piece(terms)
    ladder = PriceLadder(rules, terms.channel, terms.currency)
    ask = ask_of(rules, cost)
    both = Ask(*(max(x, x + n) for x, n in zip(ask, more, strict=True)))
    least, joined = ladder.least(ask), ladder.least(both)
    assert (least is None and joined is None) or least <= joined


@settings(deadline=None)
@given(priced(), st.integers(0, 2000))
def test_what_a_price_brings_in_is_before_the_cost(case, units):
    _, terms, cost = case
    terms = one_piece(terms)
    ladder = PriceLadder(policy(markup="0"), terms.channel, terms.currency)
    unit = units * terms.currency.step
    sale = sale_at(unit, terms=terms, cost=cost)
    taken = ladder.taken(unit)
    assert (taken.unit, taken.net) == (sale.unit, sale.net)
    assert taken.margin - cost.per_piece == sale.margin


@pytest.mark.parametrize(
    ("rules", "cost"),
    [
        (policy(target_margin="0.99"), "10"),
        (policy(markup="0"), "1000000001"),
    ],
)
def test_it_leaves_refusals_to_the_long_way(rules, cost):
    assert PriceLadder(rules, SHOP, EURO).least(Ask(Decimal(cost))) is None


def test_without_any_rule_the_first_price_of_the_grid_does():
    ladder = PriceLadder(Policy(key="none"), SHOP, EURO)
    assert ladder.least(Ask(Decimal(40))) == Decimal("0.01")


def test_it_forgets_prices_rather_than_fill_the_memory(monkeypatch):
    monkeypatch.setattr(module, "_MOST_KEPT", 5)
    ladder = PriceLadder(RETAIL, SHOP, EURO)
    prices = [ladder.least(Ask(Decimal(cost))) for cost in range(20, 60)]
    again = [ladder.least(Ask(Decimal(cost))) for cost in range(20, 60)]
    assert prices == again
    assert prices == sorted(set(prices))


def test_a_price_worked_by_hand():
    # 53.20 ÷ (1 − 0.40) = 88.666…, so 88.67.
    ladder = PriceLadder(policy(target_margin="0.40"), Channel(key="plain"), EURO)
    assert ladder.least(Ask(Decimal("53.20"))) == Decimal("88.67")
    # Earning 45.00 an hour for 80 minutes is 60.00; less 40.00 of labour in the
    # cost, 20.00 must be left over 53.20.
    ladder = PriceLadder(policy(min_hourly="45"), Channel(key="plain"), EURO)
    ask = Ask(Decimal("53.20"), earning=Decimal(20))
    assert ladder.least(ask) == Decimal("73.20")
