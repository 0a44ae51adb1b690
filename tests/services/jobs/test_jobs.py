"""Jobs from opening to completion, corrected and reopened."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from api.ports import Conflict, NotFound, PreconditionFailed
from api.ports.jobs import JobFilter
from api.services.jobs.terms import JobAsk
from pricing.errors import InvalidInput
from tests.services.logbook import attempt, coins, log


def test_a_completed_job_says_what_its_margin_came_to(logbook, job):
    for outcome in (attempt(), attempt(), attempt("scrapped", stage="fold")):
        logbook.attempts.add(job.id, outcome)
    planned = logbook.plan(job)
    done = logbook.jobs.complete(
        job.id,
        expected=None,
        money={"sold_price": planned.sold_price + 10},
        coins=(coins(3, "0.00"),),
    )
    assert (done.status, done.completed_by) == ("completed", "")
    assert done.result.coins_used == 3
    assert done.result.parts["price"] == 10
    assert done.result.margin - done.planned_margin == sum(done.result.parts.values())
    assert logbook.jobs.get(done.id) == done
    lines, stages = logbook.storage.read(lambda unit: unit.jobs.results(done.seq))
    assert [line.coins_used for line in lines] == [3]
    failed = {stage.stage: (stage.tried, stage.failed) for stage in stages}
    assert failed == {"punch": (3, 0), "fold": (3, 1)}
    [told] = logbook.told("job.completed")
    assert (told["number"], told["week"]) == (done.number, done.week)


def test_what_is_known_at_once_is_written_at_once(logbook, clock):
    quote = logbook.accepted()
    known = log(attempt(), taken=[coins(2)], at=clock.now(), fees="3.50")
    job = logbook.jobs.open(JobAsk(quote=quote.id), known)
    assert job.status == "completed"
    written = logbook.log_of(job)
    assert [each.n for each in written.attempts] == [1]
    assert written.coins == (coins(2),)
    assert "fees" not in job.result.assumed


def test_nothing_is_opened_where_what_is_known_cannot_be(logbook):
    quote = logbook.accepted()
    with pytest.raises(InvalidInput) as refused:
        logbook.jobs.open(JobAsk(quote=quote.id), log(attempt(stage="fold")))
    assert refused.value.path == ("attempts", 0, "stage")
    assert logbook.jobs.page(JobFilter(), limit=9).jobs == ()
    assert logbook.opened().number == "J2026-0001"


DAYS = {
    # Vienna is an hour ahead of UTC in winter, two in summer.
    "late on Sunday": (datetime(2026, 11, 29, 22, 59, tzinfo=UTC), 29, "2026-W48"),
    "Monday in Vienna": (datetime(2026, 11, 29, 23, 0, tzinfo=UTC), 30, "2026-W49"),
    "a year's last week": (datetime(2020, 12, 31, 23, tzinfo=UTC), 1, "2020-W53"),
}


@pytest.mark.parametrize(("at", "day", "week"), DAYS.values(), ids=DAYS)
def test_the_week_is_that_of_the_day_in_the_workshop(logbook, job, at, day, week):
    done = logbook.jobs.complete(job.id, expected=None, at=at)
    assert (done.completed_day.day, done.week) == (day, week)


def test_a_job_is_not_done_before_it_is(logbook, job, clock):
    with pytest.raises(InvalidInput, match="still to come"):
        logbook.jobs.complete(
            job.id, expected=None, at=clock.now() + timedelta(seconds=1)
        )


def test_a_job_is_completed_once(logbook, job):
    logbook.jobs.complete(job.id, expected=None)
    with pytest.raises(Conflict, match="is completed; reopen it"):
        logbook.jobs.complete(job.id, expected=None)


def test_a_change_is_of_the_version_that_was_seen(logbook, job):
    logbook.attempts.add(job.id, attempt())
    for deed in (
        lambda: logbook.jobs.complete(job.id, expected=job.version),
        lambda: logbook.jobs.change(job.id, log(), expected=job.version),
        lambda: logbook.jobs.reopen(job.id, expected=job.version),
    ):
        with pytest.raises(PreconditionFailed) as refused:
            deed()
        assert refused.value.current == job.version + 1


def test_what_is_still_going_on_has_to_end_first(logbook, job):
    logbook.stopwatch.start(job.id, "fold")
    with pytest.raises(Conflict, match="stopwatch runs"):
        logbook.jobs.complete(job.id, expected=None)
    logbook.stopwatch.stop(job.id)
    with pytest.raises(Conflict, match=r"attempt 1 .* still open"):
        logbook.jobs.complete(job.id, expected=None)


def test_a_completed_job_is_corrected_and_worked_out_anew(logbook, job, clock):
    logbook.attempts.add(job.id, attempt())
    done = logbook.jobs.complete(job.id, expected=None, coins=(coins(2, "9.00"),))
    clock.advance(hours=1)
    earlier = done.completed_at - timedelta(days=7)
    asked = log(
        attempt(), attempt("scrapped", stage="fold"), taken=[coins(3, "9.00")],
        at=earlier, fees="9.99",
    )  # fmt: skip
    mended = logbook.jobs.change(done.id, asked, expected=done.version)
    assert mended.status == "completed"
    assert mended.completed_at == earlier
    assert mended.week != done.week
    assert mended.result.coins_used == 3
    assert mended.result.margin != done.result.margin
    lines, _ = logbook.storage.read(lambda unit: unit.jobs.results(mended.seq))
    assert [line.coins_used for line in lines] == [3]
    [told] = logbook.told("job.changed")
    assert told["fees"] == "9.99"
    assert told["week"] == mended.week


def test_a_correction_that_cannot_be_changes_nothing(logbook, job):
    done = logbook.jobs.complete(job.id, expected=None)
    with pytest.raises(InvalidInput) as refused:
        logbook.jobs.change(done.id, log(fees="-1"), expected=None)
    assert refused.value.path == ("fees",)
    assert logbook.jobs.get(done.id) == done


def test_an_open_job_is_not_completed_by_a_change(logbook, job, clock):
    changed = logbook.jobs.change(job.id, log(fees="3.50"), expected=job.version)
    assert (changed.status, changed.version) == ("open", job.version + 1)
    with pytest.raises(Conflict, match="complete it"):
        logbook.jobs.change(job.id, log(at=clock.now()), expected=None)


def test_a_change_of_nothing_is_not_told(logbook, job):
    logbook.jobs.change(job.id, log(), expected=None)
    assert logbook.told("job.changed") == []


def test_a_reopened_job_has_come_to_nothing_yet(logbook, job):
    with pytest.raises(Conflict, match="open already"):
        logbook.jobs.reopen(job.id, expected=None)
    logbook.attempts.add(job.id, attempt())
    done = logbook.jobs.complete(job.id, expected=None, money={"fees": Decimal(4)})
    again = logbook.jobs.reopen(job.id, expected=done.version)
    assert (again.status, again.result, again.week) == ("open", None, None)
    assert (again.completed_at, again.completed_day) == (None, None)
    assert len(logbook.log_of(again).attempts) == 1
    assert again.money == done.money
    read = logbook.storage.read(lambda unit: unit.jobs.results(again.seq))
    assert read == ((), ())
    once_more = logbook.jobs.complete(job.id, expected=None)
    assert replace(once_more.result) == done.result


def test_a_job_is_found_by_whatever_it_is_called(logbook):
    quote = logbook.accepted()
    job = logbook.jobs.open(JobAsk(quote=quote.id, reference="K-17"))
    for name in (job.id, job.number, "K-17", quote.id, quote.number):
        assert logbook.jobs.find(name) == job
    with pytest.raises(NotFound, match="no job 'K-18'"):
        logbook.jobs.find("K-18")
    logbook.opened(reference=job.number)
    with pytest.raises(Conflict, match="could be"):
        logbook.jobs.find(job.number)


def test_jobs_are_told_whole(logbook, job):
    document = logbook.jobs.document(job)
    assert document["planned"]["margin"] == job.planned_margin
    assert document["realised"] is None
    assert [line["pieces"] for line in document["plan"]["lines"]] == [2]
    assert document["completed_day"] is None
    done = logbook.jobs.complete(job.id, expected=None)
    assert logbook.jobs.document(done)["completed_day"] == date(2026, 12, 1)
