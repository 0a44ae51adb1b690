"""One job of a file, brought together with what is written down already."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from api.services.jobs.merging import Ground, merged
from api.services.jobs.rows import AttemptRow, CoinsRow, Draft
from api.services.jobs.writing import log_of
from tests.services.jobs.test_files import refused
from tests.services.logbook import attempt, coins, csv
from tests.services.promising import DOLLAR, ask


def bring_together(logbook, job, draft):
    headings = {name: name for name in ("job", "completed_at", "minutes:fold")}
    ground = Ground(
        book=logbook.books.current(), at=logbook.clock.now(), headings=headings
    )
    log = logbook.storage.read(lambda unit: log_of(unit, job))
    return merged(draft, job, log, ground)


def row(entry="=a", number=2, **told):
    return AttemptRow(row=number, entry=entry, ask=attempt(**told))


def draft(*attempts, taken=(), **said):
    found = Draft(name="x", rows=[2], said=said, attempts=list(attempts))
    found.where = dict.fromkeys(said, 2)
    found.coins = [CoinsRow(row=2, coins=each) for each in taken]
    return found


def test_what_says_the_same_with_other_digits_is_the_same(logbook, job):
    _, first = logbook.attempts.add(job.id, attempt(minutes={"fold": "8.50"}))
    same = draft(row(f"#{first.n}", minutes={"fold": "8.5"}))
    found = bring_together(logbook, logbook.jobs.get(job.id), same)
    assert (found.changes, found.faults) == (False, [])
    other = draft(row(f"#{first.n}", minutes={"fold": "8.51"}))
    found = bring_together(logbook, logbook.jobs.get(job.id), other)
    assert [each.minutes for each in found.replaced] == [{"fold": Decimal("8.51")}]
    assert found.replaced[0].at == first.at


def test_new_attempts_take_the_next_numbers(logbook, job):
    for _ in range(2):
        after, _ = logbook.attempts.add(job.id, attempt())
    after = logbook.attempts.remove(job.id, 1, expected=None)
    found = bring_together(logbook, after, draft(row("=a"), row("=b", 3)))
    assert [each.n for each in found.added] == [3, 4]
    assert [each.entry for each in found.added] == ["=a", "=b"]
    assert found.rows == {1: 2, 2: 3}


def test_only_what_is_said_of_the_money_changes(logbook, job):
    taken = draft(taken=[coins(entry="=c")], fees=Decimal(3))
    found = bring_together(logbook, job, taken)
    assert (found.members, found.job.money) == (("coins", "fees"), '{"fees":"3"}')
    assert found.worked is None


def test_a_completed_job_is_told_with_what_it_came_to(logbook, job):
    found = bring_together(logbook, job, draft(completed_at=date(2026, 11, 30)))
    assert found.worked is not None
    assert found.job == found.worked.job
    assert (found.job.status, found.job.week) == ("completed", "2026-W49")
    kept = logbook.jobs.get(job.id)
    assert kept == job


def test_lines_are_counted_from_one_in_what_is_told_of_them(logbook):
    job = logbook.opened(ask(), ask(DOLLAR))
    header = "job,line,outcome,coins,coin_cost,completed_at"
    rows = f"{job.number},3,good,,,", f"{job.number},4,,1,17,"
    for done in ("", "2026-12-01"):
        whole = f"{job.number},,,,,{done}"
        found = refused(logbook, csv(*rows, whole, header=header))
        assert found == {
            (2, "line"): "the job has no line 3; its lines go from 1 to 2",
            (3, "line"): "the job has no line 4; its lines go from 1 to 2",
        }


def test_coins_told_twice_are_refused(logbook):
    job = logbook.opened(ask())
    rows = (f"{job.number},a,1,17",) * 2
    found = refused(logbook, csv(*rows, header="job,attempt,coins,coin_cost"))
    assert "row 2 tells of this one already" in found[3, ""]


def test_what_is_told_under_two_names_is_told_twice(logbook):
    job = logbook.opened(ask())
    header = "job,attempt,outcome,coins,coin_cost"
    logbook.files.import_csv(csv(f"{job.number},a,good,1,17", header=header))
    attempts = csv(f"{job.number},a,good,,", f"{job.number},#1,good,,", header=header)
    assert "row 2 tells of this one" in refused(logbook, attempts)[3, ""]
    taken = csv(f"{job.number},#c1,,1,18", f"{job.number},a,,1,19", header=header)
    assert "row 2 tells of this one" in refused(logbook, taken)[3, ""]


def test_a_row_that_says_what_it_said_may_stand_beside_its_correction(logbook):
    job = logbook.opened(ask())
    header = "job,attempt,outcome,minutes:fold,coins,coin_cost"
    week = [f"{job.number},,good,8,1,17"]
    logbook.files.import_csv(csv(*week, header=header))
    week += [f"{job.number},#1,good,9,,", f"{job.number},#c1,,,1,18"]
    for _ in range(2):
        logbook.files.import_csv(csv(*week, header=header))
        log = logbook.log_of(job)
        assert [each.minutes for each in log.attempts] == [{"fold": 9}]
        assert [each.unit_cost for each in log.coins] == [18]
