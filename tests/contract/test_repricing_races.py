"""Repricings by several at once, on both databases: one of many wins, whole."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest

from api.ports import Answered, Conflict, Once, PreconditionFailed, StorageCollision
from api.services.replays import Replays
from tests.services.repricing import Shop

BAND = ("5", "5.5")
AT_ONCE = 6


@pytest.fixture
def shop(any_storage, clock):
    made = Shop(any_storage, clock).open()
    made.list(*(made.listing(f"R{n}", (*BAND, "140.00")) for n in range(30)))
    return made


@pytest.fixture
def others(shop, any_database, open_database):
    """The same shop in as many processes."""
    return [Shop(open_database(any_database), shop.clock) for _ in range(AT_ONCE)]


def together(actions):
    """What becomes of all, begun at the same moment."""
    start = Barrier(len(actions))

    def act(action):
        start.wait(30)
        try:
            return action()
        except (Conflict, PreconditionFailed, StorageCollision) as error:
            return type(error).__name__

    with ThreadPoolExecutor(len(actions)) as pool:
        return list(pool.map(act, actions))


def test_of_several_processes_with_one_tag_one_applies_and_one_undoes(shop, others):
    before, run = shop.prices(), shop.repricings.preview()
    ends = together([lambda each=each: each.applied(run).status for each in others])
    assert ends.count("applied") == 1
    assert {*ends} <= {"applied", "PreconditionFailed", "Conflict"}
    assert {*shop.prices().values()} == {shop.asked()}
    applied = shop.repricings.get(run.id)
    assert (applied.status, applied.version) == ("applied", 3)
    ends = together(
        [
            lambda each=each: each.repricings.undo(run.id, expected=3).status
            for each in others
        ]
    )
    assert ends.count("undone") == 1
    assert shop.prices() == before


def test_of_an_edit_and_an_apply_at_once_the_edit_is_never_lost(shop, others):
    for number in range(5):
        run, sku = shop.repricings.preview(), f"R{number}"
        edited = str(141 + number)
        ends = together(
            [
                lambda run=run: others[0].applied(run).status,
                lambda sku=sku, edited=edited: others[1].reprice_by_hand(sku, edited),
            ]
        )
        prices, status = shop.prices(), shop.repricings.get(run.id).status
        assert prices[sku, 5] == int(edited)
        if status == "applied":
            assert ends[0] == "applied"
            assert prices["R29", 5] == shop.asked()
            return
        assert (ends[0], status) == ("Overtaken", "preview")
        assert prices["R29", 5] == 140


def test_the_same_request_many_times_at_once_makes_one_preview(shop, others):
    once = Once(credential="k", operation="preview", key="k" * 8, fingerprint="f")

    def request(each):
        def work():
            run = each.repricings.preview()
            return Answered(status=201, body=run.id)

        each.repricings.work_out()
        return Replays(each.snapshots, each.clock).answer(once, work).answer.body

    ends = together([lambda each=each: request(each) for each in others])
    runs = shop.repricings.page(limit=100).runs
    assert len(runs) == 1
    assert {*ends} <= {runs[0].id, "StorageCollision"}
    assert runs[0].id in ends
