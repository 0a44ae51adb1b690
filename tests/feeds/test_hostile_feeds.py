"""Whatever a feed answers: the price in force stays, and the reason can be read.

Through the whole of it: a real server, the fetcher, the readers, the guards and a
real database.
"""

from __future__ import annotations

import json
import multiprocessing
import sqlite3
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from decimal import Decimal
from pathlib import Path
from threading import Barrier

import pytest

from api.app import compose
from api.feeds.fetcher import CachedFetcher, Keeping
from api.settings import Settings
from tests.feeds.hostile_cases import (
    FEED,
    LIES,
    LIMITS,
    REACH,
    StillClock,
    described,
    names,
    set_honest_up,
    set_lies,
    workshop,
)
from tests.feeds.hostile_server import HostileServer, good
from tests.thoroughness import thorough

ROOT = Path(__file__).resolve().parents[2]
SLACK_S = 1
"""Time for what is not fetching: the database, and a busy machine."""
MOST_GROWTH_KB = 10_000
MEMORY = Path("/proc/self/clear_refs")


@pytest.fixture(scope="module")
def liars():
    """A server that tells every lie, and where."""
    with HostileServer() as server:
        yield server, set_lies(server)


@pytest.fixture(scope="module")
def services(liars, tmp_path_factory):
    """One workshop for all of them: each feed may spoil it for the next."""
    server, _ = liars
    found = workshop(str(tmp_path_factory.mktemp("hostile") / "workshop.sqlite3"))
    set_honest_up(found, server.url("/good"))
    yield found
    found.close()


def in_force(services):
    return services.spot_prices.current_entry()


def test_there_are_far_more_than_forty():
    assert len(LIES) >= 60
    assert len(names()) >= 120
    assert len(set(names().values())) == len(names())


@pytest.mark.parametrize("key", names(), ids=names().values())
def test_a_lie_changes_nothing_and_has_its_reason(services, liars, key):
    _, found = liars
    url, lie = found[key]
    before = in_force(services)
    services.feeds.put(key, described(url, lie), expected=None)
    began = time.monotonic()
    results = services.spot_prices.fetch(key)
    assert time.monotonic() - began < LIMITS.total_s + SLACK_S
    [result] = results
    assert result.outcome == lie.outcome, result.findings
    assert in_force(services) == before
    assert before.source == "honest"
    [record] = services.feeds.fetches(key)
    assert (record.outcome, record.findings) == (result.outcome, result.findings)
    for finding in record.findings:
        assert finding.text.endswith("."), finding
        assert len(finding.text) > 20
    assert [one for one in record.findings if one.weight != "warn"]


def test_a_held_lie_counts_only_once_a_person_says_so(tmp_path):
    with HostileServer() as server:
        services = workshop(str(tmp_path / "held.sqlite3"))
        set_honest_up(services, server.url("/good"))
        lie = LIES["a tenth dearer"]
        url = server.script("/dear", [good(lie.body)])
        services.feeds.put("dear", described(url, lie), expected=None)
        [held] = services.spot_prices.fetch("dear")
        assert in_force(services).source == "honest"
        services.spot_prices.accept(held.entry_id)
        assert in_force(services).price == Decimal("30.50")
        services.close()


# Memory


MEASURE = """
import gc, json, re, sys
from pathlib import Path
from tests.feeds.hostile_cases import *

def memory_kb(name):
    told = Path("/proc/self/status").read_text()
    return int(re.search(name + r":\\s+(\\d+)", told)[1])

database, honest = sys.argv[1:]
lies = json.load(sys.stdin)
services = workshop(database)
set_honest_up(services, honest)

def peak_of(key, url, name):
    lie = LIES.get(name, Lie(b""))
    services.feeds.put(key, described(url, lie), expected=None)
    gc.collect()
    before = memory_kb("VmRSS")
    Path("/proc/self/clear_refs").write_text("5")
    (result,) = services.spot_prices.fetch(key)
    assert result.outcome in {"failed", "refused", "held"}, name
    return memory_kb("VmHWM") - before

for n, (url, name) in enumerate(lies.values()):  # so that all is imported
    if name in {"a bomb of entities", "CSV of gaps", "reference rates of nothing"}:
        peak_of(f"first_{n}", url, name)
before = memory_kb("VmRSS")
peaks = {name: peak_of(key, url, name) for key, (url, name) in lies.items()}
gc.collect()
print(json.dumps({"left": memory_kb("VmRSS") - before, "peaks": peaks}))
"""


