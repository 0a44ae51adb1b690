from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.errors import InvalidInput
from pricing.market_days import (
    LONGEST_COUNTED_DAYS,
    MarketCalendar,
    aware,
    closing_days,
    easter,
)
from pricing.money import arithmetic

LONDON = ZoneInfo("Europe/London")
CALENDAR = MarketCalendar()
ZONES = ("Europe/London", "America/New_York", "Asia/Tokyo", "Pacific/Auckland", "UTC")
FRIDAY_NOON = datetime(2026, 11, 27, 12, tzinfo=UTC)
NAIVE_SATURDAY = datetime.fromisoformat("2026-11-28T12:00")

moments = st.integers(0, 11 * 366 * 24 * 60).map(
    lambda minutes: datetime(2020, 1, 1, tzinfo=UTC) + timedelta(minutes=minutes)
)
spans = st.integers(0, 45 * 24 * 60).map(lambda minutes: timedelta(minutes=minutes))
calendars = st.builds(
    MarketCalendar,
    zone=st.sampled_from(ZONES),
    closed=st.frozensets(st.dates(date(2020, 1, 1), date(2031, 1, 1)), max_size=3),
)


def counted_by_the_minute(calendar, since, until):
    """Open minutes between two moments, each asked for its own day."""
    zone, minute = ZoneInfo(calendar.zone), timedelta(minutes=1)
    opened, at = 0, since
    while at < until:
        opened += calendar.is_open(at.astimezone(zone).date())
        at += minute
    return Decimal(opened) / 60


@pytest.mark.parametrize(
    ("day", "opened"),
    [
        (date(2026, 11, 27), True),  # a plain Friday
        (date(2026, 11, 28), False),
        (date(2026, 11, 29), False),
        (date(2026, 11, 30), True),
        (date(2026, 1, 1), False),
        (date(2026, 4, 3), False),  # Good Friday
        (date(2026, 4, 6), False),  # Easter Monday
        (date(2026, 5, 1), False),
        (date(2026, 12, 24), True),
        (date(2026, 12, 25), False),
        (date(2026, 12, 31), True),
        (date(2025, 12, 26), False),
        (date(2026, 8, 31), True),  # a bank holiday of London's that TARGET keeps not
    ],
)
def test_weekends_and_closing_days_are_closed(day, opened):
    assert CALENDAR.is_open(day) is opened


def test_a_feed_may_close_more_days():
    bank_holiday = date(2026, 8, 31)
    calendar = MarketCalendar(closed=frozenset({bank_holiday}))
    assert not calendar.is_open(bank_holiday)
    assert calendar.is_open(bank_holiday + timedelta(days=1))


@pytest.mark.parametrize(
    ("since", "until", "hours"),
    [
        # Friday noon: on Friday evening, on Sunday, on Monday morning and noon
        ("2026-11-27T12:00+00:00", "2026-11-27T18:30+00:00", "6.5"),
        ("2026-11-27T12:00+00:00", "2026-11-29T15:00+00:00", "12"),
        ("2026-11-27T12:00+00:00", "2026-11-30T09:00+00:00", "21"),
        ("2026-11-27T12:00+00:00", "2026-11-30T12:00+00:00", "24"),
        # Thursday before Easter to the Tuesday after, all in summer time
        ("2026-04-02T12:00+01:00", "2026-04-07T12:00+01:00", "24"),
        ("2026-04-02T12:00+01:00", "2026-04-06T23:59+01:00", "12"),
        # Christmas Eve, a Thursday, to Monday: the 26th is a Saturday besides
        ("2026-12-24T12:00+00:00", "2026-12-28T12:00+00:00", "24"),
        # New Year's Eve, a Thursday, over a Friday that is closed
        ("2026-12-31T12:00+00:00", "2027-01-04T12:00+00:00", "24"),
        # the clocks go forward on 29 March 2026: Friday noon to Monday noon
        ("2026-03-27T12:00+00:00", "2026-03-30T12:00+01:00", "24"),
        # and back on 25 October 2026
        ("2026-10-23T12:00+01:00", "2026-10-26T12:00+00:00", "24"),
        # inside one closed day
        ("2026-11-28T03:00+00:00", "2026-11-28T09:00+00:00", "0"),
        # a third of an hour, exactly
        ("2026-11-27T12:00+00:00", "2026-11-27T12:20+00:00", "0." + "3" * 34),
    ],
)
def test_age_leaves_out_the_hours_of_closed_days(since, until, hours):
    moments = (datetime.fromisoformat(each) for each in (since, until))
    assert CALENDAR.open_hours(*moments) == Decimal(hours)


