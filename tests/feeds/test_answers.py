from __future__ import annotations

from datetime import UTC, datetime, timedelta
from email.utils import format_datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from urllib3 import HTTPResponse

from api.outbound.answers import check_status, retry_after_s
from api.outbound.trouble import TryAgain
from api.ports.feeds import FeedFailed

NOW = datetime(2026, 1, 2, 12, tzinfo=UTC)
DAY_S = 24 * 3600


def answer(status, **headers):
    return HTTPResponse(b"its own words", status=status, headers=headers)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("5", 5),
        (" 5 ", 5),
        ("0", 0),
        ("99999999999", DAY_S),
        ("9" * 20, DAY_S),
        ("9" * 21, None),
        ("-1", None),
        ("1.5", None),
        ("abc", None),
        ("５", None),
        ("", None),
        (None, None),
        (format_datetime(NOW + timedelta(seconds=90), usegmt=True), 90),
        (format_datetime(NOW - timedelta(days=2), usegmt=True), 0),
        (format_datetime(NOW + timedelta(days=400), usegmt=True), DAY_S),
        ("Fri, 02 Jan 2026 12:01:00", 60),
        ("Fri, 02 Jan 2026 13:01:00 +0100", 60),
        ("Fri, 99 Jan 2026 12:01:00 GMT", None),
        ("Fri, 02 Jan 99999999999 12:01:00 GMT", None),
    ],
)
def test_retry_after_is_read_and_clamped(text, seconds):
    assert retry_after_s(text, now=NOW) == seconds


@given(st.text(max_size=40))
def test_no_retry_after_asks_for_more_than_a_day_or_raises(text):
    seconds = retry_after_s(text, now=NOW)
    assert seconds is None or 0 <= seconds <= DAY_S


def test_a_200_passes_and_a_304_only_where_it_was_asked_for():
    check_status(answer(200), conditional=False, now=NOW)
    check_status(answer(304), conditional=True, now=NOW)
    with pytest.raises(FeedFailed, match="unasked"):
        check_status(answer(304), conditional=False, now=NOW)


@pytest.mark.parametrize("status", [429, 502, 503, 504])
def test_a_status_that_may_pass_is_worth_another_try(status):
    with pytest.raises(TryAgain) as failed:
        check_status(answer(status, Retry_After="7"), conditional=False, now=NOW)
    assert failed.value.retry_after_s is None  # the field is spelled with a hyphen
    with pytest.raises(TryAgain, match="wait 7 seconds") as failed:
        check_status(answer(status, **{"Retry-After": "7"}), conditional=False, now=NOW)
    assert failed.value.retry_after_s == 7


@pytest.mark.parametrize("status", [201, 301, 302, 401, 404, 418, 500, 999])
def test_any_other_status_is_final_and_says_nothing_the_server_said(status):
    with pytest.raises(FeedFailed) as failed:
        check_status(answer(status), conditional=False, now=NOW)
    assert not isinstance(failed.value, TryAgain)
    assert str(status) in failed.value.message
    assert "own words" not in failed.value.message
