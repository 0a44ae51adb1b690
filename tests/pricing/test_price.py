import dataclasses
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pricing.errors import InvalidInput, NoPossiblePrice
from pricing.money import arithmetic, currency
from pricing.price import (
    GIVEN,
    HIGHEST_PRICE,
    CostFigures,
    SaleTerms,
    decide_price,
    discount_headroom,
    given_price,
    sale_at,
)
from pricing.price_book import (
    Channel,
    Fee,
    Policy,
    Rounding,
    Shipping,
    Tax,
)
from tests.oracles.sale_oracle import Oracle
from tests.strategies.sales import MINOR, orders, policies, priced
from tests.thoroughness import thorough

VAT = Tax(rate=Decimal("0.20"), inclusive=True)
CARD = Fee(label="card", rate=Decimal("0.019"), fixed=Decimal("0.25"))
SHOP = Channel(
    key="shop",
    tax=VAT,
    fees=(CARD,),
    shipping=Shipping(charged=Decimal("6.90"), paid=Decimal("5.40")),
)
BARE = Channel(key="bare")
NINETY_FIVE = Rounding(step=Decimal("5.00"), offset=Decimal("-0.05"))
COST = CostFigures(
    per_piece=Decimal("41.37"),
    labour=Decimal("20.10"),
    attended_minutes=Decimal("37.69"),
    by_kind={
        "coin": Decimal("17.00"),
        "labour": Decimal("20.10"),
        "tool": Decimal("5.27"),
        "recovery": Decimal("-1.00"),
    },
)


@pytest.fixture(autouse=True)
def _fixed_arithmetic():
    with arithmetic():
        yield


def terms_of(channel: Channel = SHOP, *, code: str = "EUR", quantity: int = 1):
    return SaleTerms(channel=channel, currency=currency(code), quantity=quantity)


def flat_cost(per_piece: str) -> CostFigures:
    return CostFigures(
        per_piece=Decimal(per_piece),
        labour=Decimal(0),
        attended_minutes=Decimal(0),
        by_kind={"coin": Decimal(per_piece)},
    )


def price(policy: Policy, channel: Channel = SHOP, cost: CostFigures = COST, **terms):
    return decide_price(policy, terms=terms_of(channel, **terms), cost=cost)


# The search, against trying every price on the grid


@settings(max_examples=thorough(120, 2000), deadline=None)
@given(priced())
def test_no_smaller_price_on_the_grid_meets_the_rules(case):
    policy, terms, cost = case
    decision = decide_price(policy, terms=terms, cost=cost)
    oracle = Oracle(terms, cost)
    cheapest, failed_below = oracle.cheapest(policy)
    assert decision.sale.unit * oracle.scale == cheapest
    assert decision.bound_by == (failed_below or ["rounding"])[0]


@settings(deadline=None)
@given(priced())
def test_each_rule_is_shown_with_the_least_price_that_meets_it_alone(case):
    policy, terms, cost = case
    decision = decide_price(policy, terms=terms, cost=cost)
    oracle = Oracle(terms, cost)
    assert [check.name for check in decision.rules] == list(oracle.rules(policy))
    for check in decision.rules:
        least = oracle.least_alone(policy, check.name)
        assert check.least_unit * oracle.scale == least


@given(priced())
def test_the_sale_in_the_answer_is_the_sale_at_that_price(case):
    policy, terms, cost = case
    sale = decide_price(policy, terms=terms, cost=cost).sale
    assert sale == sale_at(sale.unit, terms=terms, cost=cost)


@given(orders(), st.data())
def test_a_finer_grid_with_the_same_prices_in_it_never_asks_more(order, data):
    terms, cost = order
    policy = data.draw(policies(terms.currency.code))
    fine = dataclasses.replace(policy, rounding=None)
    assert (
        decide_price(fine, terms=terms, cost=cost).sale.unit
        <= decide_price(policy, terms=terms, cost=cost).sale.unit
    )


def test_many_fees_that_leave_almost_nothing_are_still_searched_to_the_end():
    fees = tuple(Fee(label="part", rate=Decimal("0.049")) for _ in range(20))
    policy = Policy(key="thin", target_margin=Decimal("0.018"))
    channel = Channel(key="thin", fees=fees)
    got = price(policy, channel, flat_cost("0.05")).sale.unit
    cheapest, _ = Oracle(terms_of(channel), flat_cost("0.05")).cheapest(policy)
    assert got * 100 == cheapest


# The answer


