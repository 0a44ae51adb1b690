from dataclasses import replace
from decimal import Context, Decimal, localcontext
from fractions import Fraction

import pytest

from pricing.errors import InvalidInput
from pricing.margin_check import (
    PARTS,
    Attempt,
    CoinsUsed,
    JobActual,
    JobPlan,
    PlannedLine,
    PlannedStage,
    check_job,
)
from pricing.money import currency
from tests.pricing.margin_check.ledger import realised_margin
from tests.pricing.margin_check.random_weeks import random_job, random_week
from tests.thoroughness import thorough

D = Decimal
WEEKS = range(thorough(quick=150, full=1000))
STAGES = (
    PlannedStage(key="punch", title="Punch", minutes=D(12), minutes_per_try=D(5)),
    PlannedStage(
        key="fold",
        title="Fold",
        minutes=D(48),
        minutes_per_try=D(20),
        scrap_chance=D("0.05"),
        redo_chance=D("0.1"),
    ),
)
LINE = PlannedLine(
    coin_key="dollar",
    coin_name="Dollar",
    pieces=2,
    goods=D("240.00"),
    coins=D("2.4"),
    coin_amount=D("60.00"),
    recovery=D("6.00"),
    labour=D("32.00"),
    overhead=D("9.60"),
    minutes=D(60),
    consumables_and_tools=D("4.00"),
    other=D("3.60"),
    slug_g=D("4.0"),
    bored_g=D("0.5"),
    stages=STAGES,
)
PLAN = JobPlan(
    currency=currency("EUR"),
    lines=(LINE,),
    sold_price=D("240.00"),
    shipping_charged=D("6.90"),
    tax=D("41.15"),
    fees=D("4.94"),
    shipping_paid=D("5.40"),
    floor_margin=D("0.20"),
)
NOTHING = JobActual()


def actual(**logged):
    return JobActual(
        **{k: D(v) if isinstance(v, str) else v for k, v in logged.items()}
    )


def moved(plan=PLAN, **logged):
    """The parts that are not nothing."""
    parts = check_job(plan, actual(**logged)).parts
    return {name: str(amount) for name, amount in parts.items() if amount}


def good(**logged):
    return Attempt(minutes={k: D(v) for k, v in logged.items()})


def added(checks):
    """The bridge of a week: sums over its jobs."""
    sums = {name: sum((c.parts[name] for c in checks), D(0)) for name in PARTS}
    planned = sum((c.planned.margin for c in checks), D(0))
    realised = sum((c.realised.margin for c in checks), D(0))
    return planned, realised, sums


@pytest.mark.parametrize(
    ("logged", "parts"),
    [
        ({"sold_price": "230.00", "tax": "41.15"}, {"price": "-10.00"}),
        ({"tax": "40.00"}, {"tax": "1.15"}),
        ({"fees": "6.00"}, {"fees": "-1.06"}),
        ({"shipping_charged": "9.90", "tax": "41.15"}, {"shipping": "3.00"}),
        ({"shipping_paid": "4.90"}, {"shipping": "0.50"}),
        ({"recovery_sold": "8.50"}, {"recovery": "2.50"}),
        ({"consumables_and_tools": "5.25"}, {"consumables_and_tools": "-1.25"}),
        ({"labour_rate": "35.00"}, {"labour_rate": "-3.00"}),
    ],
)
def test_money_that_differs_is_its_own_part(logged, parts):
    assert moved(**logged) == parts


def test_a_tax_that_was_not_logged_is_the_planned_share_of_what_was_paid():
    # 41.15 is a sixth of 246.90, as with 20 % tax inside; a sixth of 236.90 is 39.48.
    assert moved(sold_price="230.00") == {"price": "-10.00", "tax": "1.67"}
    assert moved(shipping_charged="9.90") == {"shipping": "3.00", "tax": "-0.50"}
    assert moved(sold_price="0.00", shipping_charged="0.00")["tax"] == "41.15"
    untaxed = replace(PLAN, tax=D(0))
    assert moved(untaxed, sold_price="230.00") == {"price": "-10.00"}
    gift = replace(PLAN, sold_price=D(0), shipping_charged=D(0), tax=D(0))
    assert moved(gift, sold_price="12.00") == {"price": "12.00"}


