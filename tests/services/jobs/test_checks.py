"""What is written down for a job has to be possible."""

from __future__ import annotations

from decimal import Decimal

import pytest

from api.services.jobs.checks import check_attempt, check_log
from api.services.jobs.terms import MOST_ATTEMPTS, MOST_COINS, NO_MONEY
from pricing.errors import InvalidInput
from tests.services.logbook import attempt, coins, money
from tests.services.promising import ask

IMPOSSIBLE = {
    "minutes too exact": (attempt(minutes={"fold": "1.00001"}), ("minutes", "fold")),
    "minutes without end": (attempt(minutes={"fold": "10000"}), ("minutes", "fold")),
    "minutes under nothing": (attempt(minutes={"fold": "-1"}), ("minutes", "fold")),
    "visits without end": (attempt(visits={"fold": 1001}), ("visits", "fold")),
    "no visit": (attempt(visits={"fold": 0}), ("visits", "fold")),
    "a heavy slug": (attempt(slug_g="10000"), ("slug_g",)),
    "a mass too exact": (attempt(bored_g="0.00001"), ("bored_g",)),
    "nothing on the scale": (attempt(finished_g="0"), ("finished_g",)),
    "a note that turns round": (attempt(note="a\u202eb"), ("note",)),
    "a long note": (attempt(note="x" * 201), ("note",)),
    "scrapped nowhere": (attempt("scrapped"), ("stage",)),
    "good and scrapped": (attempt(stage="fold"), ("stage",)),
    "at the bench and scrapped": (attempt("open", stage="fold"), ("stage",)),
    "no such stage": (attempt("scrapped", stage="braze"), ("stage",)),
    "no such line": (attempt(line=1), ("line",)),
}


@pytest.mark.parametrize(("told", "path"), IMPOSSIBLE.values(), ids=IMPOSSIBLE)
def test_an_attempt_that_cannot_be_is_refused(logbook, job, told, path):
    with pytest.raises(InvalidInput) as refused:
        check_attempt(logbook.plan(job), told)
    assert path in [fault.path for fault in refused.value.faults]


def test_an_attempt_that_can_be_is_taken(logbook, job):
    told = attempt(
        "scrapped", stage="fold", minutes={"fold": "9999.9999", "punch": "0"},
        visits={"fold": 1000}, slug_g="0.0001", note="Ä – split",
    )  # fmt: skip
    check_attempt(logbook.plan(job), told)
    check_attempt(logbook.plan(job), attempt("open"))


def faults_of(logbook, job, *, money=NO_MONEY, coins=(), attempts=()):
    with pytest.raises(InvalidInput) as refused:
        check_log(logbook.plan(job), money, coins, attempts)
    return [fault.path for fault in refused.value.faults]


def test_every_fault_of_a_log_is_told_by_its_path(logbook, job):
    found = faults_of(
        logbook,
        job,
        money=money(fees="1000000000", tax="0.001"),
        coins=(coins(), coins(cost="1.00001"), coins(0)),
        attempts=(attempt(), attempt(minutes={"fold": "0.12345"})),
    )
    assert found == [
        ("fees",),
        ("coins", 1, "unit_cost"),
        ("attempts", 1, "minutes", "fold"),
        ("tax",),
        ("coins", 2, "count"),
    ]


def test_a_job_takes_so_many_attempts_and_purchases(logbook, job):
    many = (coins(),) * (MOST_COINS + 1)
    assert faults_of(logbook, job, coins=many)[0] == ("coins",)
    more = (attempt(),) * (MOST_ATTEMPTS + 1)
    assert faults_of(logbook, job, attempts=more)[0] == ("attempts",)


def test_a_line_has_one_coin_at_the_bench(logbook):
    two_lines = logbook.opened(ask(), ask())
    some = (attempt("open", line=1), attempt(), attempt("open"), attempt("open"))
    assert faults_of(logbook, two_lines, attempts=some) == [("attempts", 3, "outcome")]
    check_log(logbook.plan(two_lines), NO_MONEY, (), some[:3])


def test_amounts_are_whole_steps_of_the_currency(logbook, job):
    assert faults_of(logbook, job, money=money(sold_price="1.001")) == [("sold_price",)]
    check_log(logbook.plan(job), money(labour_rate="32.1234"), (), ())
    check_log(logbook.plan(job), NO_MONEY, (coins(cost=Decimal("17.2034")),), ())
