from __future__ import annotations

import time
from dataclasses import replace

import pytest
from requests import Request

from api.feeds.upstream import Upstream, judge
from api.ports.feeds import FeedFailed
from tests.feeds.hostile_server import GOOD_BODY, good, reset, says, status


class Naps:
    """Takes the place of sleeping."""

    def __init__(self):
        self.taken = []

    def __call__(self, seconds):
        self.taken.append(seconds)


def ask(url, reach, limits, **settings):
    naps = Naps()
    upstream = Upstream(reach, limits, sleep=naps, **settings)
    try:
        return upstream.send(Request("GET", url).prepare()), naps.taken, upstream
    except FeedFailed as failed:
        return failed, naps.taken, upstream


@pytest.mark.parametrize(
    "trouble", [status(429), status(502), status(503), status(504), reset, says(b"")]
)
def test_trouble_that_may_pass_is_tried_again(server, local, quick, trouble):
    url = server.script("/x", [trouble, trouble, good()])
    answer, naps, upstream = ask(url, local, replace(quick, pause_s=0.01))
    assert answer.content == GOOD_BODY
    assert len(naps) == 2
    assert 0.01 <= naps[0] <= 0.02  # the pause and up to as much by chance
    assert 0.02 <= naps[1] <= 0.03
    assert upstream.passed_over() is None


@pytest.mark.parametrize("path", ["/500", "/404", "/401", "/302", "/page", "/bomb"])
def test_other_trouble_is_not(server, local, quick, path):
    failed, naps, _ = ask(server.url(path), local, quick)
    assert isinstance(failed, FeedFailed)
    assert naps == []
    assert len(server.requests) == 1


def test_three_tries_are_the_most(server, local, quick):
    failed, naps, upstream = ask(server.url("/503"), local, quick)
    assert failed.reason == "http_status"
    assert len(naps) == 2
    assert len(server.requests) == 3
    assert upstream.passed_over() is failed


def test_a_pause_that_is_asked_for_is_kept(server, local, quick):
    url = server.script("/x", [status(503, Retry_After="7"), good()])
    answer, naps, _ = ask(url, local, replace(quick, total_s=20))
    assert answer.ok
    assert naps == [7]


def test_a_pause_beyond_the_deadline_ends_it_at_once(server, local, quick):
    url = server.script("/x", [status(429, Retry_After="3600"), good()])
    failed, naps, _ = ask(url, local, quick)
    assert failed.reason == "too_many_requests"
    assert "3600 seconds" in failed.message
    assert failed.retry_after_s == 3600
    assert naps == []


def test_one_deadline_holds_for_all_tries(server, local, quick):
    url = server.script("/x", [status(503), good()])
    limits = replace(quick, total_s=0.05)
    upstream = Upstream(local, limits, sleep=lambda _: time.sleep(0.05))
    with pytest.raises(FeedFailed) as failed:
        upstream.send(Request("GET", url).prepare())
    assert failed.value.reason == "timeout"
    assert len(server.requests) == 1


def test_rubbish_in_retry_after_is_ignored(server, local, quick):
    url = server.script("/x", [status(429, Retry_After="soon"), good()])
    answer, naps, _ = ask(url, local, quick)
    assert answer.ok
    assert len(naps) == 1


def test_a_body_is_judged_by_whoever_asked(server, local, quick):
    def no_price(body, kind):
        assert (body, kind) == (GOOD_BODY, "application/json")
        raise FeedFailed("no_price", "There is no price.")

    failed, _, _ = ask(server.url("/good"), local, quick, check=no_price)
    assert failed.reason == "no_price"


def test_a_fault_of_our_own_is_not_passed_over(server, local, quick):
    upstream = Upstream(local, quick, sleep=Naps(), check=lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        upstream.send(Request("GET", server.url("/good")).prepare())
    with pytest.raises(ZeroDivisionError):
        upstream.passed_over()


@pytest.mark.parametrize(
    ("body", "kind", "reason"),
    [
        (b"", "", "empty"),
        (b" \n", "text/csv", "empty"),
        (b"{}", "TEXT/HTML; charset=utf-8", "html_page"),
        (b"<!DOCTYPE  HTML>", "", "html_page"),
        (b"\n<html>", "application/json", "html_page"),
    ],
)
def test_what_is_no_data_is_refused(body, kind, reason):
    with pytest.raises(FeedFailed) as failed:
        judge(body, kind, None)
    assert failed.value.reason == reason


@pytest.mark.parametrize("body", [b"{}", b"<?xml version='1.0'?><a/>", b"a,b\r\n"])
def test_what_may_be_data_passes(body):
    judge(body, "", None)
