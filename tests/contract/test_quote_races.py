"""Many at once: numbers without gaps, one decision, one renewal, exact counts."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from sqlalchemy import event

from api.ports import Answered, AuditEntry, AuditFilter, Conflict, Once, QuoteFilter
from tests.contract.quoting import (
    NOON,
    THREADS,
    at_once,
    decision,
    quote,
    stored,
    with_a_book,
)

COUNTER = Path(__file__).with_name("counting_process.py")
ROOT = COUNTER.parents[2]


@pytest.fixture
def shop(any_storage):
    return with_a_book(any_storage)


@pytest.fixture
def shops(any_database, open_database):
    """Storages of one database that know nothing of each other."""
    first = with_a_book(open_database(any_database))
    return [first, *(open_database(any_database) for _ in range(3))]


def once(key):
    return Once(credential="k", operation="create", key=key, fingerprint="f")


def create(unit, caller, key):
    """What a request to make a quote does, whole, in one transaction."""
    replay = unit.replays.find(once(key), since=NOON)
    if replay is not None:
        return int(replay[1].body)
    number = unit.quotes.next_number(2026)
    unit.quotes.add(quote(number, id=f"by-{caller}", sheet_token=f"of-{caller}"))
    line = AuditEntry(
        at=NOON, by="k", via="api", action="quote.created", subject=str(number)
    )
    unit.audit.add(line)
    answer = Answered(status=201, body=str(number))
    assert unit.replays.add(once(key), answer, at=NOON)
    return number


def all_numbers(storage):
    page = storage.read(
        lambda unit: unit.quotes.page(QuoteFilter(now=NOON), limit=999, past=None)
    )
    return [int(each.number[5:]) for each in page]


@pytest.mark.parametrize("apart", [False, True], ids=["one storage", "several"])
def test_numbers_have_no_gaps_and_none_is_given_twice(shops, apart):
    def work(caller):
        storage = shops[caller % 4 if apart else 0]
        return storage.write(lambda unit: create(unit, caller, f"key-{caller}"))

    everyone = list(range(1, THREADS + 1))
    assert sorted(at_once(work)) == everyone
    assert sorted(all_numbers(shops[0])) == everyone
    lines = shops[0].read(lambda u: u.audit.page(AuditFilter(), limit=99, past=None))
    assert len(lines) == THREADS


def test_one_request_sent_many_times_at_once_makes_one_quote(shops):
    def work(caller):
        return shops[caller % 4].write(lambda unit: create(unit, caller, "same"))

    assert at_once(work) == [1] * THREADS
    assert all_numbers(shops[0]) == [1]


def test_of_many_who_keep_an_answer_one_is_first(shop):
    def work(caller):
        answer = Answered(status=200, body=str(caller))
        return shop.write(lambda unit: unit.replays.add(once("key"), answer, at=NOON))

    kept = at_once(work)
    assert kept.count(True) == 1
    _, answer = shop.read(lambda unit: unit.replays.find(once("key"), since=NOON))
    assert answer.body == str(kept.index(True))


def test_of_many_secrets_one_is_kept(shop):
    kept = at_once(lambda n: shop.write(lambda unit: unit.secrets.add("name", f"{n}")))
    assert kept.count(True) == 1
    secret = shop.read(lambda unit: unit.secrets.get("name"))
    assert secret == str(kept.index(True))


def test_of_many_who_decide_one_is_heard(shops):
    stored(shops[0], quote())
    ways = ("accepted", "declined", "renewed")

    def work(caller):
        made = decision(ways[caller % 3], reason=str(caller))
        return shops[caller % 4].write(
            lambda unit: unit.quotes.decide("id-1", made, expected=1)
        )

    heard = [each for each in at_once(work) if each is not None]
    assert len(heard) == 1
    assert heard[0].version == 2
    assert shops[0].read(lambda unit: unit.quotes.get("id-1")) == heard[0]


def renew(unit, caller):
    """What a request to renew a quote does, the new one first."""
    number = unit.quotes.next_number(2026)
    made = quote(number + 100, id=f"by-{caller}", renews="id-1")
    unit.quotes.add(made)
    if unit.quotes.decide("id-1", decision("renewed"), expected=1) is None:
        raise Conflict("decided already")
    return made.id


def renewed(storage, caller):
    try:
        return storage.write(lambda unit: renew(unit, caller))
    except Conflict:
        return "conflict"


def test_of_many_who_renew_one_makes_a_quote(shops):
    stored(shops[0], quote())
    ends = at_once(lambda caller: renewed(shops[caller % 4], caller))
    assert ends.count("conflict") == THREADS - 1
    (made,) = set(ends) - {"conflict"}
    found = shops[0].read(lambda unit: unit.quotes.renewal_of("id-1"))
    assert found.id == made
    assert all_numbers(shops[0]) == [101, 1]


def test_a_renewal_overtaken_half_way_is_a_conflict(any_database, open_database):
    ours = with_a_book(open_database(any_database))
    theirs = open_database(any_database)
    stored(ours, quote())
    ends = []

    def look_and_be_overtaken(unit):
        assert (unit.quotes.renewal_of("id-1") is None) is (not ends)
        if not ends and ours.engine.dialect.name == "postgresql":
            ends.append(theirs.write(lambda other: renew(other, "them"), wait=False))
        return renew(unit, "us")

    if ours.engine.dialect.name == "sqlite":  # nobody can overtake
        assert ours.write(look_and_be_overtaken) == "by-us"
        return
    with pytest.raises(Conflict):
        ours.write(look_and_be_overtaken)
    assert ends == ["by-them"]
    assert ours.read(lambda unit: unit.quotes.renewal_of("id-1")).id == "by-them"


def test_every_request_of_many_at_once_is_counted_exactly(shops):
    times = 20

    def work(caller):
        storage = shops[caller % 2]
        return [storage.count("shared", window=60) for _ in range(times)]

    counted = at_once(work)
    assert all(mine == sorted(mine) for mine in counted)
    every = Counter(each for mine in counted for each in mine)
    assert every == Counter(range(1, THREADS * times + 1))


def test_two_processes_share_one_count(any_database, open_database):
    times = 100
    mine = open_database(any_database)
    other = subprocess.Popen(
        [sys.executable, str(COUNTER), any_database, str(times)],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert other.stdout.readline() == "ready\n"
    other.stdin.write("go\n")
    other.stdin.flush()
    counted = [mine.count("shared", window=60) for _ in range(times)]
    told, _ = other.communicate(timeout=60)
    assert other.returncode == 0
    assert sorted(counted + json.loads(told)) == list(range(1, 2 * times + 1))


def test_who_collided_twice_goes_on_alone(postgres_database, open_database):
    ours, theirs = (open_database(postgres_database) for _ in range(2))
    modes, ends = [], []

    @event.listens_for(ours.engine, "before_cursor_execute")
    def note(connection, cursor, statement, *rest):
        del connection, cursor, rest
        if statement.startswith("LOCK TABLE"):
            modes.append(statement)

    def count(unit):
        return unit.quotes.next_number(2026)

    def count_and_be_overtaken(unit):
        unit.revisions.all()
        ends.append(len(ends))
        if len(ends) < 3:
            theirs.write(count)
        return count(unit)

    assert ours.write(count_and_be_overtaken) == 3
    assert ["SHARE" in mode for mode in modes] == [False, False, True]
