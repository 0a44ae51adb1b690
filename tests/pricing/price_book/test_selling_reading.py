from decimal import Decimal

import pytest

from pricing.price_book import Rounding, StaleSpot, read_price_book
from tests.pricing.price_book.documents import (
    LEFT_OUT,
    changed,
    faults_of,
    the_fault,
)

SHOP = ("channels", 0)
RETAIL = ("policies", 0)
FIRST_BREAK = (*RETAIL, "quantity_breaks", 0)
SECOND_BREAK = (*RETAIL, "quantity_breaks", 1)


@pytest.mark.parametrize(
    ("path", "value", "dotted", "said"),
    [
        (("after_sale", "rate"), "1.1", "after_sale.rate", "at most 1"),
        (("after_sale", "share"), "60", "after_sale.share", "at most 1"),
        ((*SHOP, "packaging"), "-1", "channels[0].packaging", "at least 0"),
        ((*SHOP, "tax", "rate"), "20", "channels[0].tax.rate", "0.12 means 12 %"),
        ((*SHOP, "tax", "inclusive"), "yes", "channels[0].tax.inclusive", "true nor"),
        ((*SHOP, "fees", 0, "label"), " ", "channels[0].fees[0].label", "empty"),
        ((*SHOP, "fees", 0, "rate"), "-0.1", "channels[0].fees[0].rate", "least 0"),
        ((*SHOP, "fees", 0, "fixed"), "-1", "channels[0].fees[0].fixed", "least 0"),
        ((*SHOP, "fees", 0, "on"), "all", "channels[0].fees[0].on", '"charged"'),
        (
            (*SHOP, "shipping", "charged"),
            "-1",
            "channels[0].shipping.charged",
            "at least 0",
        ),
        ((*SHOP, "shipping", "paid"), "-1", "channels[0].shipping.paid", "least 0"),
        ((*RETAIL, "floor_margin"), "1", "policies[0].floor_margin", "under 1"),
        ((*RETAIL, "markup"), "-1", "policies[0].markup", "at least 0"),
        ((*RETAIL, "multipliers"), {}, "policies[0].multipliers", "no kind"),
        (
            (*RETAIL, "multipliers", "metal"),
            "1",
            "policies[0].multipliers.metal",
            "use one of: coin, labour",
        ),
        (
            (*RETAIL, "multipliers", "coin"),
            "-1",
            "policies[0].multipliers.coin",
            "at least 0",
        ),
        ((*RETAIL, "min_hourly"), "-1", "policies[0].min_hourly", "at least 0"),
        ((*RETAIL, "min_price"), "-1", "policies[0].min_price", "at least 0"),
        ((*RETAIL, "rounding", "step"), "0", "policies[0].rounding.step", "over 0"),
        (
            (*RETAIL, "rounding", "step"),
            LEFT_OUT,
            "policies[0].rounding.step",
            "missing",
        ),
        ((*RETAIL, "rounding", "offset"), "x", "policies[0].rounding.offset", "any"),
        ((*RETAIL, "validity_hours"), 0, "policies[0].validity_hours", "at least 1"),
        ((*RETAIL, "validity_hours"), 8761, "policies[0].validity_hours", "most 8760"),
        (
            (*RETAIL, "dead_band", "amount"),
            "-1",
            "policies[0].dead_band.amount",
            "at least 0",
        ),
        (
            (*RETAIL, "dead_band", "share"),
            "2",
            "policies[0].dead_band.share",
            "at most 1",
        ),
        ((*RETAIL, "max_step"), "1.5", "policies[0].max_step", "at most 1"),
        ((*RETAIL, "allow_lowering"), 1, "policies[0].allow_lowering", "true nor"),
        ((*RETAIL, "prudence"), "median", "policies[0].prudence", '"mean"'),
        ((*RETAIL, "prudence"), "0.5", "policies[0].prudence", "over 0.5"),
        ((*RETAIL, "prudence"), "1", "policies[0].prudence", "under 1"),
        ((*FIRST_BREAK, "from"), 1, "policies[0].quantity_breaks[0].from", "least 2"),
        (
            (*SECOND_BREAK, "from"),
            5,
            "policies[0].quantity_breaks[1].from",
            "rising quantity",
        ),
        (
            (*SECOND_BREAK, "target_margin"),
            "0.30",
            "policies[0].quantity_breaks[1].target_margin",
            "not under the 0.30",
        ),
        (
            (*FIRST_BREAK, "target_margin"),
            "0.35",
            "policies[0].quantity_breaks[0].target_margin",
            "not under the 0.35",
        ),
        (
            (*SECOND_BREAK, "target_margin"),
            "0.19",
            "policies[0].quantity_breaks[1].target_margin",
            "under the floor margin of 0.20",
        ),
        ((*RETAIL, "target_margin"), "1", "policies[0].target_margin", "under 1"),
        (
            (*RETAIL, "target_margin"),
            LEFT_OUT,
            "policies[0].quantity_breaks",
            "target_margin, which is not given",
        ),
        (
            (*RETAIL, "stale_spot", "warn_hours"),
            "0",
            "policies[0].stale_spot.warn_hours",
            "over 0 and at most 8760",
        ),
        (
            (*RETAIL, "stale_spot", "refuse_hours"),
            "8761",
            "policies[0].stale_spot.refuse_hours",
            "over 0 and at most 8760",
        ),
        (
            (*RETAIL, "stale_spot", "refuse_hours"),
            "20",
            "policies[0].stale_spot.refuse_hours",
            "20 is not over the warn_hours of 20.0; a price is warned of before",
        ),
        (
            (*RETAIL, "stale_spot"),
            {"warn_hours": "72"},
            "policies[0].stale_spot.refuse_hours",
            "72 is not over the warn_hours of 72",
        ),
        (
            (*RETAIL, "stale_spot", "days"),
            "3",
            "policies[0].stale_spot.days",
            "use one of: warn_hours, refuse_hours",
        ),
        ((*RETAIL, "stale_spot"), "72", "policies[0].stale_spot", "not a table"),
        (("extras", 0, "price_cost"), "-1", "extras[0].price_cost", "at least 0"),
        (("extras", 0, "minutes"), "-1", "extras[0].minutes", "at least 0"),
    ],
)
def test_a_fault_of_the_selling_side_is_told_by_its_path(path, value, dotted, said):
    where, message = the_fault(path, value)
    assert where == dotted
    assert said in message


