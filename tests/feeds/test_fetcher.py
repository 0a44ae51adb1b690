from __future__ import annotations

import multiprocessing
import sqlite3
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from ipaddress import ip_network

import pytest
import requests
import responses
from requests_cache.policy.settings import DEFAULT_IGNORED_PARAMS

from api.feeds.cache_file import CacheFile
from api.feeds.fetcher import CachedFetcher, Keeping, hidden
from api.outbound.deadline import Limits
from api.outbound.safe_http import Reach, SafeAdapter
from api.ports.feeds import FeedFailed, Fetched
from tests.feeds.conftest import Connector, resolver
from tests.feeds.hostile_server import (
    GOOD_BODY,
    PAGE,
    SECRET_ECHO,
    HostileServer,
    good,
    hang,
    status,
)

SECRET = "s3cr3t-value-of-a-key"


@pytest.fixture
def path(tmp_path):
    return tmp_path / "answers.db"


@pytest.fixture
def fetcher(path, local, quick):
    return CachedFetcher(Keeping(file=path), reach=local, limits=quick)


def age(path, by):
    """Let the answers in the file be this much older."""
    kept = CacheFile(path, useful=timedelta(days=1))
    for key in list(kept):
        answer = kept[key]
        answer.expires -= by
        kept[key] = answer


def written(path):
    return b"".join(each.read_bytes() for each in path.parent.iterdir())


# The cache


def test_the_session_is_set_as_was_agreed(fetcher):
    session = fetcher.session(SafeAdapter(Reach()), {"X-Own": "1"})
    settings = session.settings
    assert settings.expire_after == timedelta(minutes=10)
    assert settings.stale_if_error == 3600
    assert settings.stale_while_revalidate is False
    assert settings.cache_control is False
    assert settings.allowable_codes == (200,)
    assert settings.allowable_methods == ("GET",)
    assert settings.match_headers is True
    assert settings.disabled is settings.read_only is False
    assert set(settings.ignored_parameters) == {"X-Own", *DEFAULT_IGNORED_PARAMS}
    assert settings.filter_fn is not None
    assert session.cache.responses.serializer.name == "json"
    assert session.trust_env is False
    assert {type(each) for each in session.adapters.values()} == {SafeAdapter}


def test_an_answer_is_fetched_once_and_kept(fetcher, server, path, local, quick):
    url = server.url("/good")
    first, second = fetcher.fetch(url, {}), fetcher.fetch(url, {})
    assert isinstance(first, Fetched)
    assert first.body == second.body == GOOD_BODY
    assert second.content_type == "application/json"
    assert [first.from_cache, second.from_cache] == [False, True]
    another = CachedFetcher(Keeping(file=path), reach=local, limits=quick)
    assert another.fetch(url, {}).from_cache
    assert len(server.requests) == 1


def test_memory_alone_keeps_it_too(server, local):
    fetcher = CachedFetcher(Keeping(), reach=local)
    url = server.url("/gzip")
    assert [fetcher.fetch(url, {}).from_cache for _ in range(2)] == [False, True]
    assert fetcher.fetch(url, {}).body == GOOD_BODY


def test_other_headers_are_another_answer(fetcher, server):
    url = server.url("/good")
    fetcher.fetch(url, {"Accept": "text/csv"})
    assert not fetcher.fetch(url, {"Accept": "text/xml"}).from_cache
    assert [each.headers["accept"] for each in server.requests] == [
        "text/csv",
        "text/xml",
    ]


def test_after_ten_minutes_it_is_asked_again(fetcher, server, path):
    url = server.script("/x", [good(b"1"), good(b"2")])
    assert fetcher.fetch(url, {}).body == b"1"
    age(path, timedelta(minutes=9))
    assert fetcher.fetch(url, {}).body == b"1"
    age(path, timedelta(minutes=2))
    again = fetcher.fetch(url, {})
    assert (again.body, again.from_cache, again.failure) == (b"2", False, None)


def test_an_answer_that_did_not_change_is_kept_on(fetcher, server, path):
    url = server.url("/tagged")
    fetcher.fetch(url, {})
    age(path, timedelta(minutes=11))
    again = fetcher.fetch(url, {})
    assert (again.body, again.from_cache, again.failure) == (GOOD_BODY, True, None)
    assert server.requests[1].headers["if-none-match"] == '"v1"'
    assert fetcher.fetch(url, {}).from_cache
    assert len(server.requests) == 2