@pytest.mark.skipif(not MEMORY.exists(), reason="the system does not tell")
def test_none_takes_ten_megabytes_and_all_together_leave_less(liars, tmp_path):
    server, found = liars
    few = list(found.items())[:: thorough(quick=4, full=1)]
    lies = {key: (url, names()[key]) for key, (url, _) in few}
    run = subprocess.run(
        [sys.executable, "-c", MEASURE, str(tmp_path / "m.db"), server.url("/good")],
        cwd=ROOT,
        input=json.dumps(lies),
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    told = json.loads(run.stdout)
    assert told["left"] < MOST_GROWTH_KB
    assert max(told["peaks"].values()) < MOST_GROWTH_KB, told["peaks"]


# Many at once


def test_eight_who_ask_at_once_make_one_call_and_one_entry(tmp_path):
    with HostileServer() as server:
        slow = server.script(
            "/slow", [lambda s, sock, _: (s.closing.wait(0.05), good()(s, sock, _))]
        )
        services = workshop(str(tmp_path / "eight.sqlite3"))
        services.feeds.put("slow", FEED | {"url": slow}, expected=None)
        together = Barrier(8)

        def ask(_):
            together.wait(timeout=30)
            return services.spot_prices.fetch("slow")[0]

        with ThreadPoolExecutor(8) as pool:
            results = list(pool.map(ask, range(8)))
        assert {each.outcome for each in results} <= {"accepted", "ignored"}
        assert [each.outcome for each in results].count("accepted") >= 1
        assert len(server.requests) == 1
        [entry] = services.spot_prices.history()
        assert entry.price == Decimal("27.50")
        services.close()


def _fetch_all(database, urls, answers):
    """In a process of its own: set nothing up, ask everything, and read."""
    fetcher = CachedFetcher(Keeping(), reach=REACH)
    services = compose(Settings(database=database), clock=StillClock(), fetcher=fetcher)
    outcomes = []
    for _ in range(3):
        for key in urls:
            outcomes += [one.outcome for one in services.spot_prices.fetch(key)]
            services.spot_prices.current()
    services.close()
    answers.put(outcomes)


def test_two_processes_share_the_history_without_a_locked_error(tmp_path):
    database = str(tmp_path / "two.sqlite3")
    with HostileServer() as server:
        services = workshop(database)
        urls = {f"feed_{n}": server.url(f"/good?{n}") for n in range(8)}
        for key, url in urls.items():
            services.feeds.put(key, FEED | {"url": url}, expected=None)
        start = multiprocessing.get_context("spawn")
        answers = start.Queue()
        both = [
            start.Process(target=_fetch_all, args=(database, list(urls), answers))
            for _ in range(2)
        ]
        for each in both:
            each.start()
        outcomes = [one for _ in both for one in answers.get(timeout=60)]
        for each in both:
            each.join()
        assert [each.exitcode for each in both] == [0, 0]
        assert outcomes.count("accepted") == len(urls)
        assert outcomes.count("ignored") == 2 * 3 * len(urls) - len(urls)
        entries = services.spot_prices.history()
        assert sorted(entry.source for entry in entries) == sorted(urls)
        services.close()


# A cache file that cannot be had


def with_cache(tmp_path, server, cache):
    """A workshop as it is composed from settings, with this cache file."""
    settings = Settings(
        database=str(tmp_path / "cached.sqlite3"),
        feed_networks=REACH.networks,
        feed_http=True,
        feed_cache=cache,
    )
    services = compose(settings, clock=StillClock())
    services.feeds.put("honest", FEED | {"url": server.url("/good")}, expected=None)
    return services


def fetched_in_time(services):
    began = time.monotonic()
    [result] = services.spot_prices.fetch("honest")
    assert time.monotonic() - began < SLACK_S + 1  # reads its imports as well
    return result


def test_a_locked_cache_file_hangs_no_fetch(tmp_path):
    cache = tmp_path / "answers.db"
    with HostileServer() as server, closing(sqlite3.connect(cache)) as other:
        other.execute("CREATE TABLE t (x)")
        other.isolation_level = None
        other.execute("BEGIN EXCLUSIVE")
        services = with_cache(tmp_path, server, cache)
        assert fetched_in_time(services).outcome == "accepted"
        assert fetched_in_time(services).from_cache
        services.close()
        assert len(server.requests) == 1


def test_a_cache_file_that_cannot_be_written_hangs_no_fetch(tmp_path):
    cache = tmp_path / "answers.db"
    cache.mkdir()
    with HostileServer() as server:
        services = with_cache(tmp_path, server, cache)
        assert fetched_in_time(services).outcome == "accepted"
        assert fetched_in_time(services).from_cache
        services.close()


def test_settings_alone_decide_whether_a_private_address_is_asked(tmp_path):
    with HostileServer() as server:
        settings = Settings(database=str(tmp_path / "wary.sqlite3"), feed_http=True)
        services = compose(settings, clock=StillClock())
        services.feeds.put("honest", FEED | {"url": server.url("/good")}, expected=None)
        [result] = services.spot_prices.fetch("honest")
        assert result.outcome == "failed"
        assert "FINEWEIGHT_FEED_NETWORKS" in result.findings[0].text
        assert server.connections == 0
        services.close()