def test_a_policy_without_any_rule_is_refused():
    where, message = the_fault(RETAIL, {"key": "retail", "floor_margin": "0.1"})
    assert where == "policies[0]"
    assert "target_margin, markup, multipliers, min_hourly, min_price" in message


@pytest.mark.parametrize(
    "rule",
    [
        {"target_margin": "0"},
        {"markup": "2.5"},
        {"multipliers": {"labour": "2"}},
        {"min_hourly": "30"},
        {"min_price": "60"},
    ],
)
def test_any_one_rule_is_enough(rule):
    read_price_book(changed((RETAIL, {"key": "retail", **rule})))


def test_a_break_at_fault_does_not_hide_the_faults_of_the_others():
    breaks = [
        {"from": 5, "target_margin": "0.30"},
        {"from": "six", "target_margin": "0.28"},
        {"from": 9, "target_margin": "0.10"},
        {"from": 8, "target_margin": "0.25"},
    ]
    assert set(faults_of(changed(((*RETAIL, "quantity_breaks"), breaks)))) == {
        "policies[0].quantity_breaks[1].from",
        "policies[0].quantity_breaks[2].target_margin",
        "policies[0].quantity_breaks[3].from",
        "policies[0].quantity_breaks[3].target_margin",
    }


def test_a_floor_over_the_target_and_over_each_break_is_told_for_each():
    assert list(faults_of(changed(((*RETAIL, "floor_margin"), "0.36")))) == [
        "policies[0].floor_margin",
        "policies[0].quantity_breaks[0].target_margin",
        "policies[0].quantity_breaks[1].target_margin",
    ]


def test_a_floor_at_the_target_is_allowed():
    policy = {"key": "retail", "target_margin": "0.2", "floor_margin": "0.20"}
    read_price_book(changed((RETAIL, policy)))


@pytest.mark.parametrize(
    ("written", "read"),
    [("mean", None), (LEFT_OUT, None), ("0.90", Decimal("0.90"))],
)
def test_prudence_is_the_mean_or_a_quantile(written, read):
    document = changed(((*RETAIL, "prudence"), "0.6"), ((*RETAIL, "prudence"), written))
    assert read_price_book(document).policies[0].prudence == read


@pytest.mark.parametrize(
    ("written", "read"),
    [
        (LEFT_OUT, StaleSpot(warn_hours=Decimal(26), refuse_hours=Decimal(72))),
        ({}, StaleSpot()),
        (
            {"warn_hours": "0.5"},
            StaleSpot(warn_hours=Decimal("0.5"), refuse_hours=Decimal(72)),
        ),
        (
            {"warn_hours": "100", "refuse_hours": "100.01"},
            StaleSpot(warn_hours=Decimal(100), refuse_hours=Decimal("100.01")),
        ),
    ],
)
def test_how_old_a_spot_may_be_has_its_usual_hours(written, read):
    document = changed(((*RETAIL, "stale_spot"), written))
    assert read_price_book(document).policies[0].stale_spot == read


def test_the_grid_of_prices_may_be_left_out():
    assert read_price_book(changed()).policies[0].rounding == Rounding(
        step=Decimal(5), offset=Decimal("-0.05")
    )
    without = changed(((*RETAIL, "rounding"), LEFT_OUT))
    assert read_price_book(without).policies[0].rounding is None
