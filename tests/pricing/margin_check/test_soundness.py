from dataclasses import replace
from decimal import Decimal

import pytest

from pricing.errors import InvalidInput
from pricing.margin_check import Attempt, CoinsUsed
from pricing.margin_check.soundness import refuse_unsound
from pricing.money import currency
from tests.pricing.margin_check.test_bridge import LINE, PLAN, actual

D = Decimal


def refused(plan=PLAN, **logged):
    """Dotted paths of all that is refused, with what is said."""
    with pytest.raises(InvalidInput) as caught:
        refuse_unsound(plan, actual(**logged))
    assert caught.value.path == caught.value.faults[0].path
    assert caught.value.message == caught.value.faults[0].message
    return {fault.dotted: fault.message for fault in caught.value.faults}


def attempt(**said):
    return {"attempts": (Attempt(**said),)}


@pytest.mark.parametrize(
    ("logged", "path", "words"),
    [
        ({"sold_price": "-1.00"}, "sold_price", "under nothing"),
        ({"fees": "1.005"}, "fees", "whole steps of 0.01"),
        ({"labour_rate": "-1"}, "labour_rate", "give 0 or more"),
        ({"tax": "300.00"}, "tax", "more than the 246.90"),
        ({"tax": "60.00", "sold_price": "50.00"}, "tax", "more than the 56.90"),
        ({"tax": "250.00", "shipping_charged": "9.00"}, "tax", "more than the 249.00"),
        (attempt(line=1), "attempts[0].line", "from 0 to 0"),
        (attempt(line=-1), "attempts[0].line", "no line -1"),
        (attempt(outcome="lost"), "attempts[0].outcome", "good or scrapped"),
        (attempt(stage="fold"), "attempts[0].stage", "not scrapped at 'fold'"),
        (attempt(outcome="scrapped"), "attempts[0].stage", "punch, fold"),
        (
            attempt(outcome="scrapped", stage="melt"),
            "attempts[0].stage",
            "no stage 'melt'; it has: punch, fold",
        ),
        (attempt(minutes={"melt": D(1)}), "attempts[0].minutes.melt", "no stage"),
        (attempt(minutes={"fold": D(-1)}), "attempts[0].minutes.fold", "0 or more"),
        (attempt(visits={"melt": 1}), "attempts[0].visits.melt", "no stage 'melt'"),
        (attempt(visits={"fold": 0}), "attempts[0].visits.fold", "1 or more"),
        (attempt(slug_g=D(0)), "attempts[0].slug_g", "what the scale showed"),
        (
            {"coins": (CoinsUsed(line=2, count=1, unit_cost=D(1)),)},
            "coins[0].line",
            "no line 2",
        ),
        (
            {"coins": (CoinsUsed(count=0, unit_cost=D(1)),)},
            "coins[0].count",
            "1 or more",
        ),
        (
            {"coins": (CoinsUsed(count=1, unit_cost=D(-1)),)},
            "coins[0].unit_cost",
            "0 or more",
        ),
        (
            {
                "coins": (CoinsUsed(count=1, unit_cost=D(30)),),
                "attempts": (Attempt(), Attempt()),
            },
            "coins",
            (
                "1 coin cannot have been put to work 2 times (Dollar); every attempt "
                "takes a coin"
            ),
        ),
    ],
)
def test_what_cannot_be_is_refused_by_its_path(logged, path, words):
    found = refused(**logged)
    assert list(found) == [path]
    assert words in found[path]


def test_every_fault_is_told_at_once():
    found = refused(fees="-1.00", attempts=(Attempt(stage="fold"), Attempt(line=4)))
    assert list(found) == ["fees", "attempts[0].stage", "attempts[1].line"]


def test_amounts_are_whole_in_the_currency_of_the_job():
    yen = replace(PLAN, currency=currency("JPY"))
    assert "plan.tax" in refused(yen)
    assert "whole steps of 1" in refused(yen)["plan.tax"]


@pytest.mark.parametrize(
    ("spoilt", "path"),
    [
        ({"pieces": 0}, "plan.lines[0].pieces"),
        ({"labour": D("1.005")}, "plan.lines[0].labour"),
        ({"coins": D(-1)}, "plan.lines[0].coins"),
        ({"minutes": D(-1)}, "plan.lines[0].minutes"),
    ],
)
def test_a_plan_that_cannot_be_is_refused(spoilt, path):
    assert path in refused(replace(PLAN, lines=(replace(LINE, **spoilt),)))


def test_a_plan_of_nothing_is_refused_whatever_was_logged():
    found = refused(replace(PLAN, lines=()), attempts=(Attempt(),))
    assert list(found) == ["plan.lines"]


def test_a_line_without_a_route_has_no_stage_to_fail_at():
    bare = replace(PLAN, lines=(replace(LINE, stages=()),))
    found = refused(bare, attempts=(Attempt(outcome="scrapped", stage="fold"),))
    assert found == {"attempts[0].stage": "the plan has no stage 'fold'; it has: none"}


def test_what_can_be_passes():
    refuse_unsound(
        PLAN,
        actual(
            sold_price="0.00",
            shipping_charged="0.00",
            tax="0.00",
            coins=(CoinsUsed(count=1, unit_cost=D("16.66667")),),
            attempts=(Attempt(outcome="scrapped", stage="punch", finished_g=D(9)),),
        ),
    )
