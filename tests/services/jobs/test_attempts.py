"""Attempts of an open job."""

from __future__ import annotations

from decimal import Decimal

import pytest

from api.ports import Conflict, NotFound, PreconditionFailed
from api.services.jobs import attempts
from pricing.errors import InvalidInput
from tests.services.logbook import attempt
from tests.services.promising import DOLLAR, ask


def test_attempts_are_numbered_and_count_the_job_up(logbook, job, clock):
    told = attempt(
        "scrapped", stage="fold", minutes={"fold": "8.25"}, slug_g="3.61",
        visits={"fold": 2}, note="split",
    )  # fmt: skip
    after, first = logbook.attempts.add(job.id, told)
    _, second = logbook.attempts.add(job.id, attempt())
    assert (first.n, second.n, after.version) == (1, 2, job.version + 1)
    assert (first.minutes, first.at) == ({"fold": Decimal("8.25")}, clock.now())
    assert logbook.log_of(job).attempts == (first, second)
    assert logbook.told("attempt.added")[0] == {
        "number": job.number, "n": 1, "line": 0, "outcome": "scrapped",
        "stage": "fold", "minutes": {"fold": "8.25"}, "visits": {"fold": 2},
        "note": "split", "slug_g": "3.61", "at": "2026-12-01T12:00:00Z",
    }  # fmt: skip


def test_an_attempt_has_to_fit_the_plan(logbook, job):
    with pytest.raises(InvalidInput) as refused:
        logbook.attempts.add(job.id, attempt(minutes={"braze": "1"}, line=1))
    assert refused.value.path == ("line",)
    with pytest.raises(InvalidInput) as refused:
        logbook.attempts.add(job.id, attempt(minutes={"braze": "1"}))
    assert refused.value.path == ("minutes", "braze")
    assert logbook.log_of(job).attempts == ()


def test_of_each_line_one_attempt_is_at_the_bench(logbook):
    job = logbook.opened(ask(), ask(DOLLAR))
    logbook.attempts.add(job.id, attempt("open"))
    logbook.attempts.add(job.id, attempt("open", line=1))
    with pytest.raises(Conflict, match=r"attempt 2 .* still open"):
        logbook.attempts.add(job.id, attempt("open", line=1))
    _, third = logbook.attempts.add(job.id, attempt())
    with pytest.raises(Conflict, match=r"attempt 1 .* still open"):
        logbook.attempts.change(job.id, third.n, attempt("open"), expected=None)


def test_an_attempt_ends_by_being_written_anew(logbook, job, clock):
    after, begun = logbook.attempts.add(job.id, attempt("open"))
    clock.advance(hours=1)
    ended = attempt("good", finished_g="14.2")
    now, written = logbook.attempts.change(
        job.id, begun.n, ended, expected=after.version
    )
    assert (written.outcome, written.at) == ("good", begun.at)
    assert logbook.log_of(now).attempts == (written,)
    [entry] = logbook.entries("attempt.changed")
    assert (entry[2]["outcome"], entry[3]["outcome"]) == ("open", "good")


def test_an_attempt_is_taken_back_and_the_others_keep_their_numbers(logbook, job):
    for _ in range(3):
        after, _ = logbook.attempts.add(job.id, attempt())
    after = logbook.attempts.remove(job.id, 2, expected=after.version)
    _, fourth = logbook.attempts.add(job.id, attempt())
    assert [each.n for each in logbook.log_of(after).attempts] == [1, 3, 4]
    assert fourth.n == 4


def test_what_is_changed_has_to_be_there_and_as_it_was_seen(logbook, job):
    with pytest.raises(NotFound, match="no attempt 7; its attempts are none yet"):
        logbook.attempts.remove(job.id, 7, expected=None)
    after, _ = logbook.attempts.add(job.id, attempt())
    with pytest.raises(NotFound, match="its attempts are 1"):
        logbook.attempts.change(job.id, 7, attempt(), expected=None)
    with pytest.raises(PreconditionFailed):
        logbook.attempts.remove(job.id, 1, expected=after.version - 1)
    with pytest.raises(NotFound, match="no job"):
        logbook.attempts.add("gone", attempt())


def test_a_completed_job_has_all_its_attempts(logbook, job):
    logbook.attempts.add(job.id, attempt())
    logbook.jobs.complete(job.id, expected=None)
    for deed in (
        lambda: logbook.attempts.add(job.id, attempt()),
        lambda: logbook.attempts.change(job.id, 1, attempt(), expected=None),
        lambda: logbook.attempts.remove(job.id, 1, expected=None),
    ):
        with pytest.raises(Conflict, match="completed; reopen it"):
            deed()


def test_a_job_takes_so_many_attempts(logbook, job, monkeypatch):
    monkeypatch.setattr(attempts, "MOST_ATTEMPTS", 1)
    logbook.attempts.add(job.id, attempt())
    with pytest.raises(InvalidInput, match="takes up to 1"):
        logbook.attempts.add(job.id, attempt())
