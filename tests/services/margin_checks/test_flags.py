"""What needs attention, with its evidence."""

from __future__ import annotations

from datetime import timedelta

import pytest

from api.services.margin_checks.flags import headline
from pricing.iso_week import IsoWeek
from tests.contract.completed_jobs import MONDAY, job, lay, line, stage

W48 = IsoWeek(year=2026, week=48)
DAY = timedelta(days=1)


def test_the_headline_names_what_needs_attention(services, checks):
    slow = [stage(key, tried=20, minutes=400, planned_minutes=200)
            for key in ("fold", "bore", "press", "polish")]  # fmt: skip
    lay(
        services.storage,
        (
            job(under_floor=True, cause="price", parts={"price": -30}),
            [line()],
            slow[:1],
        ),
        (job(MONDAY - 7 * DAY), [line()], slow[1:]),
    )
    check = checks.week(W48)
    assert headline(check) == (
        "2026-W48: 1 job, margin 10.00 EUR, planned 40.00 (-30.00); 1 job is under "
        "the floor; Fold over the cone, Press to size, Bore and smooth the inside and "
        "1 more differ from the book"
    )
    assert check.flags[0].evidence == (
        "margin 10.00 EUR, floor 20 % of the net goods; most was lost by price: -30.00"
    )
    assert {each.code for each in check.flags} == {"under_floor", "minutes_differ"}
    assert "min an attempt, the book has" in check.flags[1].evidence
    one = checks.week(W48, window_weeks=1)
    assert headline(one).endswith("Fold over the cone differs from the book")


@pytest.mark.parametrize(
    ("cause", "said"),
    [
        ("plan", "floor 20 % of the net goods; it was planned so"),
        (None, "margin 38.00 EUR, floor 20 % of the net goods"),
        ("labour_efficiency", "most was lost by bench time: -2.00"),
    ],
)
def test_a_job_under_its_floor_says_why(services, checks, cause, said):
    made = job(under_floor=True, cause=cause, parts={"labour_efficiency": -2})
    lay(services.storage, (made, [line()], []))
    [flag] = checks.week(W48).flags
    assert flag.evidence.endswith(said)
    assert (flag.code, flag.subject, flag.n) == ("under_floor", made.number, 1)


def test_a_margin_as_planned_and_one_above_are_told_so(services, checks):
    lay(services.storage, (job(), [line()], []), (job(MONDAY + 7 * DAY), [], []))
    assert headline(checks.week(W48)).endswith("planned 40.00 (as planned)")
    lay(services.storage, (job(parts={"price": 2}), [line()], []))
    assert headline(checks.week(W48)).endswith("planned 80.00 (+2.00)")
