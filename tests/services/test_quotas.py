"""Quotas: so many requests in a window, counted once for all processes."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest
from sqlalchemy import text

from api.services.counting_ahead import CountingAhead
from api.services.installation import Installation
from api.services.quotas import ASKED_AGAIN_AFTER_S, WINDOW_S, Quotas
from api.services.snapshots import Snapshots

LIMIT = 5


def quotas_on(storage, clock, limit=LIMIT):
    snapshots = Snapshots(storage, clock)
    return Quotas(
        snapshots,
        clock,
        installation=Installation(storage),
        limits={"quotes": limit, "sheets": 2},
        ahead=CountingAhead(snapshots),
    )


@pytest.fixture
def quotas(storage, clock):
    return quotas_on(storage, clock)


def spend(quotas, times, who="key a", policy="quotes"):
    return [quotas.count(policy, who) for _ in range(times)]


def test_as_many_pass_as_are_allowed_and_no_more(quotas):
    found = spend(quotas, LIMIT + 2)
    assert [one.passed for one in found] == [True] * LIMIT + [False] * 2
    assert [one.left for one in found] == [4, 3, 2, 1, 0, 0, 0]
    assert {(one.policy, one.limit) for one in found} == {("quotes", LIMIT)}


def test_after_the_time_it_names_there_are_as_many_again(quotas, clock):
    standing = spend(quotas, LIMIT + 1)[-1]
    assert 1 <= standing.ends_in_s <= WINDOW_S
    clock.advance(seconds=standing.ends_in_s)
    assert [one.passed for one in spend(quotas, LIMIT)] == [True] * LIMIT
    assert not quotas.count("quotes", "key a").passed


def test_until_then_there_are_none(quotas, clock):
    standing = spend(quotas, LIMIT + 1)[-1]
    clock.advance(seconds=standing.ends_in_s - 1)
    assert not quotas.count("quotes", "key a").passed


def test_callers_and_policies_do_not_use_up_each_others(quotas):
    spend(quotas, LIMIT + 1)
    assert quotas.count("quotes", "key b").passed
    assert quotas.count("sheets", "key a").passed


def test_windows_of_different_callers_end_at_different_times(quotas):
    ends = {quotas.count("quotes", f"key {i}").ends_in_s for i in range(20)}
    assert len(ends) > 10


def test_a_caller_who_has_none_left_costs_no_query(quotas, storage, monkeypatch):
    spend(quotas, LIMIT + 1)
    monkeypatch.setattr(storage, "count", None)
    assert not quotas.count("quotes", "key a").passed


def test_a_window_that_is_used_up_is_asked_for_again_in_a_moment(
    quotas, storage, clock
):
    spend(quotas, LIMIT + 1)
    with storage.engine.begin() as connection:
        connection.execute(text("UPDATE quotas SET counted = counted - 1"))
    assert not quotas.count("quotes", "key a").passed
    clock.advance(seconds=2 * ASKED_AGAIN_AFTER_S)
    assert [one.passed for one in spend(quotas, 2)] == [True, False]


def test_those_counted_ahead_and_one_by_one_share_a_quota(quotas):
    found = [
        quotas.count("quotes", "key a", ahead=number % 2 == 0)
        for number in range(LIMIT + 2)
    ]
    assert [one.passed for one in found] == [True] * LIMIT + [False] * 2
    assert [one.left for one in found] == [4, 3, 2, 1, 0, 0, 0]


def test_two_processes_share_one_quota(any_database, open_database, clock):
    processes = [quotas_on(open_database(any_database), clock, 10) for _ in range(2)]
    with ThreadPoolExecutor(8) as pool:
        asked = [processes[i % 2] for i in range(40)]
        found = list(pool.map(lambda one: one.count("quotes", "key a"), asked))
    assert sum(one.passed for one in found) == 10


def test_the_table_does_not_tell_who_asked(quotas, storage):
    who = "address 203.0.113.9"
    quotas.count("sheets", who)
    with storage.engine.connect() as connection:
        rows = str(connection.execute(text("SELECT * FROM quotas")).all())
    assert "sheets:" in rows
    assert "203.0.113.9" not in rows


def test_what_is_remembered_of_those_without_any_left_is_bounded(quotas, monkeypatch):
    monkeypatch.setattr("api.services.quotas._MOST_REMEMBERED", 2)
    for i in range(4):
        spend(quotas, 3, f"address {i}", "sheets")
    assert len(quotas._used_up) <= 2
    assert not quotas.count("sheets", "address 0").passed


def test_each_visitor_of_a_page_has_a_third(quotas, clock):
    def visit(who, key="key a"):
        return quotas.visit("quotes", key, who)

    found = [visit("address 1") for _ in range(3)]
    assert [(one.passed, one.left) for one in found] == [
        (True, 1),
        (True, 0),
        (False, 0),
    ]
    assert {(one.policy, one.limit) for one in found} == {("quotes-visitor", 2)}
    assert visit("address 2").passed
    assert visit("address 1", "key b").passed
    assert quotas.count("quotes", "key a").left == LIMIT - 1
    clock.advance(seconds=found[-1].ends_in_s)
    assert visit("address 1").passed


def test_what_is_remembered_of_visitors_is_bounded(quotas, monkeypatch):
    monkeypatch.setattr("api.services.quotas._MOST_REMEMBERED", 2)
    for number in range(5):
        assert quotas.visit("quotes", "key a", f"address {number}").passed
    assert len(quotas._visits) <= 2


def test_visits_at_once_are_all_counted(storage, clock):
    quotas = quotas_on(storage, clock, 60)
    with ThreadPoolExecutor(8) as pool:
        found = list(
            pool.map(lambda _: quotas.visit("quotes", "key a", "one"), range(80))
        )
    assert sum(one.passed for one in found) == 20
