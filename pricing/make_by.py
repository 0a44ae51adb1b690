"""When an order can be done: bench hours spread over the weeks of the workshop."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

from pricing.money import ONE, ZERO, arithmetic, grid_ceiling

_DAYS_PER_WEEK = 7


def make_by(
    after: date,
    *,
    bench_hours: Decimal,
    queue_hours: Decimal,
    hours_per_week: Decimal | None,
) -> date | None:
    """The day by which an order is made, if nothing is put before it.

    Days = ⌈(queue + bench hours) ÷ hours a week × 7⌉, counted on from ``after``:
    bench time is thought of as even over all days of a week.

    Args:
        after: the day from which the work may begin at the latest.
        bench_hours: attended time of the order, 0 or more [h].
        queue_hours: attended time promised before it and not yet done, 0 or more
            [h].
        hours_per_week: attended time the workshop gives to orders, above 0
            [h/week]; None where it promises no dates.

    Returns:
        The day, or None where no date is promised or the calendar has none so late.

    >>> make_by(date(2026, 11, 25), bench_hours=Decimal(6), queue_hours=Decimal(30),
    ...         hours_per_week=Decimal(24))
    datetime.date(2026, 12, 6)
    """
    if hours_per_week is None:
        return None
    with arithmetic():
        # Multiplied before divided, so that whole days stay whole.
        exact = (queue_hours + bench_hours) * _DAYS_PER_WEEK / hours_per_week
        days = int(grid_ceiling(exact, ONE, ZERO))
    left = (date.max - after).days
    return after + timedelta(days=days) if days <= left else None
