from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from math import ceil

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.make_by import make_by

DAY = date(2026, 11, 25)
HUNDREDTH = Decimal("0.01")
HOURS = st.integers(0, 500_000).map(lambda n: n * HUNDREDTH)
WEEKS = st.integers(100, 16_800).map(lambda n: n * HUNDREDTH)


@pytest.mark.parametrize(
    ("bench", "queue", "week", "days"),
    [
        ("0", "0", "24", 0),
        ("24", "0", "24", 7),
        ("24.01", "0", "24", 8),  # 7.0029 days
        ("6", "30", "24", 11),  # 36 × 7 ÷ 24 = 10.5
        ("0.01", "0", "168", 1),
        ("7", "7", "21", 5),  # 4.67
        ("3", "0", "21", 1),  # exactly a day
    ],
)
def test_hours_are_spread_evenly_over_the_days_of_a_week(bench, queue, week, days):
    found = make_by(
        DAY,
        bench_hours=Decimal(bench),
        queue_hours=Decimal(queue),
        hours_per_week=Decimal(week),
    )
    assert found == DAY + timedelta(days=days)


@given(bench=HOURS, queue=HOURS, week=WEEKS)
def test_it_is_the_first_day_by_which_the_hours_are_there(bench, queue, week):
    needed = Fraction(bench + queue) * 7 / Fraction(week)
    found = make_by(DAY, bench_hours=bench, queue_hours=queue, hours_per_week=week)
    assert found == DAY + timedelta(days=ceil(needed))


def test_without_weekly_hours_no_date_is_promised():
    hours = Decimal(3)
    assert (
        make_by(DAY, bench_hours=hours, queue_hours=hours, hours_per_week=None) is None
    )


def test_a_date_beyond_the_calendar_is_none():
    last = date.max - timedelta(days=7)
    week = {"queue_hours": Decimal(0), "hours_per_week": Decimal(1)}
    assert make_by(last, bench_hours=Decimal(1), **week) == date.max
    assert make_by(last, bench_hours=Decimal("1.01"), **week) is None
    assert make_by(last, bench_hours=Decimal(10) ** 12, **week) is None
