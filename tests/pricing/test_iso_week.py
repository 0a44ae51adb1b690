import zoneinfo
from collections import Counter
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from pricing.errors import InvalidInput
from pricing.iso_week import IsoWeek
from tests.thoroughness import thorough

ZONES = [
    "Europe/Vienna",
    "America/New_York",
    "America/Santiago",  # changes its clocks at midnight
    "Asia/Kathmandu",  # 5:45 ahead
    "Australia/Lord_Howe",  # changes by half an hour
    "Pacific/Apia",  # 13 hours ahead, and once left a day out
    "Pacific/Kiritimati",
    "UTC",
]
MOMENT = timedelta(microseconds=1)


def week(text):
    return IsoWeek.parse(text)


def hours(text, zone):
    start, end = week(text).bounds(ZoneInfo(zone))
    return (end - start) / timedelta(hours=1)


@pytest.mark.parametrize(
    ("text", "monday", "sunday"),
    [
        ("2026-W48", "2026-11-23", "2026-11-29"),
        ("2026-W01", "2025-12-29", "2026-01-04"),  # begins in the year before
        ("2026-W53", "2026-12-28", "2027-01-03"),  # ends in the year after
        ("2024-W09", "2024-02-26", "2024-03-03"),  # has 29 February
        ("1970-W01", "1969-12-29", "1970-01-04"),
    ],
)
def test_a_week_goes_from_monday_to_sunday(text, monday, sunday):
    found = week(text)
    assert [day.isoformat() for day in found.days] == [monday, sunday]
    assert [IsoWeek.of(day) for day in found.days] == [found, found]
    assert str(found) == text


@pytest.mark.parametrize(
    "text",
    [
        "2026-48",
        "2026-W8",
        "2026W48",
        "2026-w48",
        " 2026-W48",
        "2026-W48\n",
        "٢٠٢٦-W48",
    ],
)
def test_any_other_writing_is_refused_with_an_example(text):
    with pytest.raises(InvalidInput, match="like 2026-W48") as refused:
        IsoWeek.parse(text, path=("since",))
    assert refused.value.path == ("since",)


@pytest.mark.parametrize("text", ["2025-W53", "2026-W00", "2026-W54"])
def test_a_week_that_its_year_does_not_have_is_refused(text):
    with pytest.raises(InvalidInput, match="its weeks go from 1 to 5") as refused:
        IsoWeek.parse(text, path=("since",))
    assert refused.value.path == ("since",)


@pytest.mark.parametrize("year", [1969, 9001])
def test_a_year_far_off_is_refused(year):
    with pytest.raises(InvalidInput, match="1970 to 9000"):
        IsoWeek(year=year, week=10)


def test_weeks_are_counted_over_the_turn_of_the_year():
    assert str(week("2026-W53").plus(1)) == "2027-W01"
    assert str(week("2027-W01").plus(-1)) == "2026-W53"
    assert week("2020-W01").plus(53) == week("2021-W01")  # 2020 has a week 53
    back = week("2021-W02").weeks_back(4)
    assert [str(each) for each in back] == [
        "2020-W52",
        "2020-W53",
        "2021-W01",
        "2021-W02",
    ]
    assert list(back) == sorted(back)


@pytest.mark.parametrize("weeks", [-10_000, 10_000_000, 400_000])
def test_weeks_beyond_the_calendar_are_refused(weeks):
    with pytest.raises(InvalidInput, match="1970 to 9000"):
        week("2026-W48").plus(weeks)


def test_a_week_in_which_the_clocks_change_is_an_hour_shorter_or_longer():
    assert hours("2026-W12", "Europe/Vienna") == 168
    assert hours("2026-W13", "Europe/Vienna") == 167  # 29 March 2026
    assert hours("2026-W43", "Europe/Vienna") == 169  # 25 October 2026
    assert hours("2026-W14", "Australia/Lord_Howe") == 168.5  # 5 April 2026
    assert hours("2011-W52", "Pacific/Apia") == 144  # 30 December 2011 was left out


def test_bounds_are_the_midnights_of_the_zone_in_utc():
    start, end = week("2026-W48").bounds(ZoneInfo("Europe/Vienna"))
    assert start == datetime(2026, 11, 22, 23, tzinfo=UTC)
    assert end == datetime(2026, 11, 29, 23, tzinfo=UTC)
    assert start.tzinfo is UTC


@pytest.mark.parametrize(
    "name", thorough(quick=ZONES, full=sorted(zoneinfo.available_timezones()))
)
def test_no_moment_is_in_two_weeks_or_in_none(name):
    """Whoever asks by moments and whoever asks by local dates gets the same week."""
    zone = ZoneInfo(name)
    each = week("2018-W52")
    for _ in range(20 * 53):
        start, end = each.bounds(zone)
        following = each.plus(1)
        assert following.bounds(zone)[0] == end
        first, last = (at.astimezone(zone).date() for at in (start, end - MOMENT))
        assert IsoWeek.of(first) == IsoWeek.of(last) == each
        each = following


def test_every_day_is_in_exactly_one_week():
    days = [date(1999, 12, 20) + timedelta(days=i) for i in range(7 * 53 * 40)]
    counts = Counter(map(IsoWeek.of, days))
    assert set(counts.values()) == {7}
    assert {"2004-W53", "2009-W53", "2015-W53", "2020-W53"} <= set(map(str, counts))
