"""Repricings, edits and readers at once: one wins, and nobody sees half of it."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal
from threading import Event

import pytest

from api.ports import Conflict, Deed, StorageCollision
from tests.contract.quoting import NOON, at_once
from tests.contract.shop import (
    UP,
    apply,
    band,
    begin,
    by_id,
    chunk,
    clear,
    dearer,
    edit,
    get,
    give_up,
    listing,
    opened,
    plus,
    preview,
    priced,
    prices,
    ready,
    switch,
    touched,
    undo,
)

CALLERS = 6
MANY = 60


def tried(work, *words):
    """What it returned; None where it was refused for another's sake."""
    try:
        return work(*words)
    except (Conflict, StorageCollision):
        return None


def enter(shop, sku):
    return edit(shop, sku, bands=priced(get(shop, sku), "77.77", "88.88"))


def test_of_many_runs_applied_at_once_one_is(any_storage):
    shop = opened(any_storage)
    before = prices(shop)
    runs = [preview(shop) for _ in range(CALLERS)]
    done = at_once(lambda n: tried(apply, shop, runs[n]), CALLERS)
    assert len([each for each in done if each]) == 1
    assert prices(shop) == dearer(before)
    statuses = sorted(by_id(shop, run).status for run in runs)
    assert statuses == ["applied"] + ["preview"] * (CALLERS - 1)


def test_one_run_applied_many_times_at_once_is_applied_once(any_storage):
    shop = opened(any_storage)
    before = prices(shop)
    run = preview(shop)
    done = at_once(lambda _: tried(apply, shop, run), CALLERS)
    assert [each.version for each in done if each] == [3]
    assert prices(shop) == dearer(before)


def test_one_run_undone_many_times_at_once_is_undone_once(any_storage):
    shop = opened(any_storage)
    before = prices(shop)
    run = apply(shop, preview(shop))
    done = at_once(lambda _: tried(undo, shop, run), CALLERS)
    assert [each.version for each in done if each] == [4]
    assert prices(shop) == before


def test_two_that_make_one_run_ready_do_it_once(any_storage):
    shop = opened(any_storage, *(listing(f"r{number:02}") for number in range(20)))
    before = prices(shop)
    first = apply(shop, preview(shop))
    begun = begin(shop, preview(shop))
    at_once(lambda n: tried(ready, shop, begun) if n else ready(shop, begun), 3)
    switch(shop, by_id(shop, begun))
    assert prices(shop) == dearer(before, by=2 * UP)
    undo(shop, by_id(shop, begun))
    clear(shop, begun)
    assert prices(shop) == dearer(before)
    assert touched(shop, first) == ()


def test_a_reader_sees_all_of_a_run_or_nothing(any_storage):
    rings = [listing(f"r{number:03}", band("5", "9", "50")) for number in range(MANY)]
    shop = opened(any_storage, *rings)
    over = Event()

    def reading():
        seen, last = [], False
        while not last:
            last = over.is_set()
            found = {*prices(shop).values()}
            assert len(found) == 1, found
            if found != {*seen[-1:]}:
                seen += found
        return seen

    with ThreadPoolExecutor(2) as pool:
        readers = [pool.submit(reading) for _ in range(2)]
        try:
            for _ in range(2):
                begun = begin(shop, preview(shop))
                ready(shop, begun, size=6)
                undone = undo(shop, switch(shop, begun))
                clear(shop, undone, size=20)
                half = begin(shop, preview(shop))
                chunk(shop, half, size=MANY // 2)
                give_up(shop, half)
                apply(shop, preview(shop), size=6)
        finally:
            over.set()
        seen = [reader.result() for reader in readers]
    expected = {"50.00", "55.00", "60.00"}
    assert all({*each} <= expected for each in seen)
    assert {each[-1] for each in seen} == {"60.00"}


@pytest.mark.parametrize("turn", range(6))
def test_an_edit_beside_a_run_is_never_written_over(any_storage, turn):
    shop = opened(any_storage, *(listing(sku) for sku in "abcd"))
    before = prices(shop)
    run = preview(shop)
    sku = "abcd"[turn % 4]

    def work(number):
        if number == 0:
            return tried(apply, shop, run)
        # The storage is busy, and a person tries again.
        return any(tried(enter, shop, sku) for _ in range(20))

    applied, edited = at_once(work, 2)
    assert edited
    after = prices(shop)
    assert [after[where] for where in before if where[0] == sku] == ["77.77", "88.88"]
    rest = {where: price for where, price in after.items() if where[0] != sku}
    others = {where: price for where, price in before.items() if where[0] != sku}
    assert rest == (dearer(others) if applied else others)


@pytest.mark.parametrize("turn", range(4))
def test_taking_back_beside_a_new_run_is_before_or_after_it(any_storage, turn):
    del turn
    shop = opened(any_storage)
    before = prices(shop)
    first = apply(shop, preview(shop))
    second = preview(shop, lambda case: plus(case, step=2 * UP))

    def work(number):
        if number:
            return tried(apply, shop, second)

        def undoing(unit):
            rev = unit.revisions.bump("listings")
            if unit.repricings.touched_since(first.seq, limit=1):
                return None
            deed = Deed(by="maker", at=NOON, rev=rev)
            return unit.repricings.undo(first, deed=deed)

        return tried(shop.write, undoing)

    undone, applied = at_once(work, 2)
    assert not (undone and applied)
    added = 3 * UP if applied else Decimal(0) if undone else UP
    assert prices(shop) == (dearer(before, by=added) if added else before)
