"""Which days a check is over."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from pricing.errors import InvalidInput
from pricing.iso_week import IsoWeek
from tests.contract.completed_jobs import MONDAY

W48 = IsoWeek(year=2026, week=48)
DAY = timedelta(days=1)


@pytest.mark.parametrize(
    ("first", "last", "where"),
    [
        (date(2026, 11, 2), date(2026, 11, 1), "to"),
        (date(2016, 1, 1), date(2026, 11, 1), "to"),
    ],
)
def test_days_that_cannot_be_are_refused(checks, first, last, where):
    with pytest.raises(InvalidInput) as refused:
        checks.days(first, last)
    assert refused.value.path == (where,)


def test_a_window_that_cannot_be_is_refused_and_a_longer_span_is_judged_whole(checks):
    with pytest.raises(InvalidInput, match="1 to 104"):
        checks.week(W48, window_weeks=0)
    year = checks.days(date(2026, 1, 1), date(2026, 12, 31), window_weeks=2)
    assert year.window == year.span
    week = checks.week(W48, window_weeks=2)
    assert (week.window.first, week.window.last) == (
        date(2026, 11, 16),
        MONDAY + 6 * DAY,
    )
