"""What is at the bench, and what was sold for it."""

from __future__ import annotations

import pytest

from api.services.jobs import at_bench
from api.services.jobs.at_bench import AtBench
from tests.services.logbook import attempt
from tests.services.promising import ask


@pytest.fixture
def bench(logbook, clock):
    return AtBench(logbook.snapshots, clock)


def test_an_empty_bench_has_nothing(bench):
    assert bench.now().jobs == ()
    assert not bench.now().more
    assert bench.sold() == ()


def test_what_is_timed_stands_first_then_the_newest(logbook, bench, clock):
    timed, second, third = (logbook.opened() for _ in range(3))
    logbook.attempts.add(second.id, attempt("good"))
    logbook.attempts.add(second.id, attempt("scrapped", stage="fold"))
    logbook.attempts.add(second.id, attempt("open"))
    logbook.stopwatch.start(timed.id, "fold")
    clock.advance(minutes=6)
    found = bench.now().jobs
    assert [each.job.id for each in found] == [timed.id, third.id, second.id]
    assert found[0].running.minutes == 6
    assert found[1].running is None
    assert (found[2].good, found[2].scrapped, found[2].open) == (1, 1, 1)


def test_a_completed_job_has_left_the_bench(logbook, bench, job):
    logbook.jobs.complete(job.id, expected=None)
    assert bench.now().jobs == ()


def test_more_than_is_looked_through_is_said(logbook, bench, monkeypatch):
    monkeypatch.setattr(at_bench, "MOST_JOBS", 1)
    logbook.opened()
    assert not bench.now().more
    newest = logbook.opened()
    assert [each.job.id for each in bench.now().jobs] == [newest.id]
    assert bench.now().more


def test_sold_is_what_was_accepted_and_has_no_job(logbook, bench):
    first, second = logbook.accepted(), logbook.accepted()
    logbook.create(ask())
    logbook.opened()
    assert [each.id for each in bench.sold()] == [first.id, second.id]
