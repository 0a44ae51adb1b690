from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from babel import Locale

from api.web.locales import age, day, figure, filters, locale_of, number, share


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        (["de-AT", "en"], "de_AT"),
        (["zz", "x" * 200, "fr"], "fr"),
        (["*", "../../etc", "", "-"], "en"),
        (["zz"] * 50 + ["fr"], "en"),
        ([], "en"),
        (["zh-Hant-TW"], "zh_Hant_TW"),
    ],
)
def test_the_first_locale_that_is_known_counts(wanted, found):
    assert str(locale_of(wanted)) == found


def test_every_digit_is_shown_zeros_too():
    german = Locale("de")
    assert number(Decimal("1234.500"), german) == "1.234,500"
    assert number(Decimal("1200.00"), Locale("en")) == "1,200.00"
    assert number(Decimal("12345678901234567.123456789"), Locale("en")).endswith(
        "567.123456789"
    )
    assert number(7, german) == "7"
    assert figure(Decimal("26.728000"), german) == "26,728"


def test_a_share_is_shown_as_per_cent():
    assert share(Decimal("0.3512"), Locale("en")) == "35.12\u00a0%"
    assert share(Decimal("-0.031249"), Locale("de")) == "-3,12\u00a0%"
    assert share(Decimal(1), Locale("en")) == "100\u00a0%"


def test_a_moment_belongs_to_the_day_it_is_in_the_workshop():
    late = datetime(2026, 11, 25, 23, 30, tzinfo=UTC)
    assert day(late, ZoneInfo("Europe/Vienna")) == "Thursday, 26 November 2026"
    assert day(date(2026, 11, 25), UTC) == "Wednesday, 25 November 2026"
    last = datetime(9999, 12, 31, 23, 30, tzinfo=UTC)
    assert day(last, ZoneInfo("Europe/Vienna")) == "Friday, 31 December 9999"


@pytest.mark.parametrize(
    ("span", "said"),
    [
        (timedelta(minutes=1), "1 minute"),
        (timedelta(minutes=89), "89 minutes"),
        (timedelta(hours=2), "2 hours"),
        (timedelta(days=3), "3 days"),
    ],
)
def test_an_age_is_told_in_the_unit_that_fits(span, said):
    assert age(span) == said


def test_templates_write_with_all_of_them():
    write = filters(Locale("de"), ZoneInfo("Europe/Vienna"))
    assert write["money"](Decimal("1.5"), "EUR") == "1,50\u00a0€"
    assert write["typed"](Decimal("1234.5")) == "1234,5"
    assert write["typed_share"](Decimal("0.355")) == "35,5"
    assert write["instant"](datetime(2026, 11, 25, 12, tzinfo=UTC)).endswith(
        "13:00 (Vienna time, UTC+1)"
    )
