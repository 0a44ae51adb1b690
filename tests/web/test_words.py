"""Amounts and times as a page says them."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from api.web.words import (
    day,
    exactly,
    figure,
    moment,
    priced,
    short_moment,
    zone_words,
)

NOON = datetime(2026, 7, 1, 12, tzinfo=UTC)


@pytest.mark.parametrize(
    ("amount", "code", "words"),
    [
        ("0", "EUR", "0.00"),
        ("5", "EUR", "5.00"),
        ("999.9", "EUR", "999.90"),
        ("1234.5", "EUR", "1 234.50"),
        ("1234567.89", "USD", "1 234 567.89"),
        ("-1234.5", "EUR", "-1 234.50"),
        ("12500", "JPY", "12 500"),
        ("3.25", "KWD", "3.250"),
    ],
)
def test_an_amount_has_the_decimals_of_its_currency_and_grouped_digits(
    amount, code, words
):
    assert figure(Decimal(amount), code).replace("\u202f", " ") == words


def test_an_amount_keeps_to_one_line_with_its_currency():
    words = priced(Decimal("1234.5"), "EUR")
    assert words == "1\u202f234.50\u00a0EUR"


@pytest.mark.parametrize(
    ("price", "words"), [("27.5", "27.50"), ("27.123456", "27.123456"), ("27", "27.00")]
)
def test_a_price_of_metal_is_told_in_full(price, words):
    assert exactly(Decimal(price), "EUR") == f"{words}\u00a0EUR"


def test_every_day_and_month_has_its_name():
    first = date(2026, 1, 1)
    said = [day(first + timedelta(days=n)) for n in range(365)]
    assert said == [f"{one:%A}, {one.day} {one:%B %Y}" for one in map(_after, said)]
    assert len(set(said)) == 365


def _after(words):
    return datetime.strptime(words, "%A, %d %B %Y").replace(tzinfo=UTC)


@pytest.mark.parametrize(
    ("zone", "words"),
    [
        ("Europe/Vienna", "Vienna time, UTC+2"),
        ("America/Argentina/Buenos_Aires", "Buenos Aires time, UTC−3"),
        ("America/New_York", "New York time, UTC−4"),
        ("America/St_Johns", "St Johns time, UTC−2:30"),
        ("Asia/Kathmandu", "Kathmandu time, UTC+5:45"),
        ("Africa/Abidjan", "Abidjan time, UTC"),
        ("Etc/GMT+5", "UTC−5"),
        ("Etc/UTC", "UTC"),
        ("UTC", "UTC"),
        ("CET", "UTC+2"),
    ],
)
def test_a_zone_is_told_by_its_place_and_how_far_it_is_from_utc(zone, words):
    assert zone_words(NOON.astimezone(ZoneInfo(zone))) == words


def test_a_zone_without_a_name_is_told_by_its_offset():
    assert zone_words(NOON.astimezone(timezone(timedelta(hours=5)))) == "UTC+5"


def test_a_time_is_told_as_it_is_there_on_that_day():
    vienna = ZoneInfo("Europe/Vienna")
    summer, winter = NOON, NOON.replace(month=12)
    assert "14:00 (Vienna time, UTC+2)" in moment(summer, vienna)
    assert "13:00 (Vienna time, UTC+1)" in moment(winter, vienna)
    eve = datetime(2026, 12, 31, 23, 30, tzinfo=UTC)
    assert moment(eve, vienna).startswith("Friday, 1 January 2027, 00:30")


def test_a_time_that_is_in_no_year_elsewhere_is_told_as_it_came():
    last = datetime(9999, 12, 31, 23, 30, tzinfo=UTC)
    vienna = ZoneInfo("Europe/Vienna")
    assert moment(last, vienna) == "Friday, 31 December 9999, 23:30 (UTC)"
    assert short_moment(last, vienna) == "31 Dec 9999, 23:30"


def test_a_promise_is_never_said_to_last_longer_than_it_does():
    late = datetime(2026, 7, 1, 12, 59, 59, 999_999, tzinfo=UTC)
    assert moment(late, UTC) == "Wednesday, 1 July 2026, 12:59 (UTC)"
