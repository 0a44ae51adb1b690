"""Answers given once, and again: together with their effect, or not at all."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime
from threading import Barrier

import pytest
from sqlalchemy import text

from api.ports import Answered, CoinRow, Once, StorageCollision
from api.services import Snapshots
from api.services.replays import LIFETIME, Replays

ONCE = Once(credential="a", operation="make", key="first-try", fingerprint="ab" * 32)
ANSWER = Answered(status=201, headers={"ETag": '"x-1"'}, body='{"text": "Größe"}')
NOON = datetime(2026, 12, 1, 12, tzinfo=UTC)


def process(storage, clock):
    snapshots = Snapshots(storage, clock)
    return Replays(snapshots, clock), snapshots


class Effect:
    """Adds a coin in the transaction it is run in, and counts its runs."""

    def __init__(self, snapshots, *, then=None):
        self.snapshots, self.then, self.runs = snapshots, then, 0

    def __call__(self):
        self.runs += 1
        row = CoinRow(key="made", document="1", revision=1, changed_at=NOON)
        self.snapshots.write(lambda unit: unit.coins.add(row))
        if self.then is not None:
            raise self.then
        return ANSWER


def coins(storage):
    return len(storage.read(lambda unit: unit.coins.all()))


def test_the_second_time_it_has_no_effect_and_the_same_answer(any_storage, clock):
    replays, snapshots = process(any_storage, clock)
    effect = Effect(snapshots)
    first, second = replays.answer(ONCE, effect), replays.answer(ONCE, effect)
    assert (first.again, second.again) == (False, True)
    assert first.answer == second.answer == ANSWER
    assert (effect.runs, coins(any_storage)) == (1, 1)


def test_an_effect_that_fails_is_undone_and_no_answer_is_kept(any_storage, clock):
    replays, snapshots = process(any_storage, clock)
    failing = Effect(snapshots, then=ZeroDivisionError())
    with pytest.raises(ZeroDivisionError):
        replays.answer(ONCE, failing)
    assert coins(any_storage) == 0
    assert not replays.answer(ONCE, Effect(snapshots)).again


@pytest.mark.parametrize("member", ["credential", "operation", "key"])
def test_another_name_is_another_request(storage, clock, member):
    replays, _ = process(storage, clock)
    replays.answer(ONCE, lambda: ANSWER)
    other = replace(ONCE, **{member: "another"})
    assert not replays.answer(other, lambda: ANSWER).again


def test_the_fingerprint_of_the_first_request_is_told(storage, clock):
    replays, _ = process(storage, clock)
    replays.answer(ONCE, lambda: ANSWER)
    changed = replace(ONCE, fingerprint="cd" * 32)
    assert replays.answer(changed, lambda: ANSWER).fingerprint == ONCE.fingerprint


def test_an_answer_is_kept_for_a_day_and_then_forgotten(storage, clock):
    replays, _ = process(storage, clock)
    replays.answer(ONCE, lambda: ANSWER)
    clock.advance(seconds=LIFETIME.total_seconds())
    assert replays.answer(ONCE, lambda: ANSWER).again
    clock.advance(seconds=1)
    assert not replays.answer(ONCE, lambda: ANSWER).again


def test_old_answers_are_swept_away(storage, clock):
    replays, _ = process(storage, clock)
    for i in range(3):
        replays.answer(replace(ONCE, key=f"old-{i}"), lambda: ANSWER)
    clock.advance(hours=25)
    replays.answer(ONCE, lambda: ANSWER)
    with storage.engine.connect() as connection:
        rows = connection.execute(text("SELECT count(*) FROM replays")).scalar_one()
    assert rows == 1


def test_an_old_answer_not_swept_yet_does_not_stand_in_the_way(storage, clock):
    replays, _ = process(storage, clock)
    clock.advance(minutes=-30)
    replays.answer(replace(ONCE, key="another"), lambda: ANSWER)  # sweeps now
    replays.answer(ONCE, lambda: ANSWER)
    clock.advance(hours=24, minutes=5)
    replays._swept = clock.now()
    assert not replays.answer(ONCE, lambda: ANSWER).again


def test_a_refusal_is_kept_unless_there_is_an_answer(storage, clock):
    replays, _ = process(storage, clock)
    refusal = Answered(status=422, body="{}")
    replays.keep(ONCE, refusal)
    assert replays.answer(ONCE, lambda: ANSWER).answer == refusal
    other = replace(ONCE, key="another")
    replays.answer(other, lambda: ANSWER)
    replays.keep(other, refusal)
    assert replays.answer(other, lambda: ANSWER).answer == ANSWER


def test_of_many_processes_at_once_one_has_the_effect(
    any_database, open_database, clock
):
    together = Barrier(6)

    def ask(storage):
        replays, snapshots = process(storage, clock)
        together.wait(timeout=30)
        try:
            return replays.answer(ONCE, Effect(snapshots))
        except StorageCollision:
            return None

    storages = [open_database(any_database) for _ in range(6)]
    with ThreadPoolExecutor(6) as pool:
        found = [one for one in pool.map(ask, storages) if one is not None]
    assert [one.again for one in found].count(False) == 1
    assert {one.answer.body for one in found} == {ANSWER.body}
    assert coins(storages[0]) == 1


def test_an_answer_that_cannot_be_kept_takes_its_effect_with_it(
    storage, clock, monkeypatch
):
    replays, snapshots = process(storage, clock)
    replays.answer(replace(ONCE, key="another"), lambda: ANSWER)
    unit = "api.db.repositories.replays.ReplayRepository.add"
    monkeypatch.setattr(unit, lambda *_, **__: False)
    with pytest.raises(StorageCollision, match="a moment sooner"):
        replays.answer(ONCE, Effect(snapshots))
    assert coins(storage) == 0
