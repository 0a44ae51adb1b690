"""Prices come into force all at once, and go back exactly as they were."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from api.ports import Conflict, Place
from tests.contract.shop import (
    SMALL,
    UP,
    apply,
    at_once,
    begin,
    by_id,
    chunk,
    clear,
    dearer,
    get,
    give_up,
    listing,
    mixed,
    opened,
    plus,
    preview,
    prices,
    ready,
    stock,
    switch,
    touched,
    undo,
)

FIVE = Decimal(5)
LARGE_A = Place("a", Decimal("9.75"))


@pytest.fixture
def shop(any_storage):
    return opened(any_storage)


def test_all_prices_come_into_force_with_the_switch_and_none_before(shop):
    stock(shop, listing("c", SMALL, locked=True))
    before = prices(shop)
    run = begin(shop, preview(shop))
    assert (run.status, run.version) == ("applying", 2)
    after = 0
    while (after := chunk(shop, run, after)) is not None:
        assert prices(shop) == before
        assert by_id(shop, run).reached == after
    done = switch(shop, run)
    assert prices(shop) == dearer(before, "c")
    assert (done.status, done.version) == ("applied", 3)
    assert done.applied_rev == shop.revisions().listings
    assert by_id(shop, done) == done
    assert {one.run for sku in "ab" for one in get(shop, sku).bands} == {run.seq}
    assert {one.run for one in get(shop, "c").bands} == {None}


def test_chunks_are_whole_listings_of_at_least_the_size(shop):
    stock(shop, *(listing(sku) for sku in "cdefg"))
    for size, chunks in ((1, 7), (2, 7), (3, 4), (4, 4), (13, 1), (14, 1), (99, 1)):
        run = begin(shop, preview(shop))
        assert ready(shop, run, size=size) == chunks
        switch(shop, run)
    assert prices(shop)["g", "5.00", "9.50"] == str(SMALL.price + 7 * UP)


@pytest.mark.parametrize("named", [(), (LARGE_A,)])
@pytest.mark.parametrize("skus", [None, ("a",)])
@pytest.mark.parametrize("earlier", [False, True])
def test_at_once_comes_to_the_same_as_in_chunks(shop, named, skus, earlier):
    if earlier:
        undo(shop, apply(shop, preview(shop)))
    before, runs, found = prices(shop), [], []
    for applying in (apply, at_once):
        run = preview(shop, mixed, skus=skus)
        done = applying(shop, run, *named)
        assert (done.status, done.version, done.named) == ("applied", 3, named)
        assert done.applied_rev == shop.revisions().listings
        assert by_id(shop, done) == done
        found.append(prices(shop))
        runs.append(undo(shop, done))
        assert prices(shop) == before
    assert found[0] == found[1] != before
    assert [(run.status, run.version) for run in runs] == [("undone", 4)] * 2


def test_at_once_only_a_preview_that_still_holds_comes_into_force(shop):
    run, other = preview(shop), preview(shop)
    begun = begin(shop, other)
    with pytest.raises(Conflict, match="being applied"):
        at_once(shop, run)
    clear(shop, give_up(shop, begun))
    assert at_once(shop, replace(run, version=2)) is None
    done = at_once(shop, run)
    assert at_once(shop, run) is None
    with pytest.raises(Conflict, match="has changed since the preview"):
        at_once(shop, by_id(shop, other))
    assert {one.run for sku in "ab" for one in get(shop, sku).bands} == {done.seq}


def test_at_once_no_listing_that_is_newer_than_the_preview_moves(shop):
    run = preview(shop)
    stock(shop, listing("c"))
    at_once(shop, run)
    assert {one.run for one in get(shop, "c").bands} == {None}


def test_an_undone_run_leaves_every_price_exactly_as_it_was(shop):
    first = apply(shop, preview(shop))
    before, text_before = prices(shop), str(sorted(prices(shop).items()))
    second = apply(shop, preview(shop, skus=("b",)))
    assert prices(shop) != before
    assert touched(shop, second) == ()
    done = undo(shop, second)
    assert str(sorted(prices(shop).items())) == text_before
    assert (done.status, done.version) == ("undone", 4)
    assert done.undone_rev == shop.revisions().listings
    assert touched(shop, first) == (Place("b", FIVE), Place("b", Decimal("9.75")))
    assert undo(shop, done) is None
    assert undo(shop, second) is None


def test_runs_one_after_the_other_add_up(shop):
    before = prices(shop)
    for number in range(1, 5):
        run = apply(shop, preview(shop))
        assert prices(shop) == dearer(before, by=number * UP)
    undo(shop, run)
    assert prices(shop) == dearer(before, by=3 * UP)
    apply(shop, preview(shop, lambda case: plus(case, "lower", -UP)))
    assert prices(shop) == dearer(before, by=2 * UP)


def test_what_came_back_can_be_undone_too_when_it_is_cleared(shop):
    before = prices(shop)
    runs = [apply(shop, preview(shop)) for _ in range(3)]
    for number in (2, 1, 0):
        assert touched(shop, runs[number]) == ()
        undo(shop, runs[number])
        clear(shop, runs[number])
        assert prices(shop) == dearer(before, by=number * UP)
        from_run = runs[number - 1].seq if number else None
        assert get(shop).bands[0].run == from_run


def test_a_switch_of_another_version_or_status_is_none(shop):
    before = prices(shop)
    run = preview(shop)
    assert switch(shop, run) is None
    assert undo(shop, run) is None
    assert give_up(shop, run) is None
    assert begin(shop, replace(run, version=2)) is None
    assert chunk(shop, run) is None
    begun = begin(shop, run)
    with pytest.raises(Conflict, match="being applied"):
        begin(shop, run)
    assert switch(shop, run) is None
    assert prices(shop) == before
    ready(shop, begun)
    done = switch(shop, begun)
    assert switch(shop, begun) is None
    assert begin(shop, begun) is None
    assert chunk(shop, done) is None
    assert prices(shop) == dearer(before)


def test_a_name_is_forgotten_when_the_run_is_given_up(shop):
    before = prices(shop)
    begun = begin(shop, preview(shop, mixed), LARGE_A)
    ready(shop, begun)
    again = give_up(shop, begun)
    assert (again.status, again.named, again.reached) == ("preview", (), 0)
    clear(shop, again)
    apply(shop, again)
    after = prices(shop)
    assert after["a", "9.75", "12.00"] == before["a", "9.75", "12.00"]
    assert after["a", "5.00", "9.50"] != before["a", "5.00", "9.50"]


def test_an_interrupted_run_changes_nothing_and_goes_on_where_it_was(shop):
    before = prices(shop)
    begun = begin(shop, preview(shop))
    first = chunk(shop, begun)
    assert prices(shop) == before
    left = shop.read(lambda unit: unit.repricings.applying())
    assert left == replace(begun, reached=first, reached_at=left.reached_at)
    assert ready(shop, left, after=left.reached) == 1
    switch(shop, left)
    assert shop.read(lambda unit: unit.repricings.applying()) is None
    assert prices(shop) == dearer(before)


def test_what_is_made_ready_twice_is_as_if_once(shop):
    before = prices(shop)
    apply(shop, preview(shop))
    begun = begin(shop, preview(shop))
    for _ in range(2):
        ready(shop, begun)
    done = switch(shop, begun)
    assert prices(shop) == dearer(before, by=2 * UP)
    undo(shop, done)
    assert prices(shop) == dearer(before)


@pytest.mark.parametrize("chunks", [0, 1, 2])
def test_after_a_run_given_up_the_one_before_can_still_be_undone(shop, chunks):
    before = prices(shop)
    first = apply(shop, preview(shop))
    begun = begin(shop, preview(shop))
    with pytest.raises(Conflict, match="being applied"):
        undo(shop, first)
    after = 0
    for _ in range(chunks):
        after = chunk(shop, begun, after)
    again = give_up(shop, begun)
    assert prices(shop) == dearer(before)
    clear(shop, again)
    assert prices(shop) == dearer(before)
    assert touched(shop, first) == ()
    undo(shop, first)
    assert prices(shop) == before


def test_a_run_given_up_makes_way_for_another(shop):
    before = prices(shop)
    begun = begin(shop, preview(shop))
    chunk(shop, begun)
    give_up(shop, begun)
    apply(shop, preview(shop, lambda case: plus(case, step=2 * UP)))
    assert prices(shop) == dearer(before, by=2 * UP)


def test_clearing_leaves_what_is_in_force(shop):
    before = prices(shop)
    done = apply(shop, preview(shop))
    clear(shop, done)
    assert prices(shop) == dearer(before)
    begun = begin(shop, preview(shop))
    ready(shop, begun)
    clear(shop, begun)
    switch(shop, begun)
    assert prices(shop) == dearer(before, by=2 * UP)
