from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.errors import NoPossiblePrice
from pricing.money import arithmetic, currency
from pricing.price import decide_price
from pricing.price_book import Channel, Fee, Policy, QuantityBreak, Shipping, Tax
from pricing.price_rules import Rule, rules_of, target_margin_of, trend_of
from pricing.sale import CostFigures, SaleTerms, order_of
from tests.strategies.sales import MINOR, priced

WEIGHTED = "net at least 1.15 × coin 17.00 + 2 × labour 20.10 + the rest 4.27"
VAT = Tax(rate=Decimal("0.20"), inclusive=True)
SHOP = Channel(
    key="shop",
    tax=VAT,
    fees=(Fee(label="card", rate=Decimal("0.019"), fixed=Decimal("0.25")),),
    shipping=Shipping(charged=Decimal("6.90"), paid=Decimal("5.40")),
)
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


def price(policy: Policy, channel: Channel = SHOP, quantity: int = 1):
    terms = SaleTerms(channel=channel, currency=currency("EUR"), quantity=quantity)
    return decide_price(policy, terms=terms, cost=COST)


# The straight line under each rule


@given(priced(), st.integers(1, 20_000))
def test_the_line_is_off_by_no_more_than_its_slack(case, units):
    policy, terms, cost = case
    order = order_of(terms, cost)
    taken = order.taken(units * MINOR[terms.currency.code])
    for rule in rules_of(policy, order):
        share, start, slack = rule.line(trend_of(order))
        assert abs(share * taken.goods + start + rule.missing(taken)) <= slack


def test_roundings_can_use_up_nearly_all_the_slack():
    # Fee 50 % × 0.01 and tax 0.01 × 0.5 ÷ 1 both round up by half a cent.
    channel = Channel(
        key="ties",
        tax=Tax(rate=Decimal("0.5"), inclusive=False),
        fees=(Fee(label="half", rate=Decimal("0.5"), on="goods"),),
    )
    terms = SaleTerms(channel=channel, currency=currency("EUR"))
    order = order_of(terms, COST)
    rule = Rule(name="margin", needed="", on_margin=Decimal(1))
    share, start, slack = rule.line(trend_of(order))
    off = share * Decimal("0.01") + start + rule.missing(order.taken(Decimal("0.01")))
    assert off == Decimal("0.005")
    assert slack == Decimal("0.00501")


@pytest.mark.parametrize(
    ("tax", "on", "slack"),
    [
        # Half a cent for the fee; and for the tax half of what reaches the margin.
        ("on top", "charged", "0.00751"),  # half of the tax's half is paid as a fee
        ("on top", "goods", "0.00501"),  # none of it
        ("in it", "charged", "0.01001"),  # all of it
        ("in it", "net", "0.00751"),  # half: a lower net has a lower fee
        ("none", "charged", "0.00501"),
    ],
)
def test_slack_counts_each_rounding_by_what_it_does_to_the_margin(tax, on, slack):
    rate = Decimal(0) if tax == "none" else Decimal("0.2")
    channel = Channel(
        key="half",
        tax=Tax(rate=rate, inclusive=tax == "in it"),
        fees=(Fee(label="half", rate=Decimal("0.5"), on=on),),
    )
    order = order_of(SaleTerms(channel=channel, currency=currency("EUR")), COST)
    rule = Rule(name="margin", needed="", on_margin=Decimal(1))
    assert rule.line(trend_of(order))[2] == Decimal(slack)


@given(priced(), st.integers(1, 20_000), st.integers(1, 500))
def test_a_sum_gains_no_more_than_its_steepest_over_any_distance(case, units, more):
    policy, terms, cost = case
    order, minor = order_of(terms, cost), MINOR[terms.currency.code]
    low, high = order.taken(units * minor), order.taken((units + more) * minor)
    for rule in rules_of(policy, order):
        gained = rule.missing(low) - rule.missing(high)
        assert gained <= rule.steepest * (high.goods - low.goods)


# The rules one by one


