"""Applying: all of a preview comes into force at once, or none of it."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from threading import Barrier, Event, Thread
from unittest.mock import patch

import pytest

from api.ports import Conflict, NotFound, Place, PreconditionFailed
from api.services.actor import Actor, acting
from api.services.repricings.apply import STALE_AFTER
from api.services.repricings.refusals import Changed, Overtaken
from pricing.errors import InvalidInput
from tests.services.repricing import Shop

BAND = ("5", "5.5")


def test_what_is_to_be_raised_or_lowered_comes_into_force(stocked, clock):
    run = stocked.repricings.preview()
    clock.advance(hours=1)
    with acting(Actor(by="maker")):
        applied = stocked.applied(run)
    assert (applied.status, applied.applied_by) == ("applied", "maker")
    assert applied.applied_at == clock.now()
    asked = stocked.asked()
    assert stocked.prices() == {
        ("A", 5): asked,
        ("A", 6): Decimal("152.00"),
        ("B", 5): asked,
        ("C", 5): Decimal("100.00"),
        ("D", 5): Decimal("200.00"),
        ("E", 5): Decimal("140.00"),
        ("F", 5): Decimal("140.00"),
    }
    assert stocked.repricings.get(run.id) == applied


def test_a_band_in_review_moves_only_when_named(stocked):
    run = stocked.repricings.preview()
    applied = stocked.applied(run, [Place("C", Decimal("5.00"))])
    assert applied.named == (Place("C", Decimal(5)),)
    prices = stocked.prices()
    assert prices["C", 5] == stocked.asked()
    assert prices["D", 5] == 200


@pytest.mark.parametrize(
    ("place", "said"),
    [
        (("A", "5"), "A from 5 is not in review: raise"),
        (("A", "6"), "A from 6 is not in review: hold"),
        (("E", "5"), "E from 5 is not in review: locked"),
        (("F", "5"), "F from 5 is not in review: blocked"),
        (("C", "5.25"), "has no band C from 5.25"),
        (("Z", "5"), "has no band Z from 5"),
    ],
)
def test_only_what_is_in_review_can_be_named(stocked, place, said):
    run, before = stocked.repricings.preview(), stocked.prices()
    sku, size = place
    with pytest.raises(InvalidInput, match=said) as refused:
        stocked.applied(run, [Place("C", Decimal(5)), Place(sku, Decimal(size))])
    assert [fault.path for fault in refused.value.faults] == [("include", 1)]
    assert stocked.prices() == before
    assert stocked.repricings.get(run.id) == run


def test_all_that_is_wrongly_named_is_told(stocked):
    run = stocked.repricings.preview()
    with pytest.raises(InvalidInput) as refused:
        stocked.applied(run, [Place("A", Decimal(5)), Place("Z", Decimal(1))])
    assert [fault.path for fault in refused.value.faults] == [
        ("include", 0),
        ("include", 1),
    ]


def test_applying_is_audited_with_how_many_bands_moved(stocked):
    run = stocked.repricings.preview()
    stocked.applied(run, [Place("C", Decimal(5))])
    *_, (action, subject, before, after) = stocked.entries("repricing")
    assert (action, subject) == ("repricing.applied", run.id)
    assert before == {"status": "preview"}
    assert after == {"status": "applied", "bands": 3, "named": 1}


def test_a_preview_of_nothing_to_change_can_be_applied(shop):
    assert shop.applied(shop.repricings.preview()).status == "applied"


@pytest.mark.parametrize("change", ["edited", "removed"])
def test_a_listing_that_changed_since_is_never_overwritten(stocked, change):
    run = stocked.repricings.preview()
    if change == "edited":
        stocked.edit("B", title="Another title")
    else:
        stocked.remove("B")
    before = stocked.prices()
    with pytest.raises(Overtaken, match=r"make a new preview. Changed were: B$") as no:
        stocked.applied(run)
    assert no.value.changed == (Changed("B"),)
    assert stocked.prices() == before
    assert stocked.repricings.get(run.id) == run


def test_a_new_listing_does_not_stand_against_it(stocked):
    run = stocked.repricings.preview()
    stocked.list(stocked.listing("G", (*BAND, "140.00")))
    assert stocked.applied(run).status == "applied"
    assert stocked.prices()["G", 5] == 140


def test_a_second_preview_of_the_same_state_is_overtaken_by_the_first(stocked):
    first, second = stocked.repricings.preview(), stocked.repricings.preview()
    stocked.applied(first)
    with pytest.raises(Overtaken):
        stocked.applied(second)


def test_many_changed_listings_are_counted_in_words(stocked):
    stocked.list(*(stocked.listing(f"N{n:03}", (*BAND, "140")) for n in range(120)))
    run = stocked.repricings.preview()
    for number in range(120):
        stocked.edit(f"N{number:03}", title="x")
    with pytest.raises(Overtaken, match=r"N004 and at least 95 more$") as refused:
        stocked.applied(run)
    assert len(refused.value.changed) == 100


def test_an_edit_during_the_apply_is_kept_and_nothing_of_the_run_is(stocked):
    run = stocked.repricings.preview()
    make_ready = stocked.repricings._apply._make_ready

    def meanwhile(begun):
        make_ready(begun)
        stocked.reprice_by_hand("B", "171.00")

    with (
        patch.object(stocked.repricings._apply, "_make_ready", meanwhile),
        pytest.raises(Overtaken, match="Changed were: B"),
    ):
        stocked.applied(run)
    prices = stocked.prices()
    assert prices["B", 5] == 171
    assert prices["A", 5] == 140
    again = stocked.repricings.get(run.id)
    assert (again.status, again.version, again.named) == ("preview", 3, ())
    assert stocked.entries("repricing")[-1][0] == "repricing.given_up"


def test_what_is_given_up_leaves_an_earlier_run_to_be_undone(stocked):
    before = stocked.prices()
    first = stocked.applied(stocked.repricings.preview())
    stocked.silver("60")
    second = stocked.repricings.preview()
    make_ready = stocked.repricings._apply._make_ready

    def meanwhile(begun):
        make_ready(begun)
        stocked.list(stocked.listing("new", (*BAND, "140.00")))
        stocked.edit("F", title="x")

    with (
        patch.object(stocked.repricings._apply, "_make_ready", meanwhile),
        pytest.raises(Overtaken),
    ):
        stocked.applied(second, [Place("A", Decimal(5))])
    stocked.remove("new")
    stocked.repricings.undo(first.id, expected=first.version)
    assert stocked.prices() == before


def test_another_version_is_refused(stocked):
    run = stocked.repricings.preview()
    with pytest.raises(PreconditionFailed, match="at version 1") as refused:
        stocked.repricings.apply(run.id, expected=2)
    assert refused.value.current == 1
    assert stocked.repricings.apply(run.id, expected=None).status == "applied"


@pytest.mark.parametrize("became", ["applied", "undone"])
def test_a_run_is_applied_once(stocked, became):
    run = stocked.applied(stocked.repricings.preview())
    if became == "undone":
        run = stocked.repricings.undo(run.id, expected=run.version)
    with pytest.raises(Conflict, match=f"the repricing is {became}"):
        stocked.applied(run)
    with pytest.raises(PreconditionFailed):
        stocked.repricings.apply(run.id, expected=1)


def test_an_unknown_run_is_not_found(shop):
    with pytest.raises(NotFound, match="no repricing 'nothing'"):
        shop.repricings.apply("nothing", expected=None)


def test_of_two_processes_that_go_on_with_a_run_one_switches_it(stocked, clock):
    run = stocked.repricings.preview()
    other = Shop(stocked.storage, clock)
    make_ready = stocked.repricings._apply._make_ready

    def meanwhile(begun):
        make_ready(begun)
        other.applied(run)

    with (
        patch.object(stocked.repricings._apply, "_make_ready", meanwhile),
        pytest.raises(PreconditionFailed, match="applied by now, at version 3"),
    ):
        stocked.applied(run)
    assert stocked.prices()["A", 5] == stocked.asked()


def test_a_begin_that_somebody_else_was_quicker_with_is_refused(stocked):
    run = stocked.repricings.preview()
    with (
        patch("api.db.repositories.RepricingRepository.begin", lambda *_, **__: None),
        pytest.raises(PreconditionFailed),
    ):
        stocked.applied(run)


def test_a_run_taken_back_by_another_process_is_left_to_it(stocked):
    run = stocked.repricings.preview()
    with patch(
        "api.db.repositories.RepricingRepository.give_up", lambda *_, **__: None
    ):
        assert stocked.repricings._apply._take_back(run) is None
    assert stocked.entries("repricing")[-1][0] == "repricing.previewed"


def outcome(action):
    try:
        return action().status
    except (Conflict, PreconditionFailed) as error:
        return type(error).__name__


def test_of_many_threads_with_one_tag_one_applies(stocked):
    run, ends, start = stocked.repricings.preview(), [], Barrier(20)

    def work():
        start.wait()
        ends.append(outcome(lambda: stocked.applied(run)))

    threads = [Thread(target=work) for _ in range(20)]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    assert sorted(ends) == ["PreconditionFailed"] * 19 + ["applied"]
    assert stocked.repricings.get(run.id).version == 3


def test_while_one_is_applied_another_has_to_wait(stocked):
    run, other = stocked.repricings.preview(), stocked.repricings.preview()
    begun, go_on = Event(), Event()
    make_ready = stocked.repricings._apply._make_ready

    def slowly(run):
        begun.set()
        go_on.wait(10)
        make_ready(run)

    with patch.object(stocked.repricings._apply, "_make_ready", slowly):
        first = Thread(target=stocked.applied, args=[run])
        first.start()
        begun.wait(10)
        with pytest.raises(Conflict, match="another repricing is being applied"):
            stocked.applied(other)
        assert stocked.repricings.preview().status == "preview"
        go_on.set()
        first.join()
    assert stocked.repricings.get(run.id).status == "applied"


def test_others_are_let_in_between_the_chunks_of_a_large_run(storage, clock):
    slept = []
    shop = Shop(storage, clock, at_once=7, size=2, sleep=slept.append).open()
    shop.list(*(shop.listing(f"N{n}", (*BAND, "140.00")) for n in range(7)))
    small = shop.repricings.preview()
    shop.applied(small)
    assert slept == []
    shop.repricings.undo(small.id, expected=3)
    shop.paced(at_once=6, size=2, sleep=slept.append)
    shop.applied(shop.repricings.preview())
    assert slept == [0.02] * 4
    assert {*shop.prices().values()} == {shop.asked()}


@pytest.mark.parametrize("at_once", [0, 7])
def test_few_bands_come_into_force_as_many_do(stocked, at_once):
    stocked.paced(at_once=at_once)
    run, before = stocked.repricings.preview(), stocked.prices()
    applied = stocked.applied(run, [Place("C", Decimal(5))])
    assert (applied.status, applied.version) == ("applied", 3)
    assert applied.applied_rev == stocked.storage.revisions().listings
    assert stocked.repricings.get(run.id) == applied
    after = {
        (band.sku, band.size_from): band.new_price if band.moves else band.old_price
        for band in stocked.bands(run)
    }
    assert stocked.prices() == after != before
    assert [action for action, *_ in stocked.entries("repricing")] == [
        "repricing.previewed", "repricing.applied"
    ]  # fmt: skip
    stocked.repricings.undo(run.id, expected=3)
    assert stocked.prices() == before


def test_few_bands_are_applied_in_one_transaction(stocked):
    stocked.paced(at_once=7)
    run, wrote = stocked.repricings.preview(), []
    write = stocked.storage.write

    def writing(work, **more):
        wrote.append(work)
        return write(work, **more)

    with patch.object(stocked.storage, "write", writing):
        assert stocked.applied(run).status == "applied"
    assert len(wrote) == 1


def test_few_bands_of_listings_that_changed_stay_as_they_are(stocked):
    stocked.paced(at_once=7)
    run = stocked.repricings.preview()
    stocked.reprice_by_hand("B", "171")
    before = stocked.prices()
    with pytest.raises(Overtaken):
        stocked.applied(run)
    assert stocked.prices() == before
    assert stocked.repricings.get(run.id) == run


def test_a_dead_run_is_given_time():
    assert timedelta(minutes=1) < STALE_AFTER
