"""Days on which the metal market is open, and how old a price is in open hours.

A price of Friday noon is not stale on Monday morning: nobody has made a newer
one. Its age therefore counts only the hours of days on which the market is
open, the way the London auction and the euro reference rates keep them.

References:
    [1] The anonymous Gregorian computus: Nature, 20 April 1876, page 487; in
        J. Meeus, Astronomical Algorithms, chapter 8 (from memory). Checked
        against a second implementation and printed dates in tests/reference.
    [2] TARGET closing days since 2002: Saturdays, Sundays, 1 January, Good
        Friday, Easter Monday, 1 May, 25 and 26 December (from memory). The
        euro reference rates are not made on them (ECB, Euro foreign exchange
        reference rates). London keeps further bank holidays, which a feed
        names as closed dates of its own.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from functools import cache
from zoneinfo import ZoneInfo

from pricing.errors import InvalidInput
from pricing.money import ZERO, arithmetic

LONGEST_COUNTED_DAYS = 3660
"""Days that are told open from closed, back from the later moment [days]."""

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_DAY = timedelta(days=1)
_MICROSECOND = timedelta(microseconds=1)
_MICROSECONDS_PER_HOUR = 3_600_000_000
_SATURDAY = 5
_FIRST_GREGORIAN_YEAR = 1583
_GOOD_FRIDAY = timedelta(days=-2)
_EASTER_MONDAY = timedelta(days=1)
_OF_THIS_MACHINE = "localtime"


@dataclass(frozen=True, slots=True, kw_only=True)
class MarketCalendar:
    """The open days of a market, which begin at midnight in its own time zone.

    Attributes:
        closed: dates closed beside weekends and TARGET closing days [2].
        zone: IANA name of the time zone.

    Raises:
        InvalidInput: the time zone is not known.
    """

    closed: frozenset[date] = frozenset()
    zone: str = "Europe/London"

    def __post_init__(self) -> None:
        _zone(self.zone)

    def is_open(self, day: date) -> bool:
        """Whether a price can be made on ``day``.

        >>> MarketCalendar().is_open(date(2026, 4, 3))  # Good Friday
        False
        """
        return (
            day.weekday() < _SATURDAY
            and day not in closing_days(day.year)
            and day not in self.closed
        )

    def open_hours(self, since: datetime, until: datetime) -> Decimal:
        """Hours of open days between two moments [h]; 0 if ``until`` is not later.

        Elapsed hours less those of closed days; a day on which the clocks change
        has the hours it really has. What lies more than ``LONGEST_COUNTED_DAYS``
        before ``until`` is counted as open throughout: no price is that old, and
        a broken timestamp must not cost a walk through the centuries. Not rounded.

        Raises:
            InvalidInput: a moment without its offset from UTC.

        >>> noon = datetime(2026, 11, 27, 12, tzinfo=UTC)  # a Friday
        >>> MarketCalendar().open_hours(noon, noon + timedelta(days=3))
        Decimal('24')
        """
        elapsed = _since_epoch(until) - _since_epoch(since)
        if elapsed <= timedelta(0):
            return ZERO
        end = until.astimezone(UTC)
        start = end - min(elapsed, LONGEST_COUNTED_DAYS * _DAY)
        spent = (elapsed - self._closed_time(start, end)) // _MICROSECOND
        with arithmetic():
            return Decimal(spent) / _MICROSECONDS_PER_HOUR

    def _closed_time(self, start: datetime, end: datetime) -> timedelta:
        zone = _zone(self.zone)
        day, last = start.astimezone(zone).date(), end.astimezone(zone).date()
        closed = timedelta(0)
        while day <= last:
            following = day + _DAY
            if not self.is_open(day):
                opened = max(start, _midnight(day, zone))
                closed += min(end, _midnight(following, zone)) - opened
            day = following
        return closed


@cache
def closing_days(year: int) -> frozenset[date]:
    """The TARGET closing days of a ``year`` [CE] beside its weekends [2].

    The rule of today, also for the years before it was agreed.

    Raises:
        InvalidInput: before the Gregorian calendar.
    """
    sunday = easter(year)
    return frozenset(
        {
            date(year, 1, 1),
            sunday + _GOOD_FRIDAY,
            sunday + _EASTER_MONDAY,
            date(year, 5, 1),
            date(year, 12, 25),
            date(year, 12, 26),
        }
    )


def easter(year: int) -> date:
    """Easter Sunday of a ``year`` [CE] of the Gregorian calendar [1].

    Raises:
        InvalidInput: before 1583 or after 9999.

    >>> easter(2026)
    datetime.date(2026, 4, 5)
    """
    if not _FIRST_GREGORIAN_YEAR <= year <= date.max.year:
        raise InvalidInput(
            f"no Easter is worked out for the year {year}; "
            f"give one from {_FIRST_GREGORIAN_YEAR} to {date.max.year}",
            path=("year",),
        )
    golden = year % 19
    century, in_century = divmod(year, 100)
    leap_centuries, century_rest = divmod(century, 4)
    moon_shift = (century - (century + 8) // 25 + 1) // 3
    epact = (19 * golden + century - leap_centuries - moon_shift + 15) % 30
    leaps, rest = divmod(in_century, 4)
    to_sunday = (32 + 2 * century_rest + 2 * leaps - epact - rest) % 7
    late = (golden + 11 * epact + 22 * to_sunday) // 451
    month, day = divmod(epact + to_sunday - 7 * late + 114, 31)
    return date(year, month, day + 1)


def aware(moment: datetime) -> datetime:
    """``moment``, which says its offset from UTC.

    Raises:
        InvalidInput: it does not, so that nobody knows which moment it is.
    """
    if moment.utcoffset() is None:
        raise InvalidInput(
            f"{moment.isoformat()} does not say its offset from UTC; "
            "give one, such as 2026-11-27T12:00:00Z",
            path=("as_of",),
        )
    return moment


def _since_epoch(moment: datetime) -> timedelta:
    # Two moments of one zone would be subtracted by their wall clocks; those of
    # two zones, and of the year 1, are not.
    return aware(moment) - _EPOCH


def _midnight(day: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, time.min, zone).astimezone(UTC)


def _zone(name: str) -> ZoneInfo:
    with suppress(KeyError, ValueError, OSError):
        if name != _OF_THIS_MACHINE:
            return ZoneInfo(name)
    raise InvalidInput(
        f"{name[:40]!r} is not a time zone; write it like Europe/London",
        path=("zone",),
    )