def test_a_dearer_coin_is_a_part_of_the_coins_used_and_another_coin_of_the_standard():
    # standard: 2.4 coins at 25.00
    dear = CoinsUsed(count=3, unit_cost=D("27.00"))
    assert moved(coins=(dear,)) == {
        "metal_price": "-6.00",
        "spoilage": "-15.00",
        "recovery": "1.50",  # the metal follows the coins
    }


def test_coins_of_two_purchases_are_taken_together():
    two = (CoinsUsed(count=1, unit_cost=D(20)), CoinsUsed(count=2, unit_cost=D(29)))
    assert moved(coins=two)["metal_price"] == "-3.00"


def test_longer_work_takes_wages_overhead_and_what_is_used_up():
    # fold 2 × 30 min against 48 planned: 12 min at 32.00 and 9.60 an hour
    attempts = (good(punch="6", fold="30"), good(punch="6", fold="30"))
    coins = (CoinsUsed(count=2, unit_cost=D(25)),)
    found = check_job(PLAN, actual(attempts=attempts, coins=coins))
    assert found.parts["labour_efficiency"] == D("-6.40")
    assert found.parts["overhead"] == D("-1.92")
    assert found.parts["consumables_and_tools"] == D("-0.80")
    assert [x.labour_efficiency for x in found.lines[0].stages] == [0, D("-6.40")]
    assert (found.minutes, found.planned_minutes, found.labour) == (72, 60, D("38.40"))


def test_the_wage_of_the_hours_worked_is_the_rate_part():
    attempts = (good(punch="6", fold="39"), good(punch="6", fold="39"))
    found = moved(attempts=attempts, labour_rate="34.00")
    assert found["labour_rate"] == "-3.00"  # 2.00 for 1.5 h
    assert found["labour_efficiency"] == "-16.00"  # 0.5 h at the standard 32.00


def test_what_was_not_logged_makes_no_difference_and_is_named():
    found = check_job(PLAN, NOTHING)
    assert not any(found.parts.values())
    assert found.planned == found.realised
    assert found.assumed == (
        "sold_price",
        "shipping_charged",
        "tax",
        "fees",
        "shipping_paid",
        "recovery_sold",
        "labour_rate",
        "consumables_and_tools",
        "lines[0].coins",
        "lines[0].minutes",
    )


def test_what_was_logged_is_not_named_as_assumed():
    attempts = (good(punch="6", fold="24"), good(punch="6", fold="24"))
    logged = actual(
        sold_price="240.00",
        shipping_charged="6.90",
        tax="41.15",
        fees="4.94",
        shipping_paid="5.40",
        recovery_sold="6.00",
        labour_rate="32.00",
        consumables_and_tools="4.00",
        coins=(CoinsUsed(count=2, unit_cost=D(30)),),
        attempts=attempts,
    )
    assert check_job(PLAN, logged).assumed == ()


def test_attempts_without_coins_take_one_each_at_the_planned_price():
    attempts = (good(), good(), Attempt(outcome="scrapped", stage="fold"))
    found = check_job(PLAN, actual(attempts=attempts))
    assert found.lines[0].coins_used == 3
    assert found.parts["spoilage"] == D("-15.00")
    assert found.parts["metal_price"] == 0
    assert "lines[0].unit_cost" in found.assumed


def test_pieces_that_no_attempt_tells_of_are_taken_as_planned():
    found = check_job(PLAN, actual(attempts=(good(fold="30"),)))
    assert found.lines[0].coins_used == D("2.2")  # one, and half of 2.4
    assert found.minutes == 66  # 12 + 30 + half of 48
    assert {"lines[0].attempts", "lines[0].minutes.punch"} <= set(found.assumed)


def test_hourly_is_what_is_left_for_the_hours_worked():
    found = check_job(PLAN, NOTHING)
    # 240 + 6.90 − 41.15 − 4.94 − 5.40 − 103.20 of making, and the wage of 32.00
    assert found.planned.margin == D("92.21")
    assert found.hourly == D("124.21")
    bare = replace(
        LINE, minutes=D(0), labour=D(0), overhead=D(0), stages=(), recovery=D(0)
    )
    assert check_job(replace(PLAN, lines=(bare,)), NOTHING).hourly is None


