from dataclasses import replace
from decimal import Decimal

import pytest

from pricing.margin_check import Attempt, JobActual, StageEvidence, check_job
from pricing.margin_check.stage_evidence import visits_per_try
from tests.oracles.workshops import redo, stage
from tests.pricing.margin_check.test_bridge import LINE, PLAN

D = Decimal
# Ten attempts that tell no visits, planned with 1.25 each: 125 min, or 100 of one each.
UNTOLD = StageEvidence(
    key="fold",
    title="Fold",
    tried=10,
    timed=10,
    minutes=D(110),
    planned_minutes=D(125),
    difference_sq=D(40),
)
VISITS = D("1.25")


def test_the_stages_of_many_jobs_are_added_up():
    plan = replace(PLAN, lines=(replace(LINE, pieces=1),))
    first = Attempt(minutes={"punch": D(6)}, visits={"fold": 2})
    second = Attempt(minutes={"punch": D(7)})
    lines = [
        check_job(plan, JobActual(attempts=(each,))).lines[0]
        for each in (first, second)
    ]
    punch, fold = StageEvidence.gathered(s for line in lines for s in line.stages)
    assert (punch.key, punch.title, punch.tried) == ("punch", "Punch", 2)
    assert punch.timed == 2
    assert (punch.minutes, punch.planned_minutes, punch.difference_sq) == (13, 10, 5)
    assert (fold.tried, fold.counted, fold.redone) == (3, 2, 1)
    assert StageEvidence.gathered([]) == ()


@pytest.mark.parametrize(
    ("minutes", "plan"), [(90, 100), (100, 100), (110, 110), (125, 125), (140, 125)]
)
def test_minutes_that_untold_visits_may_explain_are_as_planned(minutes, plan):
    found = replace(UNTOLD, minutes=D(minutes)).in_doubt(VISITS)
    assert found.planned_minutes == plan


def test_squares_follow_the_plan():
    """Each of the ten was planned with 2.5 less: Σ (d + 2.5)², with Σ d = −35."""
    found = replace(UNTOLD, minutes=D(90), difference_sq=D(140)).in_doubt(VISITS)
    assert found.difference_sq == 140 + 2 * D("2.5") * -35 + 10 * D("2.5") ** 2
    rounded = replace(UNTOLD, minutes=D(90), difference_sq=D(100)).in_doubt(VISITS)
    assert rounded.difference_sq == 0  # never under nothing


def test_told_visits_leave_no_doubt():
    told = replace(UNTOLD, counted=10)
    assert told.in_doubt(VISITS) == told
    half = replace(UNTOLD, counted=5, minutes=D(90)).in_doubt(VISITS)
    assert half.planned_minutes == D("112.5")


@pytest.mark.parametrize("member", ["timed", "tried"])
def test_nothing_timed_or_tried_leaves_nothing_to_doubt(member):
    nothing = replace(UNTOLD, **{member: 0})
    assert nothing.in_doubt(VISITS) == nothing


def test_visits_of_a_try_count_those_that_later_stages_send_back():
    route = (
        stage("anneal"),
        stage("fold", redo=redo("0.2", "anneal")),
        stage("polish", redo=redo("0.5", "polish")),
    )
    found = visits_per_try(route)
    assert [round(float(found[x]), 6) for x in ("anneal", "fold", "polish")] == [
        1.25,
        1.25,
        2,
    ]