def test_the_answer_names_the_rule_that_fails_one_step_lower():
    decision = price(
        Policy(key="p", target_margin=Decimal("0.35"), rounding=NINETY_FIVE)
    )
    assert decision.sale.unit == Decimal("79.95")
    assert decision.bound_by == "target_margin"
    below = sale_at(Decimal("74.95"), terms=terms_of(), cost=COST)
    assert not below.keeps(Decimal("0.35"))
    assert decision.sale.keeps(Decimal("0.35"))


def test_the_least_price_is_for_one_piece():
    decision = price(Policy(key="p", min_price=Decimal("60.00")), quantity=4)
    assert decision.sale.unit == Decimal("60.00")
    assert decision.sale.total == Decimal("240.00")


def test_rules_are_named_in_a_fixed_order_when_several_fail_below():
    policy = Policy(
        key="both", min_price=Decimal(100), markup=Decimal(1), rounding=NINETY_FIVE
    )
    decision = price(policy)
    assert decision.sale.unit == Decimal("104.95")
    assert [check.name for check in decision.rules] == ["markup", "min_price"]
    assert decision.bound_by == "min_price"
    tie = dataclasses.replace(policy, min_price=Decimal("99.28"), rounding=None)
    assert {c.least_unit for c in price(tie).rules} == {
        Decimal("99.28"),
        Decimal("99.29"),
    }


def test_the_lowest_price_of_the_grid_is_bound_by_the_grid():
    decision = price(
        Policy(key="p", min_price=Decimal("1.00"), rounding=NINETY_FIVE), BARE
    )
    assert decision.sale.unit == Decimal("4.95")
    assert decision.bound_by == "rounding"


def test_without_a_rule_the_price_is_the_lowest_of_the_grid():
    decision = price(Policy(key="none"))
    assert decision.sale.unit == Decimal("0.01")
    assert decision.bound_by == "rounding"
    assert decision.rules == ()
    assert decision.target_margin is None


@pytest.mark.parametrize(
    ("code", "unit"), [("EUR", "61.54"), ("JPY", "62"), ("KWD", "61.539")]
)
def test_prices_are_whole_in_the_minor_unit_of_the_currency(code, unit):
    policy = Policy(key="p", target_margin=Decimal("0.35"))
    got = price(policy, BARE, flat_cost("40"), code=code).sale.unit
    assert got == Decimal(unit)


# Refusals


@pytest.mark.parametrize(("margin", "allowed"), [("0.999", True), ("0.9991", False)])
def test_a_rule_that_leaves_under_a_thousandth_of_the_price_is_refused(margin, allowed):
    policy = Policy(key="p", target_margin=Decimal(margin))
    if allowed:
        got = price(policy, BARE, flat_cost("1.00"))
        assert got.sale.unit == Decimal("1000.00")
    else:
        with pytest.raises(NoPossiblePrice, match=r"0\.09 % is left"):
            price(policy, BARE, flat_cost("1.00"))


@pytest.mark.parametrize(
    ("cost", "offset", "allowed"),
    [
        ("500000000", "0", True),
        ("500000000.01", "0", False),
        ("900000000000", "0", False),
        ("499999999.995", "0", True),
    ],
)
def test_a_price_above_the_highest_is_refused(cost, offset, allowed):
    policy = Policy(key="p", markup=Decimal(1))
    if allowed:
        assert price(policy, BARE, flat_cost(cost)).sale.unit <= HIGHEST_PRICE
    else:
        with pytest.raises(NoPossiblePrice, match="no price up to 1000000000") as told:
            price(policy, BARE, flat_cost(cost))
        assert told.value.rule == "markup"


@pytest.mark.parametrize(
    ("step", "offset"), [("0", "0"), ("-5", "0"), ("0.005", "0"), ("1", "0.001")]
)
def test_a_grid_that_is_not_whole_in_the_minor_unit_is_refused(step, offset):
    rounding = Rounding(step=Decimal(step), offset=Decimal(offset))
    with pytest.raises(InvalidInput, match=r"EUR; use multiples of 0\.01") as told:
        price(Policy(key="p", min_price=Decimal(1), rounding=rounding))
    assert told.value.path == ("rounding",)


# Discounts


