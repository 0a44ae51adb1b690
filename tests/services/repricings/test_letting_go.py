"""Previews that nobody applied go after a while; what was applied stays for ever."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from unittest.mock import patch

import pytest
from sqlalchemy import text

from api.ports import NotFound, Place, StorageCollision, StorageUnavailable
from api.services.repricings.filling import SWEEP_S, Filling
from api.services.repricings.letting_go import KEPT_FOR, NEWEST_KEPT
from api.services.repricings.pace import ONE_WRITER
from api.services.repricings.refusals import Overtaken
from tests.services.repricing import IN_CHUNKS, Shop

BAND = ("5", "5.5")
TABLES = ("repricings", "repricing_cases", "repricing_bands")


@pytest.fixture
def shop(any_storage, clock):
    made = Shop(any_storage, clock).open()
    made.list(made.listing("A", (*BAND, "140.00")), made.listing("B", (*BAND, "170")))
    return made


def seen(shop):
    """The ids of all runs, oldest first."""
    return [run.id for run in reversed(shop.repricings.page(limit=100).runs)]


def rows(shop):
    """How many runs, cases and bands are stored."""
    with shop.storage.engine.connect() as connection:
        count = "SELECT count(*) FROM {}".format
        return [connection.scalar(text(count(table))) for table in TABLES]


def previews(shop, count):
    return [shop.repricings.preview().id for _ in range(count)]


def test_only_the_newest_previews_are_kept(shop):
    made = previews(shop, NEWEST_KEPT)
    assert seen(shop) == made
    made += previews(shop, 3)
    assert seen(shop) == made[-NEWEST_KEPT:]
    assert rows(shop) == [NEWEST_KEPT, 2 * NEWEST_KEPT, 2 * NEWEST_KEPT]


def test_one_that_is_too_old_goes_when_another_one_is_made(shop, clock):
    old = shop.repricings.preview()
    clock.advance(seconds=KEPT_FOR.total_seconds())
    shop.silver("27.50")
    at_the_limit = shop.repricings.preview()
    assert seen(shop) == [old.id, at_the_limit.id]
    clock.advance(seconds=1)
    new = shop.repricings.preview()
    assert seen(shop) == [at_the_limit.id, new.id]
    assert rows(shop) == [2, 4, 4]


def test_what_went_is_not_found_and_that_says_what_to_do(shop):
    first, *_ = previews(shop, NEWEST_KEPT + 1)
    for act in (shop.repricings.apply, shop.repricings.undo):
        with pytest.raises(NotFound, match="make a new one"):
            act(first, expected=None)
    with pytest.raises(NotFound, match=r"after 30 days, or when 20 newer ones"):
        shop.repricings.get(first)
    assert (timedelta(days=30), 20) == (KEPT_FOR, NEWEST_KEPT)


def test_what_was_applied_stays_with_its_bands_and_can_be_undone(shop, clock):
    before = shop.prices()
    undone = shop.applied(shop.repricings.preview())
    shop.repricings.undo(undone.id, expected=undone.version)
    applied = shop.applied(shop.repricings.preview())
    clock.advance(days=400)
    shop.silver("27.50")
    made = previews(shop, NEWEST_KEPT + 2)
    assert seen(shop) == [undone.id, applied.id, *made[-NEWEST_KEPT:]]
    assert len(shop.bands(applied)) == len(shop.bands(undone)) == 2
    shop.repricings.undo(applied.id, expected=applied.version)
    assert shop.prices() == before


def test_previews_of_a_few_listings_count_too(shop):
    of_one = shop.repricings.preview(skus=["A"])
    previews(shop, NEWEST_KEPT)
    assert of_one.id not in seen(shop)
    assert rows(shop) == [NEWEST_KEPT, 2 * NEWEST_KEPT, 2 * NEWEST_KEPT]


def test_one_that_was_given_up_leaves_nothing_that_stands_against_an_undo(shop):
    before = shop.prices()
    first = shop.applied(shop.repricings.preview())
    shop.silver("60")
    second = shop.repricings.preview()
    make_ready = shop.repricings._apply._make_ready

    def meanwhile(begun):
        make_ready(begun)
        shop.change_book(title="Another bench")

    with (
        patch.object(shop.repricings._apply, "_make_ready", meanwhile),
        patch("api.services.repricings.apply.clear"),  # the process ends before that
        pytest.raises(Exception, match="version 2 is in force"),
    ):
        shop.applied(second, [Place("A", Decimal(5))])
    previews(shop, NEWEST_KEPT)
    assert second.id not in seen(shop)
    shop.repricings.undo(first.id, expected=first.version)
    assert shop.prices() == before


def test_within_a_transaction_they_go_once_that_is_committed(shop):
    made = previews(shop, NEWEST_KEPT)

    def preview(_):
        run = shop.repricings.preview()
        stored = shop.snapshots.read(
            lambda unit: unit.repricings.page(None, limit=100, past=None)
        )
        assert len(stored) == NEWEST_KEPT + 1
        return run.id

    new = shop.snapshots.transaction(preview)
    assert seen(shop) == [*made[1:], new]


def test_none_goes_with_a_preview_that_is_not_kept(shop):
    made = previews(shop, NEWEST_KEPT)

    def preview(_):
        shop.repricings.preview()
        raise RuntimeError

    with pytest.raises(RuntimeError):
        shop.snapshots.transaction(preview)
    assert seen(shop) == made


@pytest.mark.parametrize("error", [StorageCollision, StorageUnavailable])
def test_the_preview_stands_whatever_is_in_the_way_of_the_others(shop, error):
    made = previews(shop, NEWEST_KEPT)
    with patch.object(Filling, "sweep", side_effect=[None, error("busy")]):
        new = shop.repricings.preview()
    assert seen(shop) == [*made[1:], new.id]
    previews(shop, 1)
    assert rows(shop)[0] == NEWEST_KEPT


def test_the_time_it_takes_is_bounded_and_the_rest_goes_later(shop, clock):
    with patch("api.services.repricings.letting_go.NEWEST_KEPT", 100):
        previews(shop, NEWEST_KEPT + 3)
    now = iter(Decimal(second) for second in range(1000))
    slow = Filling(
        shop.snapshots,
        clock,
        pace=replace(IN_CHUNKS, size=1),
        tick=lambda: float(next(now)),
    )
    with (
        patch.object(shop.repricings._letting_go, "_filling", slow),
        patch.object(shop.repricings._preview._filling, "sweep"),
    ):
        new = shop.repricings.preview()
        assert len(seen(shop)) == NEWEST_KEPT
        left = rows(shop)[0]
        assert left > NEWEST_KEPT + 1
        begun = next(now)
        slow.sweep()
        assert next(now) - begun <= Decimal(SWEEP_S) + 5
    assert seen(shop)[-1] == new.id
    shop.repricings.preview()
    assert rows(shop) == [NEWEST_KEPT, 2 * NEWEST_KEPT, 2 * NEWEST_KEPT]


def test_others_get_turns_while_rows_go_however_few_they_are(shop, clock):
    with patch.object(shop.repricings._letting_go._filling, "sweep"):
        previews(shop, NEWEST_KEPT + 1)
    assert rows(shop)[0] == NEWEST_KEPT + 1
    slept = []
    pace = replace(ONE_WRITER, size=1, sleep=slept.append)
    Filling(shop.snapshots, clock, pace=pace).sweep()
    assert rows(shop)[0] == NEWEST_KEPT
    assert slept == [ONE_WRITER.pause_s] * 2  # after each listing


def test_one_that_is_begun_meanwhile_stays(shop):
    run = shop.repricings.preview()
    letting_go = shop.repricings._letting_go
    found = (run,)
    applied = shop.applied(run)
    with patch.object(letting_go, "_expendable", lambda: found):
        letting_go.some()
    assert shop.repricings.get(run.id) == applied


def test_an_edit_after_the_preview_is_still_what_stands_against_it(shop):
    made = previews(shop, NEWEST_KEPT + 1)
    shop.edit("A", title="x")
    with pytest.raises(Overtaken):
        shop.repricings.apply(made[-1], expected=None)
