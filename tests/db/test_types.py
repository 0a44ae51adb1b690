"""Column types give back exactly what was put in."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal, localcontext

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy.dialects import postgresql, sqlite

from api.db.types import LARGEST, ScaledDecimal, UtcDateTime

SQLITE, POSTGRESQL = sqlite.dialect(), postgresql.dialect()
DIALECTS = pytest.mark.parametrize(
    "dialect", [SQLITE, POSTGRESQL], ids=lambda d: d.name
)
FIRST, LAST = datetime(1900, 1, 1), datetime(9000, 1, 1)  # noqa: DTZ001
MICRO = ScaledDecimal(6)


@given(st.integers(-LARGEST, LARGEST))
def test_a_decimal_comes_back_whatever_the_context(scaled):
    value = Decimal(f"{scaled}E-6")
    with localcontext(prec=2):
        kept = MICRO.process_bind_param(value, SQLITE)
        assert kept == scaled
        assert MICRO.process_result_value(kept, SQLITE) == value


def test_a_decimal_comes_back_with_all_its_places():
    assert str(MICRO.process_result_value(27_500_000, SQLITE)) == "27.500000"


@pytest.mark.parametrize(
    "value",
    ["0.0000001", "1.0000005", "NaN", "Infinity", "9223372036854.775808"],
)
def test_a_decimal_that_would_change_is_refused(value):
    with pytest.raises(ValueError, match=r"Decimal|decimal places"):
        MICRO.process_bind_param(Decimal(value), SQLITE)


@pytest.mark.parametrize("value", [1.5, 3, "2"])
def test_only_decimals_are_decimals(value):
    with pytest.raises(ValueError, match="not a finite Decimal"):
        MICRO.process_bind_param(value, SQLITE)


@DIALECTS
@pytest.mark.parametrize("kind", [MICRO, UtcDateTime()])
def test_nothing_stays_nothing(dialect, kind):
    assert kind.process_bind_param(None, dialect) is None
    assert kind.process_result_value(None, dialect) is None


@DIALECTS
@given(moment=st.datetimes(FIRST, LAST, timezones=st.timezones()))
def test_an_instant_comes_back_in_utc(dialect, moment):
    kept = UtcDateTime().process_bind_param(moment, dialect)
    found = UtcDateTime().process_result_value(kept, dialect)
    assert found == moment.astimezone(UTC)
    assert found.tzinfo is UTC


def test_a_server_may_answer_in_its_own_time_zone():
    there = datetime(2026, 12, 1, 13, tzinfo=timezone(timedelta(hours=1)))
    found = UtcDateTime().process_result_value(there, POSTGRESQL)
    assert (found, found.hour) == (there, 12)