@settings(deadline=None)
@given(priced())
def test_the_headroom_is_the_largest_discount_that_keeps_the_floor(case):
    policy, terms, cost = case
    decision = decide_price(policy, terms=terms, cost=cost)
    oracle, rate = Oracle(terms, cost), Fraction(decision.discount_headroom)
    unit = int(decision.sale.unit * oracle.scale)
    if not oracle.keeps(unit, policy.floor_margin):
        assert rate == 0
        return
    lowest = oracle.lowest_kept(unit, policy.floor_margin)
    assert unit * (1 - rate) >= lowest
    assert rate == 1 or unit * (1 - rate - Fraction(1, 10000)) < lowest


@settings(deadline=None)
@given(orders(), st.integers(1, 3000), st.integers(0, 500))
def test_the_headroom_can_be_asked_at_any_price(order, unit, thousandths):
    terms, cost = order
    floor = thousandths * Decimal("0.001")
    rate = discount_headroom(
        unit * MINOR[terms.currency.code], floor_margin=floor, terms=terms, cost=cost
    )
    lowest = Oracle(terms, cost).lowest_kept(unit, floor)
    if Oracle(terms, cost).keeps(unit, floor):
        assert rate == Decimal(unit - lowest) * 10000 // unit / 10000
    else:
        assert rate == 0


@pytest.mark.parametrize(
    ("unit", "floor", "headroom"),
    [
        ("50.00", "0", "0.2"),  # down to the cost of 40.00
        ("50.00", "0.20", "0"),  # at the floor already
        ("49.99", "0.20", "0"),  # under it
        ("60.00", "0.20", "0.1666"),  # down to 50.00, rounded down
        ("0.00", "0.20", "0"),
        ("50.00", "0.9995", "0"),  # nothing is left for costs
    ],
)
def test_the_headroom_of_a_simple_sale(unit, floor, headroom):
    got = discount_headroom(
        Decimal(unit),
        floor_margin=Decimal(floor),
        terms=terms_of(BARE),
        cost=flat_cost("40.00"),
    )
    assert got == Decimal(headroom)


def test_no_discount_is_promised_where_floor_and_fees_leave_nearly_nothing():
    got = discount_headroom(
        Decimal(50),
        floor_margin=Decimal("0.9995"),
        terms=terms_of(BARE),
        cost=flat_cost("0"),
    )
    assert got == 0


def test_what_costs_nothing_may_be_given_away():
    got = discount_headroom(
        Decimal(50),
        floor_margin=Decimal(0),
        terms=terms_of(BARE),
        cost=flat_cost("0"),
    )
    assert got == 1


# A price that stands already


@pytest.mark.parametrize("unit", ["0.00", "79.95", "80.37"])
def test_what_follows_from_a_given_price_is_the_plain_sale(unit):
    policy = Policy(
        key="p",
        target_margin=Decimal("0.35"),
        floor_margin=Decimal("0.10"),
        rounding=NINETY_FIVE,
    )
    unit = Decimal(unit)
    decision = given_price(unit, policy, terms=terms_of(quantity=2), cost=COST)
    terms = terms_of(quantity=2)
    assert decision.sale == sale_at(unit, terms=terms, cost=COST)
    assert decision.bound_by == GIVEN == "given"
    assert decision.target_margin == Decimal("0.35")
    assert decision.rules == price(policy, quantity=2).rules
    assert decision.discount_headroom == discount_headroom(
        unit, floor_margin=Decimal("0.10"), terms=terms, cost=COST
    )


def test_the_price_that_is_decided_is_the_same_when_it_is_given():
    policy = Policy(key="p", target_margin=Decimal("0.35"), rounding=NINETY_FIVE)
    decided = price(policy)
    unit = decided.sale.unit
    given_now = given_price(unit, policy, terms=terms_of(), cost=COST)
    assert given_now == dataclasses.replace(decided, bound_by="given")


def test_a_rule_that_nothing_can_meet_does_not_forbid_a_given_price():
    policy = Policy(key="p", target_margin=Decimal("0.999"), min_price=Decimal(60))
    with pytest.raises(NoPossiblePrice):
        price(policy)
    decision = given_price(Decimal(50), policy, terms=terms_of(), cost=COST)
    assert [check.name for check in decision.rules] == ["min_price"]
    assert decision.sale.unit == Decimal(50)


@pytest.mark.parametrize("unit", ["-0.01", "80.005"])
def test_a_given_price_that_cannot_be_is_refused(unit):
    with pytest.raises(InvalidInput, match="no price in EUR") as refused:
        given_price(Decimal(unit), Policy(key="p"), terms=terms_of(), cost=COST)
    assert refused.value.path == ("unit",)
