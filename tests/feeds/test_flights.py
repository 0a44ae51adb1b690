from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest

from api.feeds.flights import Flights
from api.ports.feeds import FeedFailed


def share_with_eight(flights, work):
    """What eight callers got who asked while the first was at work."""
    together = threading.Barrier(8)

    def call():
        together.wait()
        return flights.share("key", work)

    with ThreadPoolExecutor(8) as pool:
        return [pool.submit(call) for _ in range(8)]


def test_eight_callers_share_one_piece_of_work():
    calls, gate = [], threading.Event()

    def work():
        calls.append(1)
        gate.wait(0.2)
        return object()

    results = {each.result() for each in share_with_eight(Flights(5), work)}
    assert len(calls) == len(results) == 1


def test_all_callers_get_the_failure_too():
    gate = threading.Event()

    def work():
        gate.wait(0.2)
        raise FeedFailed("timeout", "late")

    calls = share_with_eight(Flights(5), work)
    assert {each.exception().reason for each in calls} == {"timeout"}


def test_work_that_is_over_is_not_shared():
    flights = Flights(5)
    assert [flights.share("key", lambda n=n: n) for n in (1, 2)] == [1, 2]


def test_a_failure_is_not_remembered():
    flights = Flights(5)
    with pytest.raises(ZeroDivisionError):
        flights.share("key", lambda: 1 / 0)
    assert flights.share("key", lambda: 1) == 1


def test_waiting_for_another_caller_ends():
    flights, gate, begun = Flights(0.01), threading.Event(), threading.Event()

    def work():
        begun.set()
        return gate.wait(5)

    with ThreadPoolExecutor(1) as pool:
        first = pool.submit(flights.share, "key", work)
        begun.wait(5)
        with pytest.raises(FeedFailed) as failed:
            flights.share("key", work)
        gate.set()
        assert first.result()
    assert failed.value.reason == "timeout"
