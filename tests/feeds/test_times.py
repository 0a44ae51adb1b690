"""Timestamps of every format become instants; impossible ones are refused."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.feeds.times import day_at, moment
from api.ports import FeedFailed, FeedTime


def told(raw, form="rfc3339", zone="Europe/London", at=time(12)):
    return moment(raw, FeedTime(path="t", format=form, zone=zone, at=at))


def why(raw, form="rfc3339", **more):
    with pytest.raises(FeedFailed) as refused:
        told(raw, form, **more)
    assert refused.value.reason == "not_a_time"
    return refused.value.message


NOON = datetime(2026, 11, 23, 12, tzinfo=UTC)


@pytest.mark.parametrize(
    ("raw", "form"),
    [
        ("2026-11-23T12:00:00Z", "rfc3339"),
        ("2026-11-23t12:00:00z", "rfc3339"),
        ("2026-11-23 12:00:00Z", "rfc3339"),
        ("2026-11-23T12:00:00.000000000Z", "rfc3339"),
        ("2026-11-23T12:00:00-00:00", "rfc3339"),
        ("2026-11-24T02:00:00+14:00", "rfc3339"),
        ("2026-11-23T05:30:00-06:30", "rfc3339"),
        (" 2026-11-23T12:00:00Z\n", "rfc3339"),
        (1795435200, "epoch_s"),
        ("1795435200", "epoch_s"),
        (Decimal("1795435200.0"), "epoch_s"),
        (Decimal("1.7954352E+9"), "epoch_s"),
        (1795435200000, "epoch_ms"),
        ("1795435200000", "epoch_ms"),
        ("2026-11-23", "date"),
        ("23.11.2026", "%d.%m.%Y"),
        ("20261123", "%Y%m%d"),
        (20261123, "%Y%m%d"),
        ("23 Nov 26 12:00", "%d %b %y %H:%M"),
        ("11/23/2026 12:00:00 PM", "%m/%d/%Y %I:%M:%S %p"),
        ("2026-11-23T13:00:00+0100", "%Y-%m-%dT%H:%M:%S%z"),
        ("2026-327", "%Y-%j"),
    ],
)
def test_each_format_gives_the_instant(raw, form):
    assert told(raw, form) == NOON


def test_a_fraction_of_a_second_is_kept_to_the_microsecond():
    assert told("2026-11-23T12:00:00.1234567Z").microsecond == 123456
    assert told("2026-11-23T12:00:00.5Z").microsecond == 500_000
    assert told("1795435200.25", "epoch_s").microsecond == 250_000
    assert told(1795435200250, "epoch_ms").microsecond == 250_000


@pytest.mark.parametrize(
    "raw",
    [
        "2026-11-23T12:00:00",
        "20261123T120000Z",
        "2026-11-23T12:00Z",
        "2026-02-29T12:00:00Z",
        "2026-13-01T12:00:00Z",
        "2026-11-23T24:00:00Z",
        "2026-11-23T12:60:00Z",
        "2026-11-23T12:00:61Z",
        "2026-11-23T12:00:00+24:00",
        "2026-11-23T12:00:00+01:60",
        "2026-11-23T12:00:00+01",
        "2026-11-23_12:00:00Z",
        "\uff12026-11-23T12:00:00Z",
        "0001-01-01T00:00:00+01:00",
        "9999-12-31T23:59:59-01:00",
        "1969-12-31T23:59:59Z",
        "2200-01-01T00:00:00Z",
        "x" * 61,
        "",
        None,
        True,
        [],
        {},
    ],
)
def test_what_is_no_time_is_refused(raw):
    why(raw)


def test_second_60_is_the_next_one_and_only_where_a_leap_second_can_be():
    new_year = datetime(2027, 1, 1, tzinfo=UTC)
    assert told("2026-12-31T23:59:60Z") == new_year
    assert told("2027-01-01T00:59:60+01:00") == new_year
    why("2026-12-31T12:00:60Z")


@pytest.mark.parametrize(
    "raw",
    ["-1", "1e9", "", "12.", Decimal("1E+30"), Decimal("1E-30"), 10**30, "1" * 16],
)
def test_an_epoch_is_digits(raw):
    why(raw, "epoch_s")


def test_seconds_and_milliseconds_are_not_taken_for_each_other():
    assert "epoch_ms" in why(1795435200000, "epoch_s")
    assert "epoch_s" in why(1795435200, "epoch_ms")


@pytest.mark.parametrize(
    "raw", ["2026-11-31", "2026-1-1", "20261123", "23.11.2026", "2026-11-23T12:00"]
)
def test_a_date_alone_is_a_real_one_in_iso_form(raw):
    why(raw, "date")


def test_a_date_alone_stands_for_the_time_set_in_its_zone():
    assert told("2026-07-01", "date").hour == 11  # summer time in London
    set_time = {"zone": "Europe/Berlin", "at": time(14, 15)}
    assert told("2026-07-01", "date", **set_time).hour == 12
    assert told("2026-12-01", "date", **set_time).hour == 13
    how = FeedTime(path="t", zone="Asia/Tokyo")
    assert day_at(date(2026, 11, 23), how) == datetime(2026, 11, 23, 3, tzinfo=UTC)


CLOCK = "%Y-%m-%d %H:%M"


def test_a_time_that_happens_twice_is_the_earlier_one():
    assert told("2026-10-25 01:30", CLOCK) == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    assert told("2026-10-25 02:30", CLOCK, zone="Europe/Vienna") == datetime(
        2026, 10, 25, 0, 30, tzinfo=UTC
    )


def test_a_time_left_out_by_the_clocks_is_refused():
    assert "left out" in why("2026-03-29 01:30", CLOCK)
    assert told("2026-03-29 02:00", CLOCK) == datetime(2026, 3, 29, 1, tzinfo=UTC)
    # From memory: Samoa had no 30 December 2011.
    why("2011-12-30", "date", zone="Pacific/Apia")


@pytest.mark.parametrize(
    ("raw", "form"),
    [
        ("31.02.2026", "%d.%m.%Y"),
        ("23.11.2026 extra", "%d.%m.%Y"),
        ("23.11.2026 12:00:60", "%d.%m.%Y %H:%M:%S"),
        ("23.11.2026 00:00 +2359", "%d.%m.%Y %H:%M +%z"),
    ],
)
def test_a_time_that_does_not_fit_its_pattern_is_refused(raw, form):
    why(raw, form)


@given(
    st.datetimes(
        min_value=datetime(1971, 1, 1),  # noqa: DTZ001
        max_value=datetime(2198, 1, 1),  # noqa: DTZ001
        timezones=st.just(UTC),
    )
)
def test_an_instant_comes_back_from_each_format(instant):
    assert told(instant.isoformat()) == instant
    assert told(instant.isoformat().replace("+00:00", "Z")) == instant
    seconds = Decimal(int(instant.timestamp()))
    assert told(seconds, "epoch_s") == instant.replace(microsecond=0)


@given(
    st.text(max_size=30), st.sampled_from(["rfc3339", "epoch_s", "date", "%Y%j", CLOCK])
)
def test_any_text_is_a_time_or_refused(text, form):
    try:
        instant = told(text, form)
    except FeedFailed as refused:
        instant = None
        shown = refused.message
    assert instant is None or 1970 <= instant.year <= 2199
    assert instant is not None or len(shown) < 120
