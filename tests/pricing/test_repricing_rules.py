from decimal import Decimal

import pytest

from pricing.price_book import DeadBand, Policy
from pricing.repricing_rules import RepricingRules, Shown
from pricing.sale import Taken

# A shop without tax and fees: net is the price, and the margin what is over the cost.
POLICY = {
    "floor_margin": Decimal("0.20"),
    "dead_band": DeadBand(amount=Decimal("2.00"), share=Decimal("0.04")),
    "max_step": Decimal("0.25"),
}


def shown(unit, cost, net=None):
    price = Decimal(unit)
    net = price if net is None else Decimal(net)
    taken = Taken(price, price, net, price - net, price, [], net)
    return Shown.of(taken, Decimal(cost))


def decide(current, asked, *, cost="50", **rules):
    return RepricingRules(Policy(key="only", **{**POLICY, **rules})).judged(
        now=shown(current, cost),
        asked=shown(asked, cost),
        spot_at_floor=Decimal("31.5"),
    )


# Of 80.00, 50.00 is cost: a margin of 30 ÷ 80 = 37.5 %. 4 % of 80.00 is 3.20, and
# 25 % is 20.00.
@pytest.mark.parametrize(
    ("asked", "decision", "reason"),
    [
        ("80.00", "hold", "80.00 is still the price"),
        (
            "82.00",
            "hold",
            "82.00 would be 2.00 more (2.5 %), inside the dead band of 2.00",
        ),
        (
            "82.01",
            "hold",
            "82.01 would be 2.01 more (2.5 %), inside the dead band of 4 %",
        ),
        (
            "83.20",
            "hold",
            "83.20 would be 3.20 more (4 %), inside the dead band of 4 %",
        ),
        ("83.21", "raise", "83.21 would be 3.21 more (4 %)"),
        ("76.79", "lower", "76.79 would be 3.21 less (4 %)"),
        (
            "76.80",
            "hold",
            "76.80 would be 3.20 less (4 %), inside the dead band of 4 %",
        ),
        ("100.00", "raise", "100.00 would be 20.00 more (25 %)"),
        (
            "100.01",
            "review",
            "100.01 would be 20.01 more (25 %), over the largest step of 25 %",
        ),
        ("60.00", "lower", "60.00 would be 20.00 less (25 %)"),
        (
            "59.99",
            "review",
            "59.99 would be 20.01 less (25 %), over the largest step of 25 %",
        ),
    ],
)
def test_above_the_floor_the_size_of_the_change_decides(asked, decision, reason):
    made = decide("80.00", asked)
    assert (made.decision, made.reason) == (decision, reason)
    assert made.asked == Decimal(asked)
    assert made.new_price == Decimal("80.00" if decision == "hold" else asked)
    assert made.old_margin == Decimal("0.3750")


def test_a_policy_that_lowers_no_price_says_so_and_raises_all_the_same():
    made = decide("80.00", "70.00", allow_lowering=False)
    assert (made.decision, made.new_price) == ("hold", Decimal("80.00"))
    assert made.reason == (
        "70.00 would be 10.00 less (12.5 %), and this policy lowers no price"
    )
    assert decide("80.00", "90.00", allow_lowering=False).decision == "raise"
    assert decide("80.00", "59.00", allow_lowering=False).decision == "hold"


@pytest.mark.parametrize(
    ("current", "cost", "decision"),
    [
        # Of 80.00, a fifth is 16.00: a cost of 64.00 is at the floor, not under it.
        ("80.00", "64.00", "hold"),
        ("80.00", "64.01", "raise"),
    ],
)
def test_under_the_floor_a_price_is_raised_even_inside_the_dead_band(
    current, cost, decision
):
    made = decide(current, "81.00", cost=cost)
    assert made.decision == decision


# 80.00 − 66.20 = 13.80 of margin, 17.25 %, half up 17.3 %.
UNDER = "the margin at 80.00 would be 17.3 %, under the floor of 20 %"

BEYOND = "over the largest step of 25 %"


@pytest.mark.parametrize(
    ("asked", "decision", "reason"),
    [
        ("82.75", "raise", f"{UNDER}; 82.75 would be 2.75 more (3.4 %)"),
        (
            "110.35",
            "review",
            f"{UNDER}; 110.35 would be 30.35 more (37.9 %), {BEYOND}",
        ),
        ("80.00", "hold", f"{UNDER}, but the rules of this policy ask for no more"),
        ("75.00", "hold", f"{UNDER}, but the rules of this policy ask for no more"),
    ],
)
def test_a_margin_under_the_floor_is_told_first(asked, decision, reason):
    made = decide("80.00", asked, cost="66.20")
    assert (made.decision, made.reason) == (decision, reason)


@pytest.mark.parametrize("cost", ["64.01", "64.04"])
def test_a_margin_that_rounds_to_its_floor_is_just_under_it(cost):
    # 15.99 ÷ 80 = 19.99 % and 15.96 ÷ 80 = 19.95 %, both 20.0 % when shown.
    made = decide("80.00", "90.00", cost=cost)
    assert made.reason.startswith(
        "the margin at 80.00 would be just under the floor of 20 %"
    )


def test_a_price_that_is_all_tax_has_no_margin_rate():
    made = RepricingRules(Policy(key="only", **POLICY)).judged(
        now=shown("0.01", "50", net="0"),
        asked=shown("80.00", "50"),
        spot_at_floor=None,
    )
    assert (made.decision, made.old_margin) == ("review", None)
    assert made.reason.startswith(
        "nothing of 0.01 is left after tax, which is under the floor of 20 %; 80.00"
    )


def test_margins_are_at_the_price_there_is_and_the_price_there_will_be():
    # 30 ÷ 80 and 40 ÷ 90.
    made = decide("80.00", "90.00")
    assert (made.old_margin, made.new_margin) == (Decimal("0.3750"), Decimal("0.4444"))
    held = decide("80.00", "81.00")
    assert held.new_margin == held.old_margin == Decimal("0.3750")
    assert made.spot_at_floor == Decimal("31.5")


def test_the_bearable_cost_leaves_just_the_floor():
    price = shown("80.00", "50")
    assert price.bearable_cost(Decimal("0.20")) == 64
    assert shown("80.00", "64").keeps(Decimal("0.20"))
    assert not shown("80.00", "64.0001").keeps(Decimal("0.20"))


def test_what_is_remembered_and_forgotten_changes_no_answer(monkeypatch):
    monkeypatch.setattr("pricing.repricing_rules._MOST_KEPT", 2)
    rules = RepricingRules(Policy(key="only", **POLICY))
    for asked in ("83.21", "76.79", "83.20", "83.21", "76.79"):
        made = rules.judged(
            shown("80.00", "50"), shown(asked, "50"), spot_at_floor=Decimal("31.5")
        )
        assert made == decide("80.00", asked)
