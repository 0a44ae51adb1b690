"""Many who fetch, enter and decide at once: one history, and no locked database."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from threading import Barrier

import pytest

from api.ports import Conflict
from tests.services.feeding import NOON, Fetchery, reading, wait_until

CALLERS = 8
OTHER = Path(__file__).with_name("other_process.py")
ROOT = OTHER.parents[2]


def at_once(work, callers=CALLERS):
    """What each caller got, all started together."""
    barrier = Barrier(callers)

    def start(number):
        barrier.wait(timeout=30)
        return work(number)

    with ThreadPoolExecutor(callers) as pool:
        return list(pool.map(start, range(callers)))


def test_eight_threads_at_once_are_one_call_and_one_entry(any_storage, clock):
    fetchery = Fetchery(any_storage, clock)
    fetchery.set_up()
    flights = fetchery.fetching._flights

    fetchery.source.meanwhile = lambda: wait_until(
        lambda: flights.waiting("assay") == CALLERS - 1
    )
    results = at_once(lambda _: fetchery.spots.fetch("assay"))
    assert len(fetchery.source.asked) == 1
    assert len(set(results)) == 1
    assert results[0][0].outcome == "accepted"
    assert len(fetchery.spots.history()) == 1
    assert len(fetchery.log()) == 1


def test_processes_that_fetch_one_price_record_it_once(
    any_database, open_database, clock
):
    first = Fetchery(open_database(any_database), clock)
    first.set_up()
    others = [Fetchery(open_database(any_database), clock) for _ in range(CALLERS)]
    results = at_once(lambda i: others[i].spots.fetch("assay")[0].outcome)
    assert sorted(results) == ["accepted"] + ["ignored"] * (CALLERS - 1)
    (entry,) = first.spots.history()
    assert {other.spots.current_entry() for other in others} == {entry}
    assert len(first.log()) == CALLERS


def test_of_many_who_decide_one_is_heard(any_database, open_database, clock):
    first = Fetchery(open_database(any_database), clock)
    first.set_up()
    first.fetch(reading("27.50"))
    clock.advance(hours=24)
    assert first.fetch(reading("31", clock.now())).outcome == "held"
    others = [Fetchery(open_database(any_database), clock) for _ in range(CALLERS)]

    def decide(number):
        spots = others[number].spots
        try:
            return (spots.accept if number % 2 else spots.reject)(2).status
        except Conflict:
            return "conflict"

    ends = at_once(decide)
    assert ends.count("conflict") == CALLERS - 1
    (heard,) = {*ends} - {"conflict"}
    price = {"accepted": 31, "rejected": Decimal("27.50")}[heard]
    assert {other.spots.current().price for other in others} == {price}


def test_two_real_processes_share_one_history(any_database, open_database, clock):
    mine = Fetchery(open_database(any_database), clock)
    mine.set_up("mine")
    mine.set_up("theirs")
    count = 25
    other = subprocess.Popen(
        [sys.executable, str(OTHER), any_database, "theirs", str(count)],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        text=True,
    )
    outcomes = []
    for minute in range(count):
        clock.time = NOON + timedelta(minutes=minute)
        outcomes.append(mine.fetch(reading("27.50", clock.now()), key="mine").outcome)
        mine.spots.enter("EUR", Decimal("1.1"), "USD")
    told, _ = other.communicate(timeout=60)
    assert other.returncode == 0
    assert outcomes == json.loads(told) == ["accepted"] * count
    entries = mine.spots.history(limit=1000)
    sources = [entry.source for entry in entries]
    assert (sources.count("mine"), sources.count("theirs")) == (count, count)
    assert len({entry.id for entry in entries}) == 2 * count
    assert len(mine.spots.history("EUR")) == count


@pytest.mark.parametrize("key", ["a", "b"])
def test_feeds_asked_side_by_side_do_not_wait_for_each_other(any_storage, clock, key):
    fetchery = Fetchery(any_storage, clock)
    for each in ("a", "b"):
        fetchery.set_up(each)
    barrier = Barrier(2)
    fetchery.source.meanwhile = lambda: barrier.wait(timeout=30)
    results = at_once(lambda i: fetchery.spots.fetch("ab"[i])[0].outcome, callers=2)
    assert sorted(results) == ["accepted", "accepted"]
    assert len(fetchery.log(key)) == 1
