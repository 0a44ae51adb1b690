"""Amounts, days and times as a person reads them on a page; in English.

Digits are grouped by a narrow space, as everywhere in the world they may be: a
comma or a point would mean something else to half of the readers.

References:
    [1] ISO 80000-1, 7.3.1: digits in groups of three, parted by a small space.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta, tzinfo
from decimal import Decimal

from pricing.money import currency, shown, tidy

NARROW_SPACE = "\u202f"
NO_BREAK_SPACE = "\u00a0"

_DAYS = (
    "Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday",
)  # fmt: skip
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August",
    "September", "October", "November", "December",
)  # fmt: skip
_MINUTE = timedelta(minutes=1)


def figure(amount: Decimal, code: str) -> str:
    r"""An amount at the minor unit of a currency, without its code.

    Args:
        amount: how much [currency of ``code``].
        code: an ISO 4217 code.

    >>> figure(Decimal("89.9"), "EUR"), figure(Decimal(1250), "JPY")
    ('89.90', '1\u202f250')
    """
    plain = Decimal(shown(amount, currency(code).step))
    return f"{plain:,f}".replace(",", NARROW_SPACE)


def priced(amount: Decimal, code: str) -> str:
    r"""An amount with its currency [currency of ``code``].

    >>> priced(Decimal("189.9"), "EUR")
    '189.90\xa0EUR'
    """
    return f"{figure(amount, code)}{NO_BREAK_SPACE}{code}"


def exactly(price: Decimal, code: str) -> str:
    r"""A price of metal with its currency, every digit of it [currency of ``code``].

    >>> exactly(Decimal("27.123400"), "EUR")
    '27.1234\xa0EUR'
    """
    return f"{tidy(price):f}{NO_BREAK_SPACE}{code}"


def day(value: date) -> str:
    """A day in words.

    >>> day(date(2026, 11, 28))
    'Saturday, 28 November 2026'
    """
    month = _MONTHS[value.month - 1]
    return f"{_DAYS[value.weekday()]}, {value.day} {month} {value.year}"


def short_day(value: date) -> str:
    """A day in few letters, for the foot of a picture.

    >>> short_day(date(2026, 11, 28))
    '28 Nov'
    """
    return f"{value.day} {_MONTHS[value.month - 1][:3]}"


def moment(instant: datetime, zone: tzinfo) -> str:
    """A time to the minute in a zone, and which zone it is.

    Seconds are cut off, so that what is promised is never later than what is kept.

    >>> from zoneinfo import ZoneInfo
    >>> from datetime import UTC
    >>> moment(datetime(2026, 11, 28, 13, 30, 59, tzinfo=UTC), ZoneInfo("Asia/Kolkata"))
    'Saturday, 28 November 2026, 19:00 (Kolkata time, UTC+5:30)'
    """
    local = in_zone(instant, zone)
    clock = f"{local.hour:02}:{local.minute:02}"
    return f"{day(local.date())}, {clock} ({zone_words(local)})"


def short_moment(instant: datetime, zone: tzinfo) -> str:
    """A time in few letters, for a table that says elsewhere which zone it is.

    >>> from datetime import UTC
    >>> short_moment(datetime(2026, 11, 28, 9, 5, tzinfo=UTC), UTC)
    '28 Nov 2026, 09:05'
    """
    local = in_zone(instant, zone)
    clock = f"{local.hour:02}:{local.minute:02}"
    return f"{short_day(local)} {local.year}, {clock}"


def in_zone(instant: datetime, zone: tzinfo) -> datetime:
    """A time as it is in a zone; as it came where that is in no year there is."""
    try:
        return instant.astimezone(zone)
    except OverflowError:
        return instant


def zone_words(local: datetime) -> str:
    """Which zone a time is of: the place it is named for, and how far from UTC.

    >>> from datetime import UTC
    >>> zone_words(datetime(2026, 11, 28, tzinfo=UTC))
    'UTC'
    """
    area, _, place = str(local.tzinfo).rpartition("/")
    named = f"{place.replace('_', ' ')} time, " if area and area != "Etc" else ""
    return named + _offset(local.utcoffset() or timedelta())


def _offset(offset: timedelta) -> str:
    if not offset:
        return "UTC"
    hours, minutes = divmod(abs(offset) // _MINUTE, 60)
    sign = "+" if offset > timedelta() else "−"
    return f"UTC{sign}{hours}" + (f":{minutes:02}" if minutes else "")
