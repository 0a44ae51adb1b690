"""The members of a feed's description, one by one."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, time
from decimal import Decimal
from functools import cache
from urllib.parse import urlsplit
from zoneinfo import available_timezones

from api.ports.feed_syntax import csv_column, element_path, json_path, time_pattern
from api.ports.feeds import (
    RFC_3339,
    TIME_FORMATS,
    CsvLayout,
    FeedFormat,
    FeedLimits,
    FeedTime,
    Side,
)
from pricing.errors import InvalidInput
from pricing.money import ONE, ZERO, currency
from pricing.price_book.fields import Fields
from pricing.price_book.findings import shown, suggestion
from pricing.price_book.limits import POSITIVE, Limits

MOST_URL = 1000
MOST_DATES = 200
CURRENCY_LIMITS = FeedLimits(lowest=Decimal("0.00001"), highest=Decimal(100_000))
"""Limits of a feed of currencies that sets none; the band takes most pairs."""

PathCheck = Callable[[str], object]
"""Raises InvalidInput for a path that cannot be followed."""

_SHARE = Limits(over=ZERO, most=ONE, words="over 0 and at most 1 (0.08 means 8 %)")
_DELIMITERS = (",", ";", "\t", "|")
_CLOCK = re.compile(r"(?:[01][0-9]|2[0-3]):[0-5][0-9]")
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_PRINTABLE = re.compile(r"[\x21-\x7e]+")
_DEFAULT_TIME = FeedTime(path="")


def path_check(shape: FeedFormat, *, header: bool) -> PathCheck:
    """The check of paths in answers of this shape."""
    if shape == "json":
        return json_path
    if shape == "csv":
        return lambda text: csv_column(text, header=header)
    return element_path


def read_path(table: Fields, name: str, check: PathCheck) -> str | None:
    """A path, or None where left out or at fault."""
    if table.peek(name) is None:
        return None
    text = table.text(name, default="")
    if not table.sound(name):
        return None
    try:
        check(text)
    except InvalidInput as error:
        table.fault(error.message, name)
        return None
    return text


def read_rows(table: Fields, check: PathCheck) -> str | None:
    """The path of the rows, which are not an attribute."""
    text = read_path(table, "rows", check)
    if text is not None and check is element_path and element_path(text).attribute:
        table.fault("rows are elements; leave out the attribute at its end", "rows")
    return text


def read_url(table: Fields) -> str:
    """The address to ask, without a user in it."""
    value = table.peek("url")
    if value is None:
        return table.text("url")
    if not (isinstance(value, str) and _PRINTABLE.fullmatch(value)):
        said = "is not a URL; write one such as https://example.org/silver.json"
        table.fault(f"{shown(value)} {said}", "url")
        return ""
    if len(value) > MOST_URL:
        said = f"{len(value)} characters are too many; use at most {MOST_URL}"
        table.fault(said, "url")
        return ""
    fault = _url_fault(value)
    if fault:
        table.fault(fault, "url")
    return value


def _url_fault(url: str) -> str:
    try:
        parts = urlsplit(url)
        host, port = parts.hostname, parts.port
    except ValueError:
        return "this is not a URL; the host or the port cannot be read"
    if parts.scheme not in {"https", "http"}:
        return f"{shown(parts.scheme)} is not allowed; a URL here begins with https://"
    if not host or port == 0 or "\\" in url:
        return "this is not a URL; it has no host, or signs that do not belong in one"
    if "@" in parts.netloc:
        return "a user or password does not belong in a URL; use secret_headers"
    return "leave out the # and what comes after it" if parts.fragment else ""


def read_currency(table: Fields, name: str) -> str:
    """A currency's code; empty where left out or at fault."""
    code = table.text(name, default="")
    if code and table.sound(name):
        try:
            return currency(code).code
        except InvalidInput as error:
            table.fault(error.message, name)
    elif table.given(name) and table.sound(name):
        table.fault("this is empty; use an ISO 4217 code such as USD", name)
    return ""


