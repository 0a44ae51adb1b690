from dataclasses import replace
from decimal import Decimal

from tests.pricing.margin_check.test_bridge import LINE, PLAN, STAGES

D = Decimal


def test_standards_follow_from_the_amounts_of_a_line():
    assert (LINE.coin_price, LINE.labour_rate, LINE.overhead_rate) == (
        25,
        32,
        D("9.60"),
    )
    bare = replace(LINE, coins=D(0), minutes=D(0))
    assert (bare.coin_price, bare.labour_rate, bare.overhead_rate) == (0, 0, 0)


def test_cost_counts_what_comes_back_and_a_job_its_fees_and_sending():
    assert LINE.cost == D("103.20")
    assert PLAN.cost == D("113.54")
    assert PLAN.net == D("205.75")
    assert PLAN.margin == D("92.21")


def test_minutes_of_a_visit_are_those_of_a_try_by_its_visits():
    twice = replace(STAGES[1], visits_per_try=D("1.25"))
    assert STAGES[1].minutes_per_visit == 20
    assert twice.minutes_per_visit == 16
