"""ISO weeks: Monday to Sunday, and the moments between them in a time zone.

References:
    [1] ISO 8601: a week begins on Monday and belongs to the year that has its
        Thursday; it is written as the year, -W and two digits (from memory; the
        calendar itself is the standard library's).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from pricing.errors import InvalidInput, Path

FIRST_YEAR = 1970
LAST_YEAR = 9000

_WRITTEN = re.compile(r"([0-9]{4})-W([0-9]{2})", re.ASCII)
_WEEK = timedelta(weeks=1)
_TO_SUNDAY = timedelta(days=6)


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class IsoWeek:
    """One week of the ISO calendar; see [1].

    Attributes:
        year: of its Thursday [CE], from 1970 to 9000.
        week: number in that year, from 1 to 52 or 53 [count].

    Raises:
        InvalidInput: the year has no such week.

    >>> str(IsoWeek(year=2026, week=48))
    '2026-W48'
    """

    year: int
    week: int

    def __post_init__(self) -> None:
        if not FIRST_YEAR <= self.year <= LAST_YEAR:
            raise InvalidInput(
                f"the year {self.year} is not kept; give one from {FIRST_YEAR} to "
                f"{LAST_YEAR}",
                path=("week",),
            )
        # 28 December is always in the last week of its year.
        last = date(self.year, 12, 28).isocalendar().week
        if not 1 <= self.week <= last:
            raise InvalidInput(
                f"{self.year} has no week {self.week}; its weeks go from 1 to {last}",
                path=("week",),
            )

    def __str__(self) -> str:
        return f"{self.year}-W{self.week:02}"

    @classmethod
    def parse(cls, text: str, *, path: Path = ("week",)) -> IsoWeek:
        """The week that ``text`` names, such as 2026-W48.

        Args:
            text: year, -W and two digits.
            path: where it stands in the document it came from.

        Raises:
            InvalidInput: it is written otherwise, or the year has no such week.

        >>> IsoWeek.parse("2026-W53").days[1].isoformat()
        '2027-01-03'
        """
        written = _WRITTEN.fullmatch(text)
        if written is None:
            raise InvalidInput(
                f"'{text[:40]}' is not an ISO week; write it like 2026-W48: the "
                "year, -W and two digits",
                path=path,
            )
        try:
            return cls(year=int(written[1]), week=int(written[2]))
        except InvalidInput as refused:
            raise InvalidInput(refused.message, path=path) from None

    @classmethod
    def of(cls, day: date) -> IsoWeek:
        """The week that ``day`` is in. Raises InvalidInput.

        >>> str(IsoWeek.of(date(2027, 1, 3)))
        '2026-W53'
        """
        year, week, _ = day.isocalendar()
        return cls(year=year, week=week)

    @property
    def days(self) -> tuple[date, date]:
        """Its Monday and its Sunday."""
        monday = date.fromisocalendar(self.year, self.week, 1)
        return monday, monday + _TO_SUNDAY

    def bounds(self, zone: ZoneInfo) -> tuple[datetime, datetime]:
        """Its first moment and the next week's by the clocks of ``zone``, in UTC.

        The second is not part of the week. The week after begins at that very
        moment, so no moment is in two weeks or in none; a week in which the clocks
        change is an hour shorter or longer.
        """
        monday = self.days[0]
        return _midnight(monday, zone), _midnight(monday + _WEEK, zone)

    def plus(self, weeks: int) -> IsoWeek:
        """The week that comes so many ``weeks`` [count] later, or earlier if negative.

        Raises:
            InvalidInput: it is in a year that is not kept.
        """
        try:
            return IsoWeek.of(self.days[0] + weeks * _WEEK)
        except OverflowError:
            raise InvalidInput(
                f"{weeks} weeks from {self} is no date; the years go from "
                f"{FIRST_YEAR} to {LAST_YEAR}",
                path=("week",),
            ) from None

    def weeks_back(self, count: int) -> tuple[IsoWeek, ...]:
        """So many weeks (``count`` [count]) that end with this one, the oldest first.

        >>> [str(week) for week in IsoWeek(year=2027, week=1).weeks_back(2)]
        ['2026-W53', '2027-W01']
        """
        return tuple(self.plus(back - count + 1) for back in range(count))


def _midnight(day: date, zone: ZoneInfo) -> datetime:
    """The moment ``day`` begins; the first one where a clock shows midnight twice."""
    return datetime.combine(day, time(), zone).astimezone(UTC)
