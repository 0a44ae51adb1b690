from dataclasses import replace
from decimal import Decimal

import pytest

from pricing.margin_check import Attempt, PlannedStage
from pricing.margin_check.attempts import missing_share, stages_worked, trail
from tests.pricing.margin_check.test_bridge import LINE

D = Decimal


def stage(key, *, back=None, visits="1", minutes="10"):
    return PlannedStage(
        key=key,
        title=key,
        minutes=D(minutes),
        minutes_per_try=D(minutes),
        redo_chance=D("0.1") if back else None,
        redo_to=back,
        visits_per_try=D(visits),
    )


ROUTE = (
    stage("punch"),
    stage("anneal"),
    stage("fold", back="anneal"),
    stage("press", back="fold"),
)
ONE = replace(LINE, pieces=1, stages=ROUTE)


def scrapped(at, **said):
    return Attempt(outcome="scrapped", stage=at, **said)


def worked(*attempts, line=ONE):
    return {each.stage.key: each for each in stages_worked(line, attempts)}


@pytest.mark.parametrize(
    ("attempt", "visits"),
    [
        (Attempt(), (1, 1, 1, 1)),
        (scrapped("anneal"), (1, 1, 0, 0)),
        (scrapped("punch", minutes={"fold": D(3)}), (1, 0, 1, 0)),
        (scrapped("anneal", visits={"fold": 1, "anneal": 2}), (1, 2, 1, 0)),
        (Attempt(visits={"press": 2}), (1, 1, 1, 2)),
    ],
)
def test_a_piece_comes_to_every_stage_up_to_the_one_that_scrapped_it(attempt, visits):
    assert trail(attempt, ROUTE).visits == visits


@pytest.mark.parametrize(
    ("attempt", "redone"),
    [
        (Attempt(visits={"punch": 1}), (0, 0, 0, 0)),
        (Attempt(visits={"anneal": 2, "fold": 2}), (0, 0, 1, 0)),
        (Attempt(visits={"fold": 2, "press": 2}), (0, 0, 0, 1)),
        # twice from press to fold, and once from fold to anneal
        (Attempt(visits={"anneal": 2, "fold": 4, "press": 3}), (0, 0, 1, 2)),
        # sent back from fold, then scrapped while it was annealed
        (scrapped("anneal", visits={"anneal": 2, "fold": 1}), (0, 0, 1, 0)),
        # more visits than the book has ways back for: of the stage itself
        (Attempt(visits={"punch": 3}), (2, 0, 0, 0)),
        # told only in part: never below none
        (Attempt(visits={"fold": 2}), (0, 0, 1, 0)),
        (Attempt(), (0, 0, 0, 0)),
    ],
)
def test_visits_tell_from_where_a_piece_was_sent_back(attempt, redone):
    assert trail(attempt, ROUTE).redone == redone


def test_a_way_back_that_is_not_known_leads_to_the_stage_itself():
    route = (*ROUTE[:2], replace(ROUTE[2], redo_to=None), ROUTE[3])
    found = trail(Attempt(visits={"anneal": 1, "fold": 3}), route)
    assert found.redone == (0, 0, 2, 0)


def test_counts_are_of_visits_and_redo_only_of_those_that_tell():
    found = worked(Attempt(visits={"anneal": 2, "fold": 2}), scrapped("fold"))
    fold = found["fold"]
    assert (fold.tried, fold.failed, fold.counted, fold.redone) == (3, 1, 2, 1)
    assert (found["press"].tried, found["press"].failed) == (1, 0)


def test_untold_minutes_of_an_attempt_are_as_planned():
    line = replace(ONE, pieces=2)
    found = worked(Attempt(minutes={"fold": D(14)}), Attempt(), line=line)
    assert found["fold"].actual_minutes == 24
    assert (found["fold"].timed, found["fold"].minutes) == (1, 14)
    assert found["fold"].assumed
    assert found["punch"].actual_minutes == 10  # of the line, as nothing was timed


def test_untold_minutes_of_two_visits_are_those_of_two():
    line = replace(ONE, pieces=2)
    timed = Attempt(minutes={"fold": D(14)})
    found = worked(timed, Attempt(visits={"fold": 2, "anneal": 2}), line=line)
    assert found["fold"].actual_minutes == 34


def test_pieces_without_an_attempt_take_their_share_of_the_plan():
    line = replace(ONE, pieces=4)
    assert missing_share(line, [Attempt()]) == D("0.75")
    assert missing_share(line, [Attempt()] * 5) == 0
    found = worked(Attempt(minutes={"fold": D(14)}), line=line)
    assert found["fold"].actual_minutes == D("21.5")


def test_a_measured_visit_is_held_against_a_planned_one():
    route = (stage("fold", back="fold", visits="1.25", minutes="10"),)
    line = replace(ONE, stages=route)
    told = worked(Attempt(minutes={"fold": D(17)}, visits={"fold": 2}), line=line)
    assert told["fold"].planned_minutes == 16  # two of eight
    assert told["fold"].difference_sq == 1


def test_untold_visits_leave_what_the_redo_chance_makes_uncertain():
    route = (stage("fold", back="fold", visits="1.25", minutes="10"),)
    line = replace(ONE, stages=route)
    near = worked(Attempt(minutes={"fold": D(11)}), line=line)["fold"]
    far = worked(Attempt(minutes={"fold": D(16)}), line=line)["fold"]
    assert near.planned_minutes == far.planned_minutes == 10
    assert near.difference_sq == 64 * D("0.3125")  # 8² × 1.25 × 0.25
    assert far.difference_sq == 36


def test_a_stage_it_did_not_come_to_has_no_planned_minutes():
    early = trail(scrapped("punch"), ROUTE)
    assert early.planned_minutes(2, ROUTE[2]) == 0
