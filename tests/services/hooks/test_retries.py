from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from api.ports.hooks import HookMessage, Sent
from api.services.hooks.retries import WAITS_S, after_try, reason_of

NOW = datetime(2026, 12, 1, 12, tzinfo=UTC)


def message(tries=0):
    return HookMessage(
        id="msg_1", hook="a", event="quote.accepted", body="{}", created_at=NOW,
        due=NOW, tries=tries, reason="timeout" if tries else "",
    )  # fmt: skip


def after(sent, tries=0, spread=1.0):
    return after_try(message(tries), sent, at=NOW, spread=lambda: spread)


def wait_s(sent, tries=0, spread=1.0):
    found = after(sent, tries, spread)
    assert found.status == "waiting"
    return (found.due - NOW).total_seconds()


@pytest.mark.parametrize("status", [200, 201, 204, 299])
def test_any_2xx_is_success(status):
    done = after(Sent(status=status), tries=3)
    assert (done.status, done.tries, done.answered) == ("delivered", 4, status)
    assert done.reason == ""


def test_the_waits_are_those_of_the_specification():
    # Standard Webhooks 1.0.0, "Deliverability and reliability", example schedule.
    hours = [2, 5, 10, 14, 20, 24]
    assert (0, 5, 300, 1800, *(3600 * each for each in hours)) == WAITS_S
    waits = [wait_s(Sent(status=500), tries=tries) for tries in range(9)]
    assert waits == list(WAITS_S[1:])


def test_after_the_last_try_it_is_given_up():
    last = after(Sent(status=500), tries=len(WAITS_S) - 1)
    assert (last.status, last.tries, last.reason) == ("failed", 10, "http_status")


def test_waits_are_spread():
    assert wait_s(Sent(status=500), 2, spread=1.1) == pytest.approx(1980)


def test_gone_is_given_up_at_once():
    gone = after(Sent(status=410))
    assert (gone.status, gone.reason) == ("failed", "gone")


@pytest.mark.parametrize(
    ("sent", "reason"),
    [
        (Sent(status=302), "redirect"),
        (Sent(status=404), "http_status"),
        (Sent(reason="timeout"), "timeout"),
    ],
)
def test_why_it_failed_is_kept(sent, reason):
    assert reason_of(sent) == reason
    assert after(sent).reason == reason
    assert after(sent).answered == sent.status


@pytest.mark.parametrize("status", [429, 502, 504])
def test_who_has_too_much_to_do_is_given_time(status):
    assert wait_s(Sent(status=status)) == 60
    assert wait_s(Sent(status=status), tries=2) == 1800


@pytest.mark.parametrize(
    ("asked", "waited"), [(3600, 3600), (1, 5), (0, 5), (10**9, 86_400), (None, 5)]
)
def test_the_pause_that_is_asked_for_is_kept_within_a_day(asked, waited):
    assert wait_s(Sent(status=503, retry_after_s=asked)) == waited


def test_the_whole_of_it_takes_some_days():
    assert timedelta(days=3) < timedelta(seconds=sum(WAITS_S)) < timedelta(days=4)
