"""An apply that nobody waits for: begun or refused at once, and found again."""

from __future__ import annotations

import threading
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from unittest.mock import patch

import pytest

from api.ports import Conflict, Place, PreconditionFailed
from api.services.actor import Actor, acting
from api.services.repricings.refusals import Outdated, Overtaken
from tests.services.repricing import POLICIES, Shop

BAND = ("5", "5.5")


@pytest.fixture
def stocked(shop):
    shop.list(
        shop.listing("A", (*BAND, "140.00"), ("6", "6", "152.00")),
        shop.listing("B", (*BAND, "170.00")),
        shop.listing("C", (*BAND, "100.00")),
    )
    return shop


class Gate:
    """A rest between two chunks that lasts until it is opened."""

    def __init__(self):
        self.reached, self.opened = threading.Event(), threading.Event()

    def __call__(self, _):
        self.reached.set()
        assert self.opened.wait(10)

    def open(self, run):
        """Let it go on, and wait until its thread has ended."""
        self.opened.set()
        for each in threading.enumerate():
            if each.name == f"repricing {run.id}":
                each.join(10)


def started(shop, run, **given):
    return shop.repricings.running.start(run.id, expected=run.version, **given)


def test_a_few_prices_are_in_force_at_once(stocked):
    stocked.paced(at_once=100)
    run, before = stocked.repricings.preview(), stocked.prices()
    with acting(Actor(by="anna", via="page")):
        applied = started(stocked, run, include=[Place("C", Decimal(5))])
    assert (applied.status, applied.applied_by) == ("applied", "anna")
    assert stocked.prices()["C", Decimal(5)] > before["C", Decimal(5)]


def test_many_are_made_ready_meanwhile_and_any_process_sees_how_far(stocked):
    gate = Gate()
    stocked.paced(size=1, sleep=gate)
    run, before = stocked.repricings.preview(), stocked.prices()
    begun = started(stocked, run)
    assert begun.status == "applying"
    assert gate.reached.wait(10)
    seen = stocked.repricings.get(run.id)
    progress = stocked.repricings.running.progress(seen)
    assert (progress.done, progress.of, progress.quiet) == (2, 4, False)
    assert stocked.prices() == before
    stocked.clock.time += timedelta(minutes=1)
    assert stocked.repricings.running.progress(seen).quiet
    gate.open(run)
    assert stocked.repricings.get(run.id).status == "applied"
    assert stocked.prices() != before


def test_what_cannot_be_begun_is_refused_at_once(stocked):
    run = stocked.repricings.preview()
    stocked.edit("A", title="Another")
    with pytest.raises(Overtaken, match="A"):
        started(stocked, run)
    with pytest.raises(PreconditionFailed):
        stocked.repricings.running.start(run.id, expected=9)
    assert stocked.repricings.get(run.id) == run


def test_what_nobody_expects_is_raised_to_whoever_asked(stocked):
    run = stocked.repricings.preview()
    with (
        patch.object(type(stocked.clock), "now", side_effect=RuntimeError("broken")),
        pytest.raises(RuntimeError, match="broken"),
    ):
        started(stocked, run)


def test_an_apply_that_is_overtaken_ends_as_a_preview_that_says_why(stocked):
    gate = Gate()
    stocked.paced(size=1, sleep=gate)
    run, before = stocked.repricings.preview(), stocked.prices()
    started(stocked, run)
    assert gate.reached.wait(10)
    stocked.edit("B", title="Another")
    gate.open(run)
    left = stocked.repricings.get(run.id)
    assert (left.status, left.version) == ("preview", 3)
    assert stocked.prices() == before
    told = stocked.repricings.running.against(left)
    assert [each.sku for each in told.changed] == ["B"]


def test_what_speaks_against_a_run_is_known_before_it_is_asked_for(stocked):
    running, run = stocked.repricings.running, stocked.repricings.preview()
    assert running.against(run) is None
    cheaper = [POLICIES[0] | {"target_margin": "0.40"}, POLICIES[1]]
    stocked.change_book(policies=cheaper)
    assert isinstance(running.against(run), Outdated)
    applied = stocked.applied(stocked.repricings.preview())
    assert running.against(applied) is None
    first = [each for each in stocked.bands(applied) if each.size_from == Decimal(5)]
    moved = next(each.sku for each in first if each.moves)
    stocked.reprice_by_hand(moved, "141.00")
    against = running.against(applied)
    assert isinstance(against, Conflict)
    assert [each.words for each in against.changed] == [f"{moved} from 5"]
    undone = stocked.repricings.preview()
    assert running.against(undone) is None


def test_what_an_apply_changes_is_told_before_it_and_after(stocked):
    running, run = stocked.repricings.running, stocked.repricings.preview()
    before, named = stocked.prices(), Place("C", Decimal(5))
    told = running.outcome(run, [named, Place("A", Decimal(5))])  # A moves anyway
    applied = stocked.applied(run, [named])
    gains = [price - before[place] for place, price in stocked.prices().items()]
    assert told.bands == sum(gain != 0 for gain in gains)
    assert told.value_change == sum(gains)
    assert running.outcome(applied) == told
    assert running.outcome(run).bands == told.bands - 1


def test_bands_are_counted_up_to_a_listing_on_any_database(any_storage, clock):
    shop = Shop(any_storage, clock).open()
    shop.list(
        shop.listing("A", (*BAND, "140.00"), ("6", "6", "152.00")),
        shop.listing("B", (*BAND, "170.00")),
    )
    run, first = shop.repricings.preview(), shop.get("A").seq
    running = shop.repricings.running
    reached = [replace(run, reached=seq) for seq in (0, first, first + 1)]
    assert [running.progress(each).done for each in reached] == [0, 2, 3]
    assert running.progress(run).of == 3
