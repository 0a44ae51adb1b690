"""Several writers at once: nothing is lost, and one of many wins."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from threading import Barrier

import pytest

from api.ports import CoinRow, PreconditionFailed, StorageUnavailable
from api.services import PriceBooks, Snapshots

WRITERS = 24
NOON = datetime(2026, 12, 1, 12, tzinfo=UTC)


def outcome(action):
    """What became of it: the name of its refusal, or "done"."""
    try:
        action()
    except (PreconditionFailed, StorageUnavailable) as error:
        return type(error).__name__
    return "done"


def at_once(actions):
    """Run all actions in threads of their own, started together."""
    barrier = Barrier(len(actions))

    def start(action):
        barrier.wait(timeout=30)
        return outcome(action)

    with ThreadPoolExecutor(len(actions)) as pool:
        return list(pool.map(start, actions))


def row(key, number=0, revision=1):
    return CoinRow(key=key, document=str(number), revision=revision, changed_at=NOON)


@pytest.mark.parametrize("shared", [True, False], ids=["one process", "many"])
def test_of_many_writers_with_one_expected_version_one_wins(
    any_database, open_database, clock, book_document, shared
):
    first = open_database(any_database)
    PriceBooks(Snapshots(first, clock), clock).replace(book_document, expected=None)
    storages = [
        first if shared else open_database(any_database) for _ in range(WRITERS)
    ]
    shelves = [PriceBooks(Snapshots(each, clock), clock) for each in storages]
    ends = at_once([lambda s=s: s.replace(book_document, expected=1) for s in shelves])
    assert sorted(ends) == ["PreconditionFailed"] * (WRITERS - 1) + ["done"]
    assert [shelf.current().version for shelf in shelves] == [2] * WRITERS
    assert first.revisions().price_book == 2


def test_a_change_made_between_reading_and_writing_is_not_lost(
    any_database, open_database
):
    ours, theirs = open_database(any_database), open_database(any_database)
    ours.write(lambda unit: unit.coins.add(row("counted")))
    ends = []

    def count_up(unit):
        found = unit.coins.get("counted")
        number = int(found.document) + 1
        changed = row("counted", number, found.revision + 1)
        return unit.coins.replace(changed, expected=found.revision)

    def count_up_interrupted(unit):
        unit.coins.get("counted")
        if not ends:
            ends.append(outcome(lambda: theirs.write(count_up, wait=False)))
        return count_up(unit)

    ours.write(count_up_interrupted)
    found = ours.read(lambda unit: unit.coins.get("counted"))
    assert int(found.document) == 1 + ends.count("done")
    assert ends[0] in {"done", "StorageCollision"}


def test_two_that_each_look_before_they_act_do_not_both_act(
    any_database, open_database
):
    ours, theirs = open_database(any_database), open_database(any_database)
    ends = []

    def overtake(unit):
        if not unit.coins.all():
            unit.coins.add(row("theirs"))

    def look_and_be_overtaken(unit):
        alone = not unit.coins.all()
        if not ends:
            ends.append(outcome(lambda: theirs.write(overtake, wait=False)))
        if alone:
            unit.coins.add(row("ours"))

    ours.write(look_and_be_overtaken)
    (only,) = ours.read(lambda unit: unit.coins.all())
    assert (only.key, *ends) in {("theirs", "done"), ("ours", "StorageCollision")}


def test_every_acknowledged_change_of_many_writers_is_kept(any_database, open_database):
    storages = [open_database(any_database) for _ in range(8)]
    keys = [f"coin_{i}" for i in range(WRITERS)]

    def add(unit, key):
        unit.revisions.bump("coins")
        unit.coins.add(row(key))

    actions = [
        lambda k=key, s=storages[i % 8]: s.write(lambda unit: add(unit, k))
        for i, key in enumerate(keys)
    ]
    ends = at_once(actions)
    kept = {row.key for row in storages[0].read(lambda unit: unit.coins.all())}
    assert kept == {key for key, end in zip(keys, ends, strict=True) if end == "done"}
    assert storages[0].revisions().coins == len(kept)
    assert len(kept) >= WRITERS / 2
