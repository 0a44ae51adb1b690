"""Easter and the closing days of the market against other sources."""

from datetime import date

import pytest
from dateutil import easter as dateutil_easter

from pricing.market_days import MarketCalendar, closing_days, easter


def test_easter_is_that_of_a_second_implementation():
    # Source: python-dateutil, dateutil.easter, western method (from Claus
    # Tøndering's calendar FAQ); its range ends at 4099.
    years = range(1583, 4100)
    assert [easter(year) for year in years] == [
        dateutil_easter.easter(year) for year in years
    ]


@pytest.mark.parametrize(
    "sunday",
    [
        # From memory: dates commonly printed, the earliest and the latest possible
        # among them (22 March 1818, 25 April 1943).
        date(1818, 3, 22),
        date(1943, 4, 25),
        date(2000, 4, 23),
        date(2008, 3, 23),
        date(2019, 4, 21),
        date(2024, 3, 31),
        date(2025, 4, 20),
        date(2026, 4, 5),
        date(2027, 3, 28),
        date(2038, 4, 25),
    ],
)
def test_easter_of_a_printed_calendar(sunday):
    assert easter(sunday.year) == sunday


def test_the_closing_days_of_target():
    # From memory: the calendar of the euro's payment system since 2002 closes on
    # Saturdays, Sundays, New Year's Day, Good Friday, Easter Monday, 1 May,
    # Christmas Day and 26 December.
    assert closing_days(2026) == {
        date(2026, 1, 1),
        date(2026, 4, 3),
        date(2026, 4, 6),
        date(2026, 5, 1),
        date(2026, 12, 25),
        date(2026, 12, 26),
    }


def test_a_year_has_as_many_market_days_as_its_calendar_leaves():
    # Own count: 2026 has 261 weekdays; 26 December falls on a Saturday, so five
    # closing days take a weekday each.
    calendar = MarketCalendar()
    days = (date.fromordinal(date(2026, 1, 1).toordinal() + i) for i in range(365))
    assert sum(calendar.is_open(day) for day in days) == 256
