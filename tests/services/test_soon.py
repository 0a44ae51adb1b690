"""Doing something in a moment: in its time, in order, in one thread that ends."""

from __future__ import annotations

import threading
import time

import pytest

from api.services.soon import Soon

PATIENCE_S = 30


@pytest.fixture
def soon(monkeypatch):
    monkeypatch.setattr("api.services.soon.IDLE_S", 0.01)
    return Soon()


def until_idle(soon):
    """Wait until its thread has ended."""
    thread = soon._thread
    if thread is not None:
        thread.join(PATIENCE_S)
        assert not thread.is_alive()


def test_what_is_put_off_is_done_in_its_time_and_in_order(soon):
    done = []
    begun = time.monotonic()
    for name in "abc":
        soon(0.02, lambda name=name: done.append((name, time.monotonic())))
    until_idle(soon)
    assert [name for name, _ in done] == ["a", "b", "c"]
    assert min(at for _, at in done) >= begun + 0.02


def test_one_thread_does_it_all_and_ends_when_there_is_no_more(soon):
    threads = set()
    for _ in range(2):
        for _ in range(3):
            soon(0, lambda: threads.add(threading.current_thread()))
        until_idle(soon)
        assert soon._thread is None
    assert len(threads) == 2


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_after_a_failure_it_goes_on_with_the_next(soon):
    done = []
    soon(0, lambda: 1 / 0)
    until_idle(soon)
    soon(0, lambda: done.append("next"))
    until_idle(soon)
    assert done == ["next"]


def test_work_may_put_off_more(soon):
    done = threading.Event()
    soon(0, lambda: soon(0, done.set))
    assert done.wait(PATIENCE_S)
    until_idle(soon)
