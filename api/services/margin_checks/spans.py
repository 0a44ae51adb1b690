"""Which days a check is over: a week, or from one day to another."""

from __future__ import annotations

from datetime import date, timedelta

from api.ports.margin_checks import Span
from pricing.errors import InvalidInput
from pricing.iso_week import IsoWeek

MOST_DAYS = 3660
"""Longest span [days]."""
WEEKS_JUDGED = 12
"""Weeks that stages are judged by, where nothing else is asked for."""
MOST_WEEKS_JUDGED = 104
WEEKS_SHOWN = 12
"""Weeks of a trend."""

_DAY = timedelta(days=1)


def week_span(week: IsoWeek) -> Span:
    """The days of a week."""
    monday, sunday = week.days
    return Span(first=monday, last=sunday)


def day_span(first: date, last: date) -> Span:
    """From a day to another, both among them.

    Raises:
        InvalidInput: the wrong way round, or longer than ten years.
    """
    if last < first:
        raise InvalidInput(
            f"{last} is before {first}; give the first day first", path=("to",)
        )
    if (last - first).days >= MOST_DAYS:
        raise InvalidInput(
            f"{first} to {last} is too long; a check is over {MOST_DAYS} days at most",
            path=("to",),
        )
    return Span(first=first, last=last)


def window_of(span: Span, weeks: int) -> Span:
    """The days that stages are judged by: so many weeks to the end of the span.

    A span that is longer is judged by all of it.

    Raises:
        InvalidInput: no week, or more than two years.
    """
    if not 1 <= weeks <= MOST_WEEKS_JUDGED:
        raise InvalidInput(
            f"stages cannot be judged by {weeks} weeks; take 1 to {MOST_WEEKS_JUDGED}",
            path=("window_weeks",),
        )
    first = span.last - timedelta(weeks=weeks) + _DAY
    return Span(first=min(first, span.first), last=span.last)


def weeks_to(span: Span) -> tuple[IsoWeek, ...]:
    """The weeks of the trend, which end with that of the span's last day."""
    return IsoWeek.of(span.last).weeks_back(WEEKS_SHOWN)
