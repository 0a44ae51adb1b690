"""A feed's description as a document: read whole, or refused with every fault."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace
from datetime import date, time
from decimal import Decimal
from typing import Any

from api.ports.feeds import (
    DECIMAL_MARKS,
    FEED_FORMATS,
    FEED_UNITS,
    SIDES,
    CsvLayout,
    Feed,
    FeedFormat,
    FeedLimits,
    FeedTime,
)
from api.services.feeds.checks import check_feed
from api.services.feeds.headers import check_headers, read_headers, read_secret_headers
from api.services.feeds.members import (
    default_side,
    limits_reader,
    path_check,
    read_csv,
    read_currency,
    read_dates,
    read_metal,
    read_path,
    read_rows,
    read_url,
    time_reader,
    usual_limits,
)
from pricing.errors import InvalidInput
from pricing.money import arithmetic
from pricing.price_book.fields import Fields, built
from pricing.price_book.findings import Findings
from pricing.price_book.limits import HOURS
from pricing.price_book.members import plain

_DEFAULT = Feed(title="", url="", format="json")
_ALWAYS = ("title", "url", "format")


def read_feed_document(document: Mapping[str, object], *, key: str = "") -> Feed:
    """A feed from a table, as a JSON or TOML parser gives it.

    Args:
        document: the members; every figure exact, so text or a whole number.
        key: the name the feed goes by.

    Raises:
        InvalidInput: something is wrong; ``faults`` holds all of it, by path.
    """
    findings = Findings()

    def read(table: Fields) -> Feed:
        return _read(table, key)

    with arithmetic():
        feed = built(document, read, path=(), into=findings)
    faults = findings.faults
    if faults:
        first = faults[0]
        raise InvalidInput(
            f"{first.dotted or 'the feed'}: {first.message}",
            path=first.path,
            faults=faults,
        )
    return feed


def feed_document(feed: Feed) -> dict[str, object]:
    """The document of ``feed``; what is at its default is left out.

    Figures are plain decimal text. Reading it gives an equal feed.
    """
    usual = replace(
        _DEFAULT,
        key=feed.key,
        metal=_usual_metal(feed.format),
        limits=usual_limits(feed.metal),
    )
    members = {field.name: getattr(feed, field.name) for field in fields(Feed)}
    return {
        name: _written(value, feed)
        for name, value in members.items()
        if name in _ALWAYS or value != getattr(usual, name)
    }


def _usual_metal(shape: FeedFormat) -> str:
    return "EUR" if shape == "ecb" else "XAG"


def _read(table: Fields, key: str) -> Feed:
    shape: FeedFormat = table.choice("format", FEED_FORMATS, default="json")
    if not table.given("format"):
        table.fault("this is missing; it has no default, so write it", "format")
    feed = Feed(
        key=key,
        title=table.text("title"),
        url=read_url(table),
        format=shape,
        metal=read_metal(table, default=_usual_metal(shape)),
        currency=read_currency(table, "currency"),
        csv=table.table("csv", read_csv, default=CsvLayout()),
    )
    feed = _with_asking(_with_prices(feed, table), table)
    check_feed(feed, table)
    return feed


def _with_prices(feed: Feed, table: Fields) -> Feed:
    """The feed with where its prices are and how they are written."""
    check = path_check(feed.format, header=feed.csv.header)
    return replace(
        feed,
        price=read_path(table, "price", check),
        bid=read_path(table, "bid", check),
        ask=read_path(table, "ask", check),
        side=table.choice("side", SIDES, default=default_side(table)),
        invert=table.flag("invert", default=False),
        rows=read_rows(table, check),
        unit=table.choice("unit", FEED_UNITS, default="troy_ounce"),
        hundredths=table.flag("hundredths", default=False),
        decimal_mark=table.choice("decimal_mark", DECIMAL_MARKS, default=""),
        time=table.optional_table("time", time_reader(check)),
    )


def _with_asking(feed: Feed, table: Fields) -> Feed:
    """The feed with how it is asked, doubted and shown."""
    asked = replace(
        feed,
        max_age_hours=table.decimal(
            "max_age_hours", HOURS, default=_DEFAULT.max_age_hours
        ),
        headers=tuple(sorted(read_headers(table))),
        secret_headers=read_secret_headers(table),
        closed_dates=read_dates(table, "closed_dates"),
        limits=table.table(
            "limits", limits_reader(feed.metal), default=usual_limits(feed.metal)
        ),
        second_source=_second_source(table),
        licence_note=table.text("licence_note", default=""),
        may_display=table.flag("may_display", default=False),
        enabled=table.flag("enabled", default=True),
    )
    names = tuple(name for name, _ in asked.headers)
    check_headers(table, names, asked.secret_headers)
    return asked


def _second_source(table: Fields) -> str:
    value = table.peek("second_source")
    return "" if value is None or value == "" else table.key("second_source")


def _written(value: Any, feed: Feed) -> object:
    if isinstance(value, FeedTime | CsvLayout | FeedLimits):
        usual = {FeedTime: FeedTime(path=""), FeedLimits: usual_limits(feed.metal)}
        return _parts(value, usual.get(type(value), CsvLayout()), feed)
    if isinstance(value, tuple):
        if value == feed.headers:
            return dict(value)
        return [_written(each, feed) for each in value]
    return _plain(value)


def _plain(value: Any) -> object:
    if isinstance(value, Decimal):
        return plain(value)
    if isinstance(value, time):
        return f"{value:%H:%M}"
    return value.isoformat() if isinstance(value, date) else value


def _parts(part: Any, usual: Any, feed: Feed) -> dict[str, object]:
    members = {field.name: getattr(part, field.name) for field in fields(part)}
    return {
        name: _written(value, feed)
        for name, value in members.items()
        if name == "path" or value != getattr(usual, name)
    }
