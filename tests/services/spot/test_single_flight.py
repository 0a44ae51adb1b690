"""One piece of work for many callers."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from threading import Event

import pytest

from api.services.spot.single_flight import SingleFlight
from tests.services.feeding import wait_until


@pytest.fixture
def flights():
    return SingleFlight()


def test_work_for_nobody_else_is_done_each_time(flights):
    assert [flights.run("a", lambda n=n: n) for n in range(3)] == [0, 1, 2]
    assert flights.waiting("a") == 0


def test_who_comes_meanwhile_gets_the_same(flights):
    started, go, done = Event(), Event(), []

    def work():
        started.set()
        go.wait(10)
        done.append(1)
        return object()

    with ThreadPoolExecutor(4) as pool:
        first = pool.submit(flights.run, "a", work)
        started.wait(10)
        others = [pool.submit(flights.run, "a", work) for _ in range(3)]
        wait_until(lambda: flights.waiting("a") == 3)
        assert flights.run("b", lambda: "not held up") == "not held up"
        go.set()
        assert {each.result() for each in others} == {first.result()}
    assert done == [1]
    assert flights.waiting("a") == 0


def test_what_is_raised_is_raised_for_all_and_forgotten(flights):
    started, go = Event(), Event()

    def fail():
        started.set()
        go.wait(10)
        raise RuntimeError("no line")

    with ThreadPoolExecutor(2) as pool:
        first = pool.submit(flights.run, "a", fail)
        started.wait(10)
        second = pool.submit(flights.run, "a", fail)
        wait_until(lambda: flights.waiting("a") == 1)
        go.set()
        for each in (first, second):
            with pytest.raises(RuntimeError, match="no line"):
                each.result()
    assert flights.run("a", lambda: "again") == "again"
