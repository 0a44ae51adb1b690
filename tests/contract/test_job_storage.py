"""What both databases keep of jobs, and what they refuse."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from sqlalchemy.exc import IntegrityError

from api.db.job_tables import PARTS as COLUMNS
from api.ports import Conflict
from api.ports.jobs import JobFilter, StageTimer
from api.services.jobs.terms import JobAsk
from pricing.margin_check.outcome import PARTS
from tests.contract.quoting import at_once
from tests.services.logbook import Logbook, attempt, coins, csv
from tests.services.promising import ask

CALLERS = 8


@pytest.fixture
def logbook(any_storage, clock):
    return Logbook(any_storage, clock).open()


@pytest.fixture
def job(logbook):
    return logbook.opened(ask())


def outcomes(deeds):
    """What came of deeds that were done at once: the results, and what was refused."""
    done = [each for each in deeds if not isinstance(each, Exception)]
    return done, [each for each in deeds if isinstance(each, Exception)]


def tried(deed):
    def try_it(_):
        try:
            return deed()
        except Exception as error:  # noqa: BLE001 - looked at by the test
            return error

    return outcomes(at_once(try_it, CALLERS))


def test_the_columns_are_the_parts_of_the_bridge():
    assert COLUMNS == PARTS


def test_a_job_is_read_as_it_was_written(logbook, job):
    logbook.attempts.add(
        job.id,
        attempt(
            "scrapped", stage="fold", minutes={"punch": "6.5", "fold": "8.2500"},
            visits={"fold": 2}, slug_g="3.6100", bored_g="0.0001", note="«Ä»",
        ),
    )  # fmt: skip
    logbook.jobs.complete(job.id, expected=None, coins=(coins(2, "17.2034"),))
    found = logbook.jobs.get(job.id)
    log = logbook.log_of(found)
    [written] = log.attempts
    assert written.minutes == {"punch": Decimal("6.5"), "fold": Decimal("8.25")}
    assert (written.slug_g, written.bored_g) == (Decimal("3.61"), Decimal("0.0001"))
    assert (written.visits, written.note) == ({"fold": 2}, "«Ä»")
    assert log.coins == (coins(2, "17.2034"),)
    assert found.completed_at == logbook.clock.now()
    assert isinstance(found.result.under_floor, bool)
    again = logbook.storage.write(
        lambda unit: unit.jobs.change(found, expected=found.version)
    )
    assert again
    assert logbook.jobs.get(job.id) == replace(found, version=found.version + 1)


def test_numbers_go_on_within_their_year(logbook):
    def next_numbers(year, how_many):
        return logbook.storage.write(
            lambda unit: unit.jobs.next_numbers(year, how_many)
        )

    assert [next_numbers(2026, 3), next_numbers(2026, 1)] == [1, 4]
    assert [next_numbers(2027, 1), next_numbers(2026, 2)] == [1, 5]
    numbers, refused = tried(lambda: next_numbers(2026, 2))
    assert refused == []
    assert sorted(numbers) == list(range(7, 7 + 2 * CALLERS, 2))


def test_names_by_which_many_are_looked_for(logbook, job):
    names = [f"nobody-{n}" for n in range(1200)] + [job.number, job.id]
    found = logbook.storage.read(lambda unit: unit.jobs.find(names))
    assert found == {job.number: (job,), job.id: (job,)}


def test_many_are_changed_only_as_they_were_seen(logbook):
    jobs = [logbook.opened(ask()) for _ in range(3)]
    told = [replace(each, money='{"fees":"1"}') for each in jobs]
    logbook.storage.write(lambda unit: unit.jobs.change_all(told))
    assert {logbook.jobs.get(each.id).version for each in jobs} == {2}
    with pytest.raises(Conflict, match="changed meanwhile"):
        logbook.storage.write(lambda unit: unit.jobs.change_all(told[:1]))
    logbook.storage.write(lambda unit: unit.jobs.change_all([]))
    assert not logbook.storage.write(lambda u: u.jobs.change(told[0], expected=9**12))


def test_the_database_refuses_what_cannot_be(logbook, job):
    def write(work):
        return logbook.storage.write(work)

    now = logbook.clock.now()
    nowhere = attempt("scrapped").logged(1, now)
    for wrong in (nowhere, attempt().logged(0, now), attempt(line=-1).logged(1, now)):
        with pytest.raises(IntegrityError):
            write(lambda unit, one=wrong: unit.jobs.add_attempts([(job.seq, one)]))
    known = attempt().logged(1, now, "=a")
    write(lambda unit: unit.jobs.add_attempts([(job.seq, known)]))
    with pytest.raises(IntegrityError):
        write(lambda unit: unit.jobs.add_attempts([(job.seq, replace(known, n=2))]))
    with pytest.raises(IntegrityError):
        write(lambda unit: unit.jobs.set_coins({job.seq: [coins(0)]}))
    done = replace(job, status="completed")  # without what came of it
    with pytest.raises(IntegrityError):
        write(lambda unit: unit.jobs.change(done, expected=job.version))


def test_what_is_not_there_is_neither_changed_nor_removed(logbook, job):
    def write(work):
        return logbook.storage.write(work)

    ghost = attempt().logged(7, logbook.clock.now())
    assert not write(lambda unit: unit.jobs.replace_attempt(job.seq, ghost))
    assert not write(lambda unit: unit.jobs.remove_attempt(job.seq, 7))
    now = logbook.clock.now()
    assert not write(lambda unit: unit.jobs.stop_timer(job.seq, started_at=now))
    timer = StageTimer(stage="fold", started_at=now, started_by="x")
    assert write(lambda unit: unit.jobs.start_timer(job.seq, timer))
    assert not write(lambda unit: unit.jobs.start_timer(job.seq, timer))
    later = now + timedelta(seconds=1)
    assert not write(lambda unit: unit.jobs.stop_timer(job.seq, started_at=later))
    assert logbook.log_of(job).timer == timer


def test_one_of_many_completions_counts(logbook, job):
    done, refused = tried(lambda: logbook.jobs.complete(job.id, expected=job.version))
    assert len(done) == 1
    assert len(refused) == CALLERS - 1
    assert logbook.jobs.get(job.id) == done[0]
    assert len(logbook.told("job.completed")) == 1


def test_the_minutes_of_a_stopwatch_are_added_once(logbook, job, clock):
    logbook.stopwatch.start(job.id, "fold")
    clock.advance(minutes=8)
    done, refused = tried(lambda: logbook.stopwatch.stop(job.id))
    assert (len(done), len(refused)) == (1, CALLERS - 1)
    [only] = logbook.log_of(job).attempts
    assert only.minutes == {"fold": 8}


def test_a_quote_has_one_job_whoever_asks(logbook):
    quote = logbook.accepted(ask())
    done, refused = tried(lambda: logbook.jobs.open(JobAsk(quote=quote.id)))
    assert (len(done), len(refused)) == (1, CALLERS - 1)
    assert {type(each) for each in refused} == {Conflict}


def test_every_attempt_of_many_at_once_is_written_down(logbook, job):
    done, refused = tried(lambda: logbook.attempts.add(job.id, attempt()))
    assert refused == []
    assert sorted(each.n for _, each in done) == list(range(1, CALLERS + 1))


def test_a_file_sent_twice_at_once_is_written_once(logbook):
    quotes = [logbook.accepted(ask()) for _ in range(3)]
    rows = [f"{quote.number},good,,8.5" for quote in quotes]
    done, refused = tried(lambda: logbook.files.import_csv(csv(*rows)))
    assert refused == []
    assert sum(each.attempts for each in done) == 3
    jobs = logbook.jobs.page(JobFilter(), limit=9).jobs
    assert [len(logbook.log_of(each).attempts) for each in jobs] == [1, 1, 1]
