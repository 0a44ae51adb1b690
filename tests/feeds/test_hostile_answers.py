"""Every way to misbehave: a reason, in time, nothing kept, memory flat."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

import pytest

from api.feeds.fetcher import CachedFetcher, Keeping
from api.ports.feeds import FeedFailed
from tests.feeds.hostile_server import ANSWERS, BROKEN, ENDLESS

USELESS = {path: reason for path, (_, reason) in (BROKEN | ENDLESS).items()}
ROOT = Path(__file__).resolve().parents[2]
MOST_GROWTH_KB = 10_000

# Linux tells the memory of a process, and forgets its peak when asked to.
MEMORY = Path("/proc/self/clear_refs")
MEASURE = """
import re, sys
from ipaddress import ip_network
from pathlib import Path
from api.outbound.deadline import Limits
from api.feeds.fetcher import CachedFetcher, Keeping
from api.outbound.safe_http import Reach
from api.ports.feeds import FeedFailed

def ask(url):
    limits = Limits(connect_s=1, read_s=0.05, total_s=0.1, pause_s=0.001)
    reach = Reach(networks=(ip_network("127.0.0.0/8"),), plain_http=True)
    try:
        CachedFetcher(Keeping(), reach=reach, limits=limits).fetch(url, {})
    except FeedFailed as failed:
        return failed.reason

def memory_kb(name):
    status = Path("/proc/self/status").read_text()
    return int(re.search(name + r":\\s+(\\d+)", status)[1])

first, *rest = sys.argv[1:]
ask(first)
before = memory_kb("VmRSS")
Path("/proc/self/clear_refs").write_text("5")
for url in rest:
    assert ask(url), url
print(memory_kb("VmHWM") - before)
"""


def test_there_are_more_than_forty_ways():
    assert len(USELESS) >= 60
    assert not set(USELESS) & set(ANSWERS)


@pytest.mark.parametrize(("path", "reason"), USELESS.items())
def test_a_useless_answer_has_its_reason_and_costs_little(
    server, local, quick, path, reason
):
    fetcher = CachedFetcher(Keeping(), reach=local, limits=quick)
    began = time.monotonic()
    with pytest.raises(FeedFailed) as failed:
        fetcher.fetch(server.url(path), {})
    assert time.monotonic() - began < quick.total_s + 1
    assert failed.value.reason == reason
    assert failed.value.message.endswith(".")
    assert len(failed.value.message) > 20
    for words in ("never shown", "Maintenance", "SSH", "Word", "127.0.0.1:22"):
        assert words not in failed.value.message
    assert server.connections <= quick.tries


@pytest.mark.parametrize("path", ANSWERS)
def test_a_sound_answer_is_taken_as_it_came(server, local, quick, path):
    fetcher = CachedFetcher(Keeping(), reach=local, limits=quick)
    assert fetcher.fetch(server.url(path), {}).body


@pytest.mark.skipif(not MEMORY.exists(), reason="the system does not tell")
def test_nothing_makes_memory_grow_by_more_than_ten_megabytes(server):
    run = subprocess.run(
        [sys.executable, "-c", MEASURE, *map(server.url, ["/good", *USELESS])],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    assert int(run.stdout) < MOST_GROWTH_KB, run.stdout
