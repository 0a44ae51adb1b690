"""What is said of a job, as text and as the margin check takes it."""

from __future__ import annotations

from dataclasses import fields
from decimal import Decimal

from api.ports.jobs import JobLog
from api.services.jobs.terms import NO_MONEY, actual_of, money_text, read_money
from pricing.margin_check.actual import MONEY, CoinsUsed, JobActual, JobMoney
from tests.services.logbook import attempt, coins, money
from tests.services.promising import COIN


def test_what_is_known_of_the_money_is_kept_as_it_was_written():
    known = money(fees="3.50", tax="0", labour_rate="32.1234")
    assert money_text(known) == '{"fees":"3.50","labour_rate":"32.1234","tax":"0"}'
    assert read_money(money_text(known)) == known
    assert money_text(NO_MONEY) == "{}"
    assert read_money("{}") == JobMoney()


def test_the_money_is_all_that_the_margin_check_asks_for():
    members = {each.name for each in fields(JobActual)}
    assert {*MONEY, "coins", "attempts"} == members


def test_what_is_at_the_bench_still_is_no_attempt_yet(clock):
    ended = attempt("scrapped", stage="fold", minutes={"fold": "8"}, visits={"fold": 2})
    log = JobLog(
        attempts=(
            ended.logged(1, clock.now()),
            attempt("open").logged(2, clock.now(), COIN),
        ),
        coins=(coins(2, "17.20", line=1, entry="=x"),),
    )
    found = actual_of(money(fees="1"), log)
    assert found.fees == 1
    assert found.coins == (CoinsUsed(line=1, count=2, unit_cost=Decimal("17.20")),)
    [only] = found.attempts
    assert (only.outcome, only.stage) == ("scrapped", "fold")
    assert (only.minutes, only.visits) == ({"fold": 8}, {"fold": 2})
