"""The stopwatch of a job."""

from __future__ import annotations

from decimal import Decimal

import pytest

from api.ports import Conflict, NotFound
from pricing.errors import InvalidInput
from tests.services.logbook import attempt
from tests.services.promising import DOLLAR, ask


def test_the_minutes_go_to_the_attempt_at_the_bench(logbook, job, clock):
    logbook.attempts.add(job.id, attempt("open", minutes={"fold": "2"}))
    logbook.stopwatch.start(job.id, "fold")
    clock.advance(minutes=9, seconds=30)
    _, written = logbook.stopwatch.stop(job.id)
    assert written.minutes == {"fold": Decimal("11.5")}
    logbook.stopwatch.start(job.id, "punch")
    clock.advance(seconds=20)
    _, written = logbook.stopwatch.stop(job.id)
    assert written.minutes == {"fold": Decimal("11.5"), "punch": Decimal("0.33")}
    assert logbook.log_of(job).attempts == (written,)
    assert logbook.told("timer.stopped")[1] == {
        "number": job.number, "attempt": 1, "stage": "punch", "minutes": "0.33",
    }  # fmt: skip


def test_where_none_is_at_the_bench_one_is_begun(logbook, clock):
    job = logbook.opened(ask(), ask(DOLLAR))
    logbook.attempts.add(job.id, attempt("open"))
    logbook.stopwatch.start(job.id, "fold", line=1)
    clock.advance(minutes=1)
    _, written = logbook.stopwatch.stop(job.id)
    assert (written.n, written.line, written.outcome) == (2, 1, "open")


def test_one_stopwatch_runs_for_a_job(logbook, job, clock):
    assert logbook.stopwatch.running(job.id)[1] is None
    logbook.stopwatch.start(job.id, "fold")
    clock.advance(minutes=3)
    with pytest.raises(Conflict, match="already; stop it"):
        logbook.stopwatch.start(job.id, "punch")
    _, running = logbook.stopwatch.running(job.id)
    assert (running.timer.stage, running.minutes) == ("fold", 3)
    assert not running.forgotten
    logbook.stopwatch.start(logbook.opened().id, "fold")


def test_what_does_not_run_cannot_be_stopped(logbook, job):
    for deed in (logbook.stopwatch.stop, logbook.stopwatch.discard):
        with pytest.raises(NotFound, match="no stopwatch runs"):
            deed(job.id)


def test_a_stopwatch_that_was_forgotten_can_only_be_thrown_away(logbook, job, clock):
    logbook.stopwatch.start(job.id, "fold")
    clock.advance(hours=12)
    assert not logbook.stopwatch.running(job.id)[1].forgotten
    clock.advance(seconds=1)
    assert logbook.stopwatch.running(job.id)[1].forgotten
    with pytest.raises(Conflict, match="over 12 hours"):
        logbook.stopwatch.stop(job.id)
    after = logbook.stopwatch.discard(job.id)
    assert logbook.log_of(after).timer is None
    assert logbook.log_of(after).attempts == ()
    [entry] = logbook.entries("timer.discarded")
    assert entry[2] == {"number": job.number, "stage": "fold"}


def test_a_clock_that_was_set_back_measures_nothing(logbook, job, clock):
    logbook.stopwatch.start(job.id, "fold")
    clock.advance(minutes=-5)
    _, written = logbook.stopwatch.stop(job.id)
    assert written.minutes == {"fold": 0}


def test_a_stopwatch_runs_at_a_stage_of_the_plan(logbook, job):
    with pytest.raises(InvalidInput) as refused:
        logbook.stopwatch.start(job.id, "braze")
    assert refused.value.path == ("stage",)
    with pytest.raises(InvalidInput) as refused:
        logbook.stopwatch.start(job.id, "fold", line=3)
    assert refused.value.path == ("line",)


def test_a_completed_job_is_not_timed(logbook, job):
    logbook.jobs.complete(job.id, expected=None)
    with pytest.raises(Conflict, match="completed"):
        logbook.stopwatch.start(job.id, "fold")