@pytest.mark.parametrize(
    ("rule", "unit", "needed"),
    [
        ({"markup": "0.60"}, "79.44", "net at least 41.37 × (1 + 60 %), so 66.20"),
        (
            {"multipliers": {"coin": "1.15", "labour": "2"}},
            "76.82",
            f"{WEIGHTED}, so 64.02",
        ),
        (
            {"min_hourly": "50.00"},
            "64.73",
            "margin and labour at least 37.69 min ÷ 60 × 50.00, so 31.41",
        ),
        ({"min_price": "60.00"}, "60.00", "price at least 60.00 a piece"),
        ({"target_margin": "0.35"}, "79.22", "margin at least 35 % of net"),
    ],
)
def test_each_rule_alone_binds_and_says_what_it_needs(rule, unit, needed):
    ((name, value),) = rule.items()
    if isinstance(value, dict):
        value = {kind: Decimal(factor) for kind, factor in value.items()}
    else:
        value = Decimal(value)
    decision = price(Policy(key="one", **{name: value}))
    assert decision.sale.unit == Decimal(unit)
    assert decision.bound_by == name
    (check,) = decision.rules
    assert (check.name, check.needed) == (name, needed)
    assert check.least_unit == Decimal(unit)


def test_demands_of_an_order_are_shown_for_all_its_pieces():
    policy = Policy(
        key="all",
        markup=Decimal(1),
        multipliers={"labour": Decimal(2)},
        min_hourly=Decimal(30),
    )
    needed = {c.name: c.needed for c in price(policy, quantity=3).rules}
    weighted = "net at least 3 × (2 × labour 20.10 + the rest 21.27)"
    assert needed == {
        "markup": "net at least 3 × 41.37 × (1 + 100 %), so 248.22",
        "multipliers": f"{weighted}, so 184.41",
        "min_hourly": "margin and labour at least 3 × 37.69 min ÷ 60 × 30, so 56.54",
    }


@pytest.mark.parametrize(
    ("quantity", "target"), [(1, "0.35"), (4, "0.35"), (5, "0.30"), (20, "0.25")]
)
def test_the_last_quantity_break_reached_sets_the_target(quantity, target):
    policy = Policy(
        key="p",
        target_margin=Decimal("0.35"),
        quantity_breaks=(
            QuantityBreak(from_quantity=5, target_margin=Decimal("0.30")),
            QuantityBreak(from_quantity=10, target_margin=Decimal("0.25")),
        ),
    )
    decision = price(policy, quantity=quantity)
    assert decision.target_margin == Decimal(target)
    assert decision.sale.keeps(Decimal(target))
    assert decision.rules[0].needed == f"margin at least {target[2:]} % of net"


def test_fees_and_margin_above_the_whole_price_are_refused_with_their_shares():
    channel = Channel(key="dear", tax=VAT, fees=(Fee(label="f", rate=Decimal("0.03")),))
    with pytest.raises(NoPossiblePrice) as refused:
        price(Policy(key="p", target_margin=Decimal("0.98")), channel)
    assert refused.value.rule == "target_margin"
    assert refused.value.message == (
        "no price can meet target_margin: of what is paid for the goods tax takes "
        "16.67 %, fees take 3 %, the margin asks 98 % of net, which is 81.67 %, and "
        "-1.33 % is left for the costs; lower target_margin, or sell where the fees "
        "are lower"
    )


def test_fees_that_take_everything_leave_no_price_for_an_hourly_minimum():
    channel = Channel(key="dear", fees=(Fee(label="f", rate=Decimal(1)),))
    with pytest.raises(NoPossiblePrice, match=r"min_hourly: .* goods fees take 100 %"):
        price(Policy(key="p", min_hourly=Decimal(30)), channel)


def test_a_tax_that_takes_nearly_everything_leaves_no_price_for_a_markup():
    channel = Channel(key="taxed", tax=Tax(rate=Decimal(1999)), fees=SHOP.fees)
    with pytest.raises(NoPossiblePrice, match=r"goods tax takes 99\.95 %, and 0\.05 %"):
        price(Policy(key="p", markup=Decimal(0)), channel)


def test_a_rule_on_goods_alone_has_no_roundings_to_fear():
    policy = Policy(key="p", min_price=Decimal("60.00"))
    order = order_of(SaleTerms(channel=SHOP, currency=currency("EUR")), COST)
    (rule,) = rules_of(policy, order)
    assert rule.line(trend_of(order)) == (1, Decimal("-60.00"), Decimal("0.00001"))


def test_without_target_or_break_there_is_no_target():
    assert target_margin_of(Policy(key="p"), 7) is None