@pytest.mark.parametrize(
    ("trouble", "reason"),
    [
        (status(503), "http_status"),
        (status(404), "not_found"),
        (good(PAGE, "text/html"), "html_page"),
        (good(b""), "empty"),
        (hang, "timeout"),
    ],
)
def test_an_older_answer_serves_for_an_hour_and_says_why(
    fetcher, server, path, trouble, reason
):
    url = server.script("/x", [good(b"1"), trouble])
    fetcher.fetch(url, {})
    age(path, timedelta(minutes=60))
    stale = fetcher.fetch(url, {})
    assert (stale.body, stale.from_cache) == (b"1", True)
    assert stale.failure.reason == reason
    age(path, timedelta(minutes=20))
    with pytest.raises(FeedFailed) as failed:
        fetcher.fetch(url, {})
    assert failed.value.reason == reason


def test_a_bad_answer_is_never_kept_over_a_good_one(fetcher, server, path):
    def check(body, _kind):
        if body != b"1":
            raise FeedFailed("no_price", "There is no price.")

    url = server.script("/x", [good(b"1"), good(b"?"), good(b"1")])
    fetcher.fetch(url, {}, check=check)
    age(path, timedelta(minutes=11))
    stale = fetcher.fetch(url, {}, check=check)
    assert (stale.body, stale.failure.reason) == (b"1", "no_price")
    assert fetcher.fetch(url, {}, check=check).failure is None


def test_a_failure_is_not_kept(fetcher, server):
    url = server.script("/x", [status(404), good()])
    with pytest.raises(FeedFailed):
        fetcher.fetch(url, {})
    assert fetcher.fetch(url, {}).body == GOOD_BODY


def test_a_fault_of_our_own_is_not_hidden_by_an_older_answer(fetcher, server, path):
    url = server.url("/good")
    fetcher.fetch(url, {})
    age(path, timedelta(minutes=11))
    with pytest.raises(ZeroDivisionError):
        fetcher.fetch(url, {}, check=lambda *_: 1 / 0)


# Secrets


@pytest.mark.parametrize("sent_as", ["X-My-Key", "x-my-key", "authorization"])
def test_a_secret_is_sent_and_written_down_nowhere(
    fetcher, server, path, caplog, sent_as
):
    url = server.script("/x", [good(), status(503, SECRET.encode())])
    headers = {sent_as: SECRET, "Accept": "text/plain"}
    caplog.set_level(0)
    fetcher.fetch(url, headers, secret_names=("X-My-Key",))
    assert server.requests[0].headers[sent_as.lower()] == SECRET
    assert b"text/plain" in written(path)
    assert SECRET.encode() not in written(path)
    age(path, timedelta(minutes=11))
    stale = fetcher.fetch(url, headers, secret_names=("X-My-Key",))
    assert stale.failure is not None
    assert SECRET not in caplog.text + repr(stale) + str(stale.failure)


def test_an_answer_that_repeats_a_secret_is_not_kept(fetcher, server, path):
    headers = {SECRET_ECHO: SECRET}
    url = server.url("/echo")
    for _ in range(2):
        answer = fetcher.fetch(url, headers, secret_names=(SECRET_ECHO,))
        assert SECRET.encode() in answer.body
        assert not answer.from_cache
    assert not path.exists() or SECRET.encode() not in written(path)


def test_hidden_headers_are_named_as_they_are_sent():
    headers = {"x-API-key": "1", "X-Mine": "2", "Accept": "3"}
    assert hidden(headers, ("x-mine",)) == {"x-API-key": "1", "X-Mine": "2"}


@pytest.mark.parametrize(
    "headers",
    [
        {"Host": "127.0.0.1"},
        {"cache-control": "max-age=99999999"},
        {"If-None-Match": "x"},
        {"Content-Length": "5"},
        {"Bad Name": "x"},
        {"": "x"},
        {"X-Key": f"{SECRET}\r\nHost: x"},
        {"X-Key": f"{SECRET}\n"},
        {"X-Key": f" {SECRET}"},
        {"X-Key": f"{SECRET}ü"},
        {"X-Key": ""},
        {"X-Key": SECRET * 300},
    ],
)
def test_headers_that_would_bend_the_request_are_refused(fetcher, server, headers):
    with pytest.raises(FeedFailed) as failed:
        fetcher.fetch(server.url("/good"), headers)
    assert failed.value.reason == "bad_header"
    assert SECRET not in failed.value.message
    assert server.connections == 0


@pytest.mark.parametrize(
    "url", ["file:/etc/hosts", "gopher://127.0.0.1/", "https://", "x", "http://[::1"]
)
def test_a_url_that_cannot_be_asked_is_told_in_plain_words(fetcher, url):
    with pytest.raises(FeedFailed) as failed:
        fetcher.fetch(url, {})
    assert failed.value.reason == "bad_url"


