from dataclasses import replace
from decimal import Decimal

import pytest

from pricing.margin_check import (
    Finding,
    StageEvidence,
    TooFew,
    judge_minutes,
    judge_redo,
    judge_scrap,
    judge_stage,
)
from pricing.margin_check.evidence import FEWEST
from pricing.margin_check.intervals import clopper_pearson, jeffreys

D = Decimal


def timed(*differences, plan=10):
    """Evidence of attempts that took so much longer than planned [min]."""
    n = len(differences)
    return StageEvidence(
        key="fold",
        title="Fold",
        timed=n,
        minutes=D(plan * n + sum(differences)),
        planned_minutes=D(plan * n),
        difference_sq=D(sum(each * each for each in differences)),
    )


def test_too_many_scrapped_are_found_with_all_that_the_finding_rests_on():
    found = judge_scrap(failed=7, tried=60, chance=D("0.025"))
    assert (found.kind, found.n) == ("scrap", 60)
    assert found.interval == clopper_pearson(7, 60)
    assert found.jeffreys == jeffreys(7, 60)
    assert found.expected == D("0.025")
    assert found.observed == D("0.116666667")
    assert found.p == pytest.approx(D("0.0008"), abs=D("0.0003"))
    assert found.words == (
        "11.7 % scrapped, the book has 2.5 %; 95 % between 4.8 % and 22.6 %, "
        "p = 0.0007, n = 60"
    )


def test_too_few_scrapped_are_found_as_well():
    found = judge_redo(redone=0, counted=80, tried=80, chance=D("0.10"))
    assert found.kind == "redo"
    assert found.words.startswith("0.0 % sent back, the book has 10.0 %")


def test_a_very_small_p_is_said_to_be_under_what_is_shown():
    found = judge_scrap(failed=20, tried=40, chance=D("0.01"))
    assert "p under 0.0001, n = " in found.words


@pytest.mark.parametrize(
    ("redone", "counted", "tried", "n"),
    [
        (12, 80, 80, 80),  # more, all of them told
        (12, 24, 90, 90),  # more, few told: of all visits
        (0, 150, 400, 150),  # fewer: only of those told
        (3, 12, 60, None),  # as the book, though many of those told
        (9, 20, 400, None),  # those told are far over, all of them under
        (3, 6, 60, 6),  # too few are told to say fewer
        (0, 0, 60, 0),  # nobody tells
        (12, 80, 40, 80),  # planned otherwise for some: never of fewer than were told
    ],
)
def test_redo_is_judged_so_that_untold_visits_cannot_raise_an_alarm(
    redone, counted, tried, n
):
    found = judge_redo(redone=redone, counted=counted, tried=tried, chance=D("0.05"))
    assert getattr(found, "n", None) == n
    assert isinstance(found, TooFew) == (n in range(FEWEST))


@pytest.mark.parametrize("failed", [0, 1, 2, 3, 4, 5])
def test_what_luck_may_do_is_not_flagged(failed):
    assert judge_scrap(failed=failed, tried=80, chance=D("0.025")) is None


@pytest.mark.parametrize("tried", range(FEWEST))
def test_under_eight_tries_nothing_is_said_but_how_many_it_takes(tried):
    assert judge_scrap(failed=tried, tried=tried, chance=D("0.01")) == TooFew(
        kind="scrap", n=tried, needed=8
    )
    assert judge_minutes(timed(*[9] * tried)).n == tried
    assert TooFew(kind="scrap", n=3).words == (
        "3 of the 8 tries it takes; too few to say"
    )


@pytest.mark.parametrize("chance", [D(i) / 100 for i in range(101)])
def test_eight_tries_are_enough_to_say_something_whatever_the_chance(chance):
    outcomes = [judge_scrap(failed=k, tried=8, chance=chance) for k in (0, 8)]
    assert any(isinstance(each, Finding) for each in outcomes)


def test_longer_minutes_are_found_with_their_interval():
    found = judge_minutes(timed(2, 3, 2, 4, 3, 2, 3, 3))
    assert (found.kind, found.n, found.expected) == ("minutes", 8, 10)
    assert found.observed == D("12.75")
    assert 10 < found.interval.low < found.observed < found.interval.high
    assert (found.p, found.jeffreys) == (None, None)
    assert found.words == (
        "12.75 min an attempt, the book has 10.00; 95 % between 12.16 and 13.34, n = 8"
    )


def test_minutes_that_scatter_around_the_plan_are_not_flagged():
    assert judge_minutes(timed(2, -3, 1, -1, 4, -2, 0, 1)) is None
    assert judge_minutes(timed(*[0] * 8)) is None


def test_minutes_between_the_two_confidences_are_not_flagged():
    # mean 0.5: its 95 % interval begins just over 0, its 97 % one does not
    between = timed(
        D("1.1"), D("-0.1"), D("0.5"), D("0.9"), D("1.3"), D("-0.2"), 0, D("0.5")
    )
    assert judge_minutes(between) is None
    assert judge_minutes(replace(between, difference_sq=D("3.2"))) is not None


def test_a_stage_is_judged_in_all_three():
    busy = replace(timed(*[5] * 9), tried=40, failed=12, counted=40, redone=11)
    found = judge_stage(busy, scrap_chance=D("0.02"), redo_chance=D("0.03"))
    assert [each.kind for each in found] == ["scrap", "redo", "minutes"]
    calm = replace(busy, failed=1, redone=1, **as_planned(busy))
    assert judge_stage(calm, scrap_chance=D("0.02"), redo_chance=D("0.03")) == ()


def as_planned(evidence):
    return {"minutes": evidence.planned_minutes, "difference_sq": D(9)}


def test_a_stage_that_never_sends_back_by_the_book_is_judged_by_that():
    once = replace(timed(*[0] * 8), tried=9, counted=9, redone=1)
    found = judge_stage(once, scrap_chance=D("0.02"), redo_chance=None)
    assert [(each.kind, each.expected) for each in found] == [("redo", 0)]