@pytest.mark.parametrize(
    ("zone", "since", "until", "hours"),
    [
        # New York changes at night too, on Sunday 8 March and 1 November 2026
        ("America/New_York", "2026-03-06T12:00-05:00", "2026-03-09T12:00-04:00", "24"),
        ("America/New_York", "2026-10-30T12:00-04:00", "2026-11-02T12:00-05:00", "24"),
        # a Friday on which the clocks go forward at midnight has 23 hours
        ("Asia/Amman", "2021-03-25T00:00+02:00", "2021-03-27T00:00+03:00", "47"),
        # the Friday that Samoa left out, 30 December 2011, has none
        ("Pacific/Apia", "2011-12-29T00:00-10:00", "2011-12-31T00:00+14:00", "24"),
    ],
)
def test_a_day_has_the_hours_it_really_has(zone, since, until, hours):
    moments = (datetime.fromisoformat(each) for each in (since, until))
    assert MarketCalendar(zone=zone).open_hours(*moments) == Decimal(hours)


def test_the_hour_that_comes_twice_is_not_lost_between_two_wall_clocks():
    zone = ZoneInfo("Asia/Amman")  # clocks went back on Friday 29 October 2021
    before = datetime(2021, 10, 29, 0, 50, tzinfo=zone)
    after = datetime(2021, 10, 29, 0, 10, tzinfo=zone, fold=1)
    with arithmetic():
        third = Decimal(1) / 3
    assert MarketCalendar(zone="Asia/Amman").open_hours(before, after) == third


@given(calendars, moments, st.integers(0, 6 * 24 * 60))
def test_age_is_what_counting_minute_by_minute_gives(calendar, since, minutes):
    until = since + timedelta(minutes=minutes)
    got = calendar.open_hours(since, until)
    assert abs(got - counted_by_the_minute(calendar, since, until)) < Decimal("1e-20")


@given(calendars, moments, spans, spans)
def test_ages_add_up_and_never_exceed_the_clock(calendar, start, first, second):
    middle, end = start + first, start + first + second
    parts = calendar.open_hours(start, middle), calendar.open_hours(middle, end)
    whole = calendar.open_hours(start, end)
    assert abs(sum(parts) - whole) < Decimal("1e-20")
    assert 0 <= whole <= Decimal((end - start) / timedelta(hours=1)) + Decimal("1e-9")


@given(moments, spans, st.integers(-14 * 60, 14 * 60))
def test_a_moment_is_the_same_in_any_offset(since, span, minutes):
    elsewhere = since.astimezone(timezone(timedelta(minutes=minutes)))
    until = (since + span).astimezone(LONDON)
    assert CALENDAR.open_hours(elsewhere, until) == CALENDAR.open_hours(
        since, since + span
    )


def test_what_is_still_to_come_has_no_age():
    assert CALENDAR.open_hours(FRIDAY_NOON, FRIDAY_NOON) == 0
    assert CALENDAR.open_hours(FRIDAY_NOON + timedelta(hours=1), FRIDAY_NOON) == 0
    last = datetime.max.replace(tzinfo=timezone(timedelta(hours=-14)))
    assert CALENDAR.open_hours(last, FRIDAY_NOON) == 0


def test_a_moment_out_of_all_bounds_is_very_old_and_soon_counted():
    first = datetime.min.replace(tzinfo=timezone(timedelta(hours=14)))
    assert CALENDAR.open_hours(first, FRIDAY_NOON) > 17_000_000
    edge = FRIDAY_NOON - timedelta(days=LONGEST_COUNTED_DAYS)
    before = edge - timedelta(days=7)
    assert CALENDAR.open_hours(before, FRIDAY_NOON) - CALENDAR.open_hours(
        edge, FRIDAY_NOON
    ) == Decimal(7 * 24)


@pytest.mark.parametrize(
    ("since", "until"),
    [(FRIDAY_NOON.replace(tzinfo=None), FRIDAY_NOON), (FRIDAY_NOON, NAIVE_SATURDAY)],
)
def test_a_moment_without_its_offset_is_refused(since, until):
    with pytest.raises(InvalidInput, match="offset from UTC; give one") as told:
        CALENDAR.open_hours(since, until)
    assert told.value.path == ("as_of",)
    assert aware(FRIDAY_NOON) is FRIDAY_NOON


@pytest.mark.parametrize(
    "zone", ["", "Europe", "Mars/Olympus", "../London", "a\0b", "localtime", "x" * 300]
)
def test_an_unknown_time_zone_is_refused(zone):
    with pytest.raises(InvalidInput, match="write it like Europe/London") as told:
        MarketCalendar(zone=zone)
    assert told.value.path == ("zone",)
    assert told.value.message.isprintable()


@given(st.integers(1583, 9998))
def test_easter_is_a_sunday_from_22_march_to_25_april(year):
    day = easter(year)
    assert day.weekday() == 6
    assert date(year, 3, 22) <= day <= date(year, 4, 25)
    assert len(closing_days(year)) == 6


@pytest.mark.parametrize("year", [1582, 0, -1, 10_000])
def test_no_easter_is_made_up(year):
    with pytest.raises(InvalidInput, match="from 1583 to 9999") as told:
        easter(year)
    assert told.value.path == ("year",)