# Many callers, and a file that cannot be had


def test_eight_threads_at_once_make_one_call(fetcher, server):
    server.script(
        "/slow", [lambda s, sock, _: (s.closing.wait(0.05), good()(s, sock, _))]
    )
    together = threading.Barrier(8)

    def call(_):
        together.wait()
        return fetcher.fetch(server.url("/slow"), {}).body

    with ThreadPoolExecutor(8) as pool:
        bodies = set(pool.map(call, range(8)))
    assert bodies == {GOOD_BODY}
    assert len(server.requests) == 1


def test_eight_threads_asking_eight_feeds_do_not_disturb_each_other(fetcher, server):
    with ThreadPoolExecutor(8) as pool:
        urls = [server.url(f"/good?{n}") for n in range(8)] * 4
        answers = list(pool.map(lambda url: fetcher.fetch(url, {}), urls))
    assert all(each.body == GOOD_BODY for each in answers)
    assert len({each.path for each in server.requests}) == 8


def _fetch_many(url, path, results):
    reach = Reach(networks=(ip_network("127.0.0.0/8"),), plain_http=True)
    fetcher = CachedFetcher(Keeping(file=path), reach=reach)
    results.put([fetcher.fetch(f"{url}?{n % 5}", {}).body for n in range(25)])


def test_two_processes_share_one_file(server, path):
    start = multiprocessing.get_context("spawn")
    results = start.Queue()
    arguments = (server.url("/good"), path, results)
    both = [start.Process(target=_fetch_many, args=arguments) for _ in range(2)]
    for each in both:
        each.start()
    bodies = [results.get(timeout=30) for _ in both]
    for each in both:
        each.join()
    assert bodies == [[GOOD_BODY] * 25] * 2
    assert 5 <= len(server.requests) <= 10


def test_a_locked_file_delays_a_fetch_by_less_than_a_second(fetcher, server, path):
    url = server.url("/good")
    fetcher.fetch(server.url("/bom"), {})  # so that there is a file
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        began = time.monotonic()
        assert not fetcher.fetch(url, {}).from_cache
        assert fetcher.fetch(url, {}).from_cache
        assert time.monotonic() - began < 1
    assert len(server.requests) == 2


def test_a_file_nobody_can_write_leaves_fetching_as_it_is(server, local, tmp_path):
    fetcher = CachedFetcher(Keeping(file=tmp_path), reach=local)
    began = time.monotonic()
    for _ in range(3):
        assert fetcher.fetch(server.url("/good"), {}).body == GOOD_BODY
    assert time.monotonic() - began < 1
    assert len(server.requests) == 1


# Units of behaviour, without any connection


@responses.activate
def test_no_request_leaves_by_another_way():
    """Whatever a session would send, the adapter sends: the mock sees nothing."""
    responses.get("https://feed.example/", body="1")
    connector = Connector()
    reach = Reach(connector=connector, resolver=resolver(["127.0.0.1"]))
    fetcher = CachedFetcher(Keeping(), reach=reach)
    assert requests.get("https://feed.example/", timeout=1).text == "1"
    with pytest.raises(FeedFailed):
        fetcher.fetch("https://other.example/", {})
    assert connector.made == []


def test_the_limits_may_be_left_out():
    assert CachedFetcher(Keeping()).limits == Limits()
    assert CachedFetcher(Keeping()).reach == Reach()


def test_the_stated_total_holds_over_all_tries(local):
    with HostileServer() as server:
        server.script("/x", [status(503), hang])
        limits = Limits(connect_s=0.1, read_s=5, total_s=0.2, pause_s=0.01)
        fetcher = CachedFetcher(Keeping(), reach=local, limits=limits)
        began = time.monotonic()
        with pytest.raises(FeedFailed) as failed:
            fetcher.fetch(server.url("/x"), {})
        assert time.monotonic() - began < 1
    assert failed.value.reason == "timeout"
    assert "0.2 seconds" in failed.value.message


def test_times_in_the_file_are_those_of_the_clock(fetcher, server, path):
    fetcher.fetch(server.url("/good"), {})
    kept = CacheFile(path, useful=timedelta(hours=1))
    (answer,) = kept.values()
    left = answer.expires - datetime.now(UTC)
    assert timedelta(minutes=9) < left <= timedelta(minutes=10)
    assert replace(fetcher.keeping, file=None) == Keeping()
