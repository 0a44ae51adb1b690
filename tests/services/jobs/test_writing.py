"""Writing down what is known of a job, and what came before stays known."""

from __future__ import annotations

from tests.services.logbook import attempt, coins, csv, log
from tests.services.promising import ask

HEADER = "job,attempt,outcome,coins,coin_cost"


def test_what_a_file_told_of_is_known_still_after_a_change_by_hand(logbook):
    quote = logbook.accepted(ask())
    file = csv(f"{quote.number},a,good,1,17.20", f"{quote.number},b,good,1,17.20",
               header=HEADER)  # fmt: skip
    logbook.files.import_csv(file)
    job = logbook.jobs.find(quote.number)
    same = log(attempt(), attempt(), taken=[coins(), coins(), coins(2, "9")], fees="2")
    logbook.jobs.change(job.id, same, expected=None)
    entries = [each.entry for each in logbook.log_of(job).attempts]
    assert entries == ["=a", "=b"]
    assert [x.entry for x in logbook.log_of(job).coins] == ["=a", "=b", None]
    again = logbook.files.import_csv(file)
    assert (again.unchanged, again.changes) == (1, ())


def test_what_is_corrected_in_its_place_is_known_still(logbook):
    quote = logbook.accepted(ask(quantity=2))
    file = csv(f"{quote.number},,good,1,17.20", f"{quote.number},,good,1,17.30",
               f"{quote.number},,good,1,17.40", header=HEADER)  # fmt: skip
    logbook.files.import_csv(file)
    job = logbook.jobs.find(quote.number)
    corrected = log(
        attempt("scrapped", stage="fold"), attempt(), attempt(),
        taken=[coins(1, "17.20"), coins(1, "17.90"), coins(1, "17.40")],
    )  # fmt: skip
    done = logbook.jobs.change(job.id, corrected, expected=None)
    before = logbook.log_of(done)
    assert logbook.files.import_csv(file).changes == ()
    assert logbook.log_of(job) == before


def test_other_attempts_and_coins_take_the_place_of_what_was_there(logbook, job):
    logbook.attempts.add(job.id, attempt())
    other = log(attempt("scrapped", stage="fold"), taken=[coins(2)])
    changed = logbook.jobs.change(job.id, other, expected=None)
    found = logbook.log_of(changed)
    assert [(each.n, each.outcome) for each in found.attempts] == [(1, "scrapped")]
    assert found.coins == (coins(2),)
    kept = logbook.jobs.change(job.id, log(taken=[coins(2)]), expected=None)
    assert logbook.log_of(kept) == found
