"""Timestamps in an answer, as instants in UTC.

A local time that a change of clocks makes happen twice is taken as the earlier
of the two, so that a price is never younger than it may be. One that the change
leaves out is refused. A date alone stands for ``FeedTime.at`` in its zone.

References:
    [1] RFC 3339 §5.6 grammar, §5.7 second 60 only in a leap second, which comes
        at 23:59:60 UTC.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from api.ports.feed_syntax import time_pattern
from api.ports.feeds import DATE, EPOCH_MS, EPOCH_S, RFC_3339, FeedFailed, FeedTime
from pricing.errors import InvalidInput

EARLIEST = 1970
LATEST = 2199
MOST_CHARACTERS = 60

_RFC_3339 = re.compile(
    r"(\d{4}-\d\d-\d\d)[Tt ](\d\d:\d\d):(\d\d)(?:\.(\d{1,9}))?"
    r"(?:([Zz])|([+-])(\d\d):(\d\d))",
    re.ASCII,
)
_DATE = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_EPOCH = re.compile(r"\d{1,15}(?:\.\d{1,9})?", re.ASCII)
_SHOWN = re.compile(r"[0-9TtZz:./+ -]{1,40}")
_MS = 1000
_SECONDS_END = 10**11  # more seconds than this are milliseconds
_LEAP_SECOND = 60
_BEFORE_MIDNIGHT = (23, 59)
_MOST_DIGITS = 20


def moment(raw: object, how: FeedTime) -> datetime:
    """The instant that ``raw`` is, written as ``how`` says, in UTC.

    Raises:
        FeedFailed: it is no such time, or not one of our days.
    """
    text = _text(raw)
    try:
        instant = _FORMATS.get(how.format, _patterned)(text, how)
    except InvalidInput:
        raise
    except (ValueError, OverflowError):
        raise _no_time(f"{_excerpt(text)} is not a time of the format set") from None
    if not EARLIEST <= instant.year <= LATEST:
        raise _no_time(f"{_excerpt(text)} is not a time of our days")
    return instant


def _text(raw: object) -> str:
    if isinstance(raw, str):
        text = raw.strip()
        if text.isascii() and len(text) <= MOST_CHARACTERS:
            return text
    elif isinstance(raw, int | Decimal) and not isinstance(raw, bool):
        number = Decimal(raw)
        if abs(number.adjusted()) < _MOST_DIGITS:
            return format(number, "f")
    raise _no_time("The path of the time does not lead to one")


def _rfc_3339(text: str, _: FeedTime) -> datetime:
    found = _RFC_3339.fullmatch(text)
    if found is None:
        raise ValueError
    day, clock, second, fraction, zulu, sign, hours, minutes = found.groups()
    leap = int(second) == _LEAP_SECOND
    instant = datetime.fromisoformat(f"{day}T{clock}:{'59' if leap else second}+00:00")
    instant += timedelta(microseconds=int((fraction or "").ljust(6, "0")[:6]))
    if not zulu:
        _check_offset(hours, minutes)
        offset = timedelta(hours=int(hours), minutes=int(minutes))
        instant += -offset if sign == "+" else offset
    if leap:
        if (instant.hour, instant.minute) != _BEFORE_MIDNIGHT:
            raise ValueError
        instant += timedelta(seconds=1)
    return instant


def _check_offset(hours: str, minutes: str) -> None:
    if not (hours <= "23" and minutes <= "59"):
        raise ValueError


def _epoch_s(text: str, _: FeedTime) -> datetime:
    seconds = _count(text)
    if seconds >= _SECONDS_END:
        raise _no_time(f"{text} looks like milliseconds; set the format epoch_ms")
    return _since_1970(seconds)


def _epoch_ms(text: str, _: FeedTime) -> datetime:
    milliseconds = _count(text)
    if milliseconds < _SECONDS_END:
        raise _no_time(f"{text} looks like seconds; set the format epoch_s")
    return _since_1970(milliseconds / _MS)


def _count(text: str) -> Decimal:
    if not _EPOCH.fullmatch(text):
        raise ValueError
    return Decimal(text)


def _since_1970(seconds: Decimal) -> datetime:
    microseconds = int(seconds * 1_000_000)
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=microseconds)


def _date(text: str, how: FeedTime) -> datetime:
    if not _DATE.fullmatch(text):
        raise ValueError
    return day_at(date.fromisoformat(text), how)


def day_at(day: date, how: FeedTime) -> datetime:
    """The instant in UTC that a date alone stands for.

    Raises:
        FeedFailed: no such time of day on that date in the zone.
    """
    return _in_zone(datetime.combine(day, how.at), how.zone)


def _patterned(text: str, how: FeedTime) -> datetime:
    with_time = time_pattern(how.format)
    local = datetime.strptime(text, how.format)  # noqa: DTZ007 - its zone comes next
    if local.tzinfo is not None:
        return local.astimezone(UTC)
    return _in_zone(local, how.zone) if with_time else day_at(local.date(), how)


def _in_zone(local: datetime, zone: str) -> datetime:
    """The instant at which the clocks of ``zone`` show ``local``, the first if two."""
    try:
        clocks = ZoneInfo(zone)
    except (ZoneInfoNotFoundError, ValueError):
        raise InvalidInput(f"'{zone[:40]}' is not a time zone") from None
    instant = local.replace(tzinfo=clocks, fold=0).astimezone(UTC)
    if instant.astimezone(clocks).replace(tzinfo=None) != local:
        raise _no_time(f"{local:%Y-%m-%d %H:%M} is left out by the clocks of {zone}")
    return instant


def _no_time(said: str) -> FeedFailed:
    return FeedFailed("not_a_time", f"{said}.")


def _excerpt(text: str) -> str:
    return f"'{text}'" if _SHOWN.fullmatch(text) else "What stands there"


_FORMATS: dict[str, Callable[[str, FeedTime], datetime]] = {
    RFC_3339: _rfc_3339,
    EPOCH_S: _epoch_s,
    EPOCH_MS: _epoch_ms,
    DATE: _date,
}