def test_totals_are_what_came_in_what_it_cost_and_the_rest():
    found = check_job(PLAN, actual(sold_price="200.00", fees="9.94"))
    assert found.planned.revenue == D("205.75")
    assert found.realised.revenue == D("172.42")  # 206.90 less 34.48 of tax
    assert found.realised.cost - found.planned.cost == 5
    assert found.realised.margin == found.realised.revenue - found.realised.cost


def test_a_job_under_its_floor_names_its_worst_part():
    logged = actual(sold_price="150.00", fees="9.94")
    found = check_job(PLAN, logged)
    assert (found.under_floor, found.cause) == (True, "price")
    assert not check_job(PLAN, NOTHING).under_floor
    assert check_job(PLAN, NOTHING).cause is None


def test_the_floor_is_held_against_the_goods_and_not_the_shipping():
    # Net 100.00 of the goods and 100.00 of sending, margin 20.00: on the floor of 20 %.
    free = replace(LINE, coin_amount=D("120.00"), recovery=D(0), labour=D(0))
    free = replace(free, overhead=D(0), consumables_and_tools=D(0), other=D(0))
    plan = replace(
        PLAN,
        lines=(free,),
        sold_price=D("120.00"),
        shipping_charged=D("120.00"),
        tax=D("40.00"),
        fees=D(0),
        shipping_paid=D("60.00"),
    )
    assert check_job(plan, NOTHING).planned.margin == 20
    assert not check_job(plan, NOTHING).under_floor
    found = check_job(plan, actual(shipping_paid="60.01"))
    assert (found.under_floor, found.cause) == (True, "shipping")


def test_what_was_planned_under_its_floor_says_so():
    found = check_job(replace(PLAN, floor_margin=D("0.60")), actual(fees="9.00"))
    assert (found.under_floor, found.cause) == (True, "plan")


def test_a_floor_missed_by_no_part_is_the_plans_own():
    """Sending charged and paid alike takes more of the tax off the goods."""
    plan = replace(PLAN, sold_price=D("240.00"), shipping_charged=D(0), tax=D("40.00"))
    margin = check_job(plan, NOTHING).planned.margin
    plan = replace(plan, floor_margin=margin / 200)
    found = check_job(
        plan, actual(shipping_charged="9.00", shipping_paid="14.40", tax="40.00")
    )
    assert not check_job(plan, NOTHING).under_floor
    assert not any(found.parts.values())
    assert (found.under_floor, found.cause) == (True, "plan")


def test_something_given_away_is_under_its_floor_if_it_cost_anything():
    gift = actual(sold_price="0.00", shipping_charged="0.00", tax="0.00")
    found = check_job(PLAN, gift)
    assert (found.under_floor, found.cause) == (True, "price")


def test_lines_share_what_falls_once_by_their_goods():
    ring = replace(LINE, goods=D("80.00"))
    plan = replace(PLAN, lines=(LINE, ring), sold_price=D("320.00"))
    found = check_job(plan, actual(fees="5.34", recovery_sold="12.01"))
    assert [x.parts["fees"] for x in found.lines] == [D("-0.30"), D("-0.10")]
    assert [x.parts["recovery"] for x in found.lines] == [D("0.01"), 0]
    for line in found.lines:
        assert line.realised_margin - line.planned_margin == sum(line.parts.values())
    assert sum(x.planned_margin for x in found.lines) == found.planned.margin


def test_lines_of_no_price_share_by_their_pieces():
    free = replace(LINE, goods=D(0))
    plan = replace(PLAN, lines=(free, replace(free, pieces=4)), sold_price=D("0.00"))
    found = check_job(plan, actual(fees="5.54"))
    assert [x.parts["fees"] for x in found.lines] == [D("-0.20"), D("-0.40")]


def test_each_line_keeps_its_own_coins_and_attempts():
    plan = replace(PLAN, lines=(LINE, LINE), sold_price=D("480.00"))
    logged = actual(
        coins=(CoinsUsed(line=1, count=3, unit_cost=D(25)),),
        attempts=(Attempt(line=1, outcome="scrapped", stage="punch"),),
    )
    first, second = check_job(plan, logged).lines
    assert not any(first.parts.values())
    assert second.parts["spoilage"] == D("-15.00")
    assert [x.failed for x in second.stages] == [1, 0]