def read_metal(table: Fields, *, default: str) -> str:
    """XAG or a currency's code; empty where at fault."""
    value = table.peek("metal")
    if value is None or value == "XAG":
        return default if value is None else "XAG"
    return read_currency(table, "metal")


def default_side(table: Fields) -> Side:
    """What an unstated side is: the middle, or the only one there is."""
    given = [name for name in ("bid", "ask") if table.given(name)]
    if len(given) != 1:
        return "mid"
    turned = table.peek("invert") is True
    return "ask" if (given == ["ask"]) != turned else "bid"


def read_csv(table: Fields) -> CsvLayout:
    """The layout of CSV."""
    return CsvLayout(
        delimiter=table.choice("delimiter", _DELIMITERS, default=","),
        header=table.flag("header", default=True),
    )


def time_reader(check: PathCheck) -> Callable[[Fields], FeedTime]:
    """A reader of where and how an answer says its time."""

    def read(table: Fields) -> FeedTime:
        if not table.given("path"):
            table.fault("this is missing; it has no default, so write it", "path")
        return FeedTime(
            path=read_path(table, "path", check) or "",
            format=_time_format(table),
            zone=_zone(table),
            at=_clock(table),
        )

    return read


def limits_reader(metal: str) -> Callable[[Fields], FeedLimits]:
    """A reader of limits, whose defaults are those of the metal or of currencies."""
    usual = usual_limits(metal)

    def read(table: Fields) -> FeedLimits:
        return FeedLimits(
            lowest=table.decimal("lowest", POSITIVE, default=usual.lowest),
            highest=table.decimal("highest", POSITIVE, default=usual.highest),
            jump=table.decimal("jump", _SHARE, default=usual.jump),
            spread=table.decimal("spread", _SHARE, default=usual.spread),
            second_source=table.decimal(
                "second_source", _SHARE, default=usual.second_source
            ),
        )

    return read


def usual_limits(metal: str) -> FeedLimits:
    """The limits of a feed that sets none."""
    return FeedLimits() if metal == "XAG" else CURRENCY_LIMITS


def read_dates(table: Fields, name: str) -> tuple[date, ...]:
    """A list of dates, rising."""
    value = table.peek(name)
    if value is None:
        return ()
    if not isinstance(value, list | tuple) or len(value) > MOST_DATES:
        said = f"{shown(value)} is not a list of at most {MOST_DATES} dates"
        table.fault(said, name)
        return ()
    days = [_day(table, each, name, i) for i, each in enumerate(value)]
    return tuple(sorted({day for day in days if day is not None}))


def _day(table: Fields, value: object, *where: str | int) -> date | None:
    try:
        if isinstance(value, str) and _DATE.fullmatch(value):
            return date.fromisoformat(value)
    except ValueError:
        pass
    table.fault(f'{shown(value)} is not a date; write it like "2026-12-24"', *where)
    return None


def _time_format(table: Fields) -> str:
    text = table.text("format", default=RFC_3339)
    if table.sound("format") and text not in TIME_FORMATS:
        try:
            time_pattern(text)
        except InvalidInput as error:
            table.fault(error.message, "format")
    return text


def _zone(table: Fields) -> str:
    name = table.text("zone", default=_DEFAULT_TIME.zone)
    if table.sound("zone") and name not in _zones():
        near = suggestion(name, _zones(), otherwise="write it like Europe/London")
        table.fault(f"{shown(name)} is not a time zone; {near}", "zone")
    return name


@cache
def _zones() -> tuple[str, ...]:
    # "localtime" is whatever this machine happens to be set to.
    return tuple(sorted(available_timezones() - {"localtime"}))


def _clock(table: Fields) -> time:
    text = table.text("at", default=f"{_DEFAULT_TIME.at:%H:%M}")
    if table.sound("at"):
        if _CLOCK.fullmatch(text):
            return time.fromisoformat(text)
        table.fault(f'{shown(text)} is not a time of day; write it like "12:00"', "at")
    return _DEFAULT_TIME.at
