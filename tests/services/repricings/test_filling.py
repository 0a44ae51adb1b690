"""Previews of very many bands: nobody waits for them, and nobody sees half of one."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from unittest.mock import patch

import pytest
from sqlalchemy import text

from api.db import open_storage, upgrade
from api.ports import StorageCollision
from api.services.repricings import filling as repricing_filling
from api.services.repricings import preview as repricing_preview
from api.services.repricings.apply import STALE_AFTER
from api.services.repricings.preview import TRIES
from tests.services.repricing import Shop
from tests.thoroughness import thorough

BAND = ("5", "5.5")
LISTINGS = 5
WORKER = Path(__file__).with_name("killed_filling.py")
ROOT = WORKER.parents[3]
KILLED_AT = thorough(quick=(3,), full=(1, 3, 5))
"""Parts of a filling [count]."""


@pytest.fixture(autouse=True)
def small(monkeypatch):
    """Every preview is a large one."""
    monkeypatch.setattr(repricing_preview, "MANY", 0)


@pytest.fixture(params=["sqlite", "postgresql"])
def filled(request, clock):
    """A shop in a database of either kind, and its address."""
    database = request.getfixturevalue(
        "sqlite_url" if request.param == "sqlite" else "postgres_database"
    )
    with closing(open_storage(database)) as storage:
        upgrade(storage.engine)
        yield stocked(Shop(storage, clock, size=2).open()), database


@pytest.fixture
def large(shop):
    return stocked(shop.paced(size=2))


def stocked(shop):
    skus = [f"R-{number}" for number in range(LISTINGS)]
    made = [shop.listing(sku, (*BAND, "140.00"), ("6", "8", "170.00")) for sku in skus]
    shop.list(*made)
    return shop


def rows(shop):
    """How many runs, cases and bands of runs there are, seen or not."""
    names = ("repricings", "repricing_cases", "repricing_bands")
    with shop.storage.engine.connect() as connection:
        counts = [text(f"SELECT count(*) FROM {name}") for name in names]  # noqa: S608
        return [connection.execute(each).scalar_one() for each in counts]


def seen(shop):
    return shop.repricings.page(limit=100).runs


def at_once(shop):
    """A preview in a transaction of its own."""
    with patch.object(repricing_preview, "MANY", 100):
        return shop.repricings.preview()


def meddling(shop, times):
    """Somebody changes a listing after a part was filled, in so many previews."""
    left, chunk = iter(range(times)), repricing_filling.Filling._chunk

    def meddled(self, run, after):
        done = chunk(self, run, after)
        if after == 0 and next(left, None) is not None:
            price = shop.get("R-3").bands[0].price + 1
            shop.reprice_by_hand("R-3", price)
        return done

    return patch.object(repricing_filling.Filling, "_chunk", meddled)


def test_it_says_the_same_as_one_that_is_made_at_once(large):
    run, other = large.repricings.preview(), at_once(large)
    assert run.counts == other.counts
    assert large.bands(run) == large.bands(other)
    assert large.repricings.get(run.id) == run
    assert [action for action, *_ in large.entries("repricing")] == [
        "repricing.previewed"
    ] * 2  # fmt: skip
    before = large.prices()
    done = large.applied(run)
    assert large.prices() != before
    large.repricings.undo(done.id, expected=done.version)
    assert large.prices() == before


def test_others_get_turns_between_the_parts(clock, storage):
    slept = []
    shop = stocked(Shop(storage, clock, size=2, sleep=slept.append).open())
    shop.repricings.preview()
    assert slept == [0.02] * LISTINGS


@pytest.mark.parametrize("times", [1, TRIES - 1])
def test_listings_that_change_meanwhile_are_read_again(large, times):
    with meddling(large, times):
        run = large.repricings.preview()
    [band, _] = large.bands(run, sku="R-3")
    assert band.old_price == 140 + times
    assert seen(large) == (run,)
    assert rows(large) == [1, 3, 2 * LISTINGS]


def test_listings_that_never_stand_still_leave_nothing(large):
    with meddling(large, TRIES), pytest.raises(StorageCollision, match="try again"):
        large.repricings.preview()
    assert rows(large) == [0, 0, 0]


def test_a_change_at_the_very_end_is_seen_too(large):
    left, shown = iter([1]), large.repricings._preview._shown

    def late(run):
        if next(left, None):
            large.reprice_by_hand("R-3", "141.00")
        return shown(run)

    with patch.object(large.repricings._preview, "_shown", late):
        run = large.repricings.preview()
    assert run.listings_rev == large.storage.revisions().listings
    assert rows(large) == [1, 3, 2 * LISTINGS]


def test_within_a_transaction_what_was_filled_ahead_is_only_shown(large):
    large.repricings.work_out()
    assert seen(large) == ()
    assert rows(large)[2] == 2 * LISTINGS
    with patch.object(repricing_filling.Filling, "filled") as filled:
        run = large.snapshots.transaction(lambda _: large.repricings.preview())
    filled.assert_not_called()
    assert seen(large) == (run,)
    assert rows(large) == [1, 2, 2 * LISTINGS]


def test_a_transaction_that_runs_again_shows_it_again(large):
    large.repricings.work_out()
    fail = iter([1])

    def preview(_):
        run = large.repricings.preview()
        if next(fail, None):
            raise RuntimeError(run.id)
        return run

    with pytest.raises(RuntimeError) as first:
        large.snapshots.transaction(preview)
    assert seen(large) == ()
    run = large.snapshots.transaction(preview)
    assert (run.id, rows(large)[0]) == (str(first.value), 1)


def test_what_was_filled_ahead_is_no_good_once_listings_have_changed(large):
    large.repricings.work_out()
    large.reprice_by_hand("R-3", "141.00")
    run = large.snapshots.transaction(lambda _: large.repricings.preview())
    assert {band.old_price for band in large.bands(run, sku="R-3")} == {141, 170}
    assert seen(large) == (run,)


def test_what_was_filled_ahead_is_shown_once_only(large):
    large.repricings.work_out()
    first = large.snapshots.transaction(lambda _: large.repricings.preview())
    second = large.snapshots.transaction(lambda _: large.repricings.preview())
    third = large.repricings.preview()
    assert len({first.id, second.id, third.id}) == 3
    assert {run.id for run in seen(large)} == {first.id, second.id, third.id}


@pytest.mark.parametrize("parts", [0, 1, 3])
def test_one_that_was_aborted_is_seen_by_nobody_and_dropped_later(large, clock, parts):
    left, write = iter(range(parts)), repricing_filling.Filling._chunk

    def aborted(self, run, after):
        if next(left, None) is None:
            raise KeyboardInterrupt
        return write(self, run, after)

    with (
        patch.object(repricing_filling.Filling, "_chunk", aborted),
        pytest.raises(KeyboardInterrupt),
    ):
        large.repricings.preview()
    assert seen(large) == ()
    assert rows(large) == [1, 2, 2 * parts]
    large.repricings.preview()
    assert rows(large)[0] == 2  # it may still be going on, for all that is known
    later = clock.now() + STALE_AFTER + timedelta(seconds=1)
    clock.now = lambda: later
    at_once(large)
    assert rows(large) == [2, 4, 4 * LISTINGS]


@pytest.mark.slow
def test_a_process_that_is_killed_while_filling_leaves_nothing_to_be_seen(filled):
    shop, database = filled
    before = shop.prices()
    for part in KILLED_AT:
        done = subprocess.run(
            [sys.executable, str(WORKER), database, str(part)],
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            capture_output=True, text=True, timeout=60, check=False,
        )  # fmt: skip
        assert done.returncode == -9, done.stderr
        assert json.loads(done.stdout) == {"part": part}
        assert seen(shop) == ()
        assert shop.prices() == before
    assert rows(shop)[:2] == [len(KILLED_AT), 2 * len(KILLED_AT)]
    with patch.object(repricing_filling, "STALE_AFTER", timedelta(days=-9999)):
        run = shop.repricings.preview()
    assert seen(shop) == (run,)
    assert rows(shop) == [1, 2, 2 * LISTINGS]