def test_scale_readings_stand_beside_the_model():
    attempts = (
        Attempt(slug_g=D("4.2"), bored_g=D("0.6")),
        Attempt(slug_g=D("3.8")),
    )
    line = check_job(PLAN, actual(attempts=attempts)).lines[0]
    assert line.slug_ratios == (D("1.05"), D("0.95"))
    assert line.bored_ratios == (D("1.2"),)


def test_no_model_no_ratio():
    plan = replace(PLAN, lines=(replace(LINE, slug_g=None),))
    line = check_job(plan, actual(attempts=(Attempt(slug_g=D(4)),))).lines[0]
    assert line.slug_ratios == ()


def test_an_own_coin_costs_nothing_and_moves_nothing():
    own = replace(LINE, coin_amount=D(0), recovery=D(0))
    coins = (CoinsUsed(count=3, unit_cost=D(0)),)
    assert moved(replace(PLAN, lines=(own,)), coins=coins) == {}


def test_a_plan_of_no_coins_and_no_minutes_takes_what_came_as_a_difference():
    bare = replace(LINE, coins=D(0), coin_amount=D(0), minutes=D(0))
    bare = replace(bare, labour=D(0), overhead=D(0), stages=())
    coins = (CoinsUsed(count=1, unit_cost=D(30)),)
    plan = replace(PLAN, lines=(bare,))
    assert moved(plan, coins=coins) == {"metal_price": "-30.00"}
    assert not any(check_job(plan, NOTHING).parts.values())


def test_an_impossible_log_is_refused():
    with pytest.raises(InvalidInput) as refused:
        check_job(PLAN, actual(fees="-1.00"))
    assert refused.value.path == ("fees",)


def test_a_callers_own_decimal_context_moves_nothing():
    plan, logged = random_job("context")
    with localcontext(Context(prec=6)):
        assert check_job(plan, logged) == check_job(*random_job("context"))


@pytest.mark.parametrize("seed", WEEKS)
def test_the_bridge_of_a_random_week_adds_up_to_the_minor_unit(seed):
    week = random_week(seed)
    checks = [check_job(*job) for job in week]
    planned, realised, parts = added(checks)
    assert realised - planned == sum(parts.values())
    assert added(checks[::-1]) == (planned, realised, parts)
    for check, (plan, logged) in zip(checks, week, strict=True):
        step = plan.currency.step
        assert all(amount % step == 0 for amount in check.parts.values())
        for line in check.lines:
            gone = line.realised_margin - line.planned_margin
            assert gone == sum(line.parts.values())
            by_stage = sum(x.labour_efficiency for x in line.stages)
            assert line.parts["labour_efficiency"] == by_stage
        shares = [(x.planned_margin, x.realised_margin) for x in check.lines]
        margins = check.planned.margin, check.realised.margin
        assert tuple(map(sum, zip(*shares, strict=True))) == margins
        for name in PARTS:
            whole = sum(line.parts[name] for line in check.lines)
            assert check.parts[name] == whole
        off = abs(Fraction(check.realised.margin) - realised_margin(plan, logged))
        assert off <= Fraction(step) / 2 * len(plan.lines)
        assert not any(check_job(plan, NOTHING).parts.values())
        assert not any(check_job(plan, as_planned(plan)).parts.values())


def as_planned(plan):
    """A log that says all that it can, just as it was planned."""
    lines = [line for line in plan.lines if line.coins % 1 == 0]
    recovery = sum((line.recovery for line in plan.lines), D(0))
    used = sum((line.consumables_and_tools for line in plan.lines), D(0))
    return JobActual(
        sold_price=plan.sold_price,
        shipping_charged=plan.shipping_charged,
        tax=plan.tax,
        fees=plan.fees,
        shipping_paid=plan.shipping_paid,
        recovery_sold=recovery,
        consumables_and_tools=used,
        labour_rate=plan.lines[0].labour_rate if len(plan.lines) == 1 else None,
        coins=tuple(
            CoinsUsed(
                line=plan.lines.index(line),
                count=int(line.coins),
                unit_cost=line.coin_price,
            )
            for line in lines
        ),
    )


def test_a_week_without_jobs_has_no_difference():
    assert added([]) == (0, 0, dict.fromkeys(PARTS, 0))
