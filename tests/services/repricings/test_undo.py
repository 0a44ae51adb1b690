"""Undoing: the prices before a run come back exactly, or nothing changes."""

from __future__ import annotations

from decimal import Decimal
from unittest.mock import patch

import pytest

from api.ports import Conflict, NotFound, Place, PreconditionFailed, StorageCollision
from api.services.actor import Actor, acting
from api.services.repricings.refusals import Changed, Overtaken
from api.services.repricings.undo import TRIES

BAND = ("5", "5.5")


@pytest.fixture
def stocked(shop):
    shop.list(
        shop.listing("A", (*BAND, "140.00"), ("6", "6", "140.00")),
        shop.listing("B", (*BAND, "170.00")),
        shop.listing("C", (*BAND, "152.00")),
    )
    return shop


@pytest.fixture
def run(stocked):
    """An applied run."""
    return stocked.applied(stocked.repricings.preview())


def undone(shop, run):
    return shop.repricings.undo(run.id, expected=run.version)


def test_the_prices_before_come_back_exactly(stocked, clock):
    before = stocked.prices()
    run = stocked.applied(stocked.repricings.preview())
    assert stocked.prices() != before
    clock.advance(days=40)
    with acting(Actor(by="maker")):
        back = undone(stocked, run)
    assert stocked.prices() == before
    assert (back.status, back.version, back.undone_by) == ("undone", 4, "maker")
    assert back.undone_at == clock.now()
    *_, entry = stocked.entries("repricing")
    told = {"status": "applied"}, {"status": "undone"}
    assert entry == ("repricing.undone", run.id, *told)


def test_runs_are_undone_one_after_the_other(stocked):
    states, runs = [stocked.prices()], []
    for spot in ("30", "36", "45"):
        stocked.silver(spot)
        preview = stocked.repricings.preview()
        review = [
            Place(band.sku, band.size_from)
            for band in stocked.bands(preview, decision="review")
        ]
        runs.append(stocked.applied(preview, review))
        states.append(stocked.prices())
    with pytest.raises(Overtaken):
        undone(stocked, runs[0])
    for run, state in zip(runs[:0:-1], states[-2:0:-1], strict=True):
        undone(stocked, run)
        assert stocked.prices() == state


def test_what_a_killed_undo_left_over_does_not_stand_against_the_run_before(stocked):
    before = stocked.prices()
    first = stocked.applied(stocked.repricings.preview())
    between = stocked.prices()
    stocked.silver("36")
    second = stocked.applied(stocked.repricings.preview())
    assert stocked.prices() != between
    with patch("api.services.repricings.undo.clear"):
        undone(stocked, second)
    assert stocked.prices() == between
    with patch("api.services.repricings.undo.clear"), pytest.raises(Overtaken):
        undone(stocked, first)
    undone(stocked, first)
    assert stocked.prices() == before


def test_an_edited_price_stands_against_it_and_nothing_changes(stocked, run):
    stocked.reprice_by_hand("A", "150.00")
    after = stocked.prices()
    with pytest.raises(Overtaken, match=r"Changed were: A from 5$") as refused:
        undone(stocked, run)
    assert refused.value.changed == (Changed("A", Decimal(5)),)
    assert stocked.prices() == after
    assert stocked.repricings.get(run.id) == run


def test_what_the_run_did_not_change_may_be_edited(stocked, run):
    stocked.reprice_by_hand("C", "153.00")
    stocked.edit("A", title="Another title")
    undone(stocked, run)
    assert stocked.prices()["C", 5] == 153
    assert stocked.prices()["A", 5] == 140


@pytest.mark.parametrize("status", ["preview", "undone"])
def test_only_an_applied_run_is_undone(stocked, status):
    run = stocked.repricings.preview()
    if status == "undone":
        run = undone(stocked, stocked.applied(run))
    with pytest.raises(Conflict, match=r"a preview|is undone"):
        undone(stocked, run)


def test_another_version_or_run_is_refused(stocked, run):
    with pytest.raises(PreconditionFailed) as refused:
        stocked.repricings.undo(run.id, expected=1)
    assert refused.value.current == 3
    with pytest.raises(NotFound):
        stocked.repricings.undo("nothing", expected=1)
    assert stocked.repricings.undo(run.id, expected=None).status == "undone"


def meddling(shop, times):
    """Somebody adds a listing each time it was looked whether anything changed."""
    left = iter(range(times))
    look = shop.repricings._undo._looked_up

    def meddled(*asked):
        found = look(*asked)
        number = next(left, None)
        if number is not None:
            shop.list(shop.listing(f"new-{number}", (*BAND, "1.00")))
        return found

    return patch.object(shop.repricings._undo, "_looked_up", meddled)


def test_what_changes_between_looking_and_switching_is_looked_at_again(stocked, run):
    with meddling(stocked, TRIES - 1):
        assert undone(stocked, run).status == "undone"


def test_listings_that_never_stand_still_are_given_up_on(stocked, run):
    with meddling(stocked, TRIES), pytest.raises(StorageCollision, match="try again"):
        undone(stocked, run)
    assert stocked.repricings.get(run.id) == run


def test_a_switch_that_somebody_else_was_quicker_with_counts_nothing(stocked, run):
    rev = stocked.storage.revisions().listings
    with (
        patch("api.db.repositories.RepricingRepository.undo", lambda *_, **__: None),
        pytest.raises(PreconditionFailed),
    ):
        undone(stocked, run)
    assert stocked.storage.revisions().listings == rev
