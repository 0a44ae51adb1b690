"""What every storage does to previews that are let go: nobody sees any of them."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from api.ports import BandFilter
from tests.contract.quoting import NOON
from tests.contract.shop import apply, begin, by_id, opened, preview, prices, undo

LATER = NOON + timedelta(days=1)


@pytest.fixture
def shop(any_storage):
    return opened(any_storage)


def expendable(storage, *, before=NOON, keep=99, limit=99):
    found = storage.read(
        lambda unit: unit.repricings.expendable(before=before, keep=keep, limit=limit)
    )
    return [run.id for run in found]


def let_go(storage, *runs):
    seqs = [run.seq for run in runs]
    storage.write(lambda unit: unit.repricings.let_go(seqs, at=NOON))


def dated(storage, days):
    """A preview without bands, made so many days later."""
    run = preview(storage)
    at = NOON + timedelta(days=days)
    other = replace(run, id=f"after {days}", created_at=at)
    storage.write(lambda unit: unit.repricings.add(other, []))
    return other.id


def test_old_previews_and_those_over_the_number_are_expendable_oldest_first(shop):
    runs = [preview(shop) for _ in range(4)]
    ids = [run.id for run in runs]
    new = dated(shop, 2)
    assert expendable(shop) == []
    assert expendable(shop, keep=2) == ids
    assert expendable(shop, before=LATER)[:4] == ids
    assert new not in expendable(shop, before=LATER)
    assert expendable(shop, keep=3) == ids[:3]
    assert expendable(shop, keep=0, limit=2) == ids[:2]


def test_only_previews_are_expendable(shop):
    undone = apply(shop, preview(shop))
    undo(shop, undone)
    applied = apply(shop, preview(shop))
    plain = preview(shop)
    assert expendable(shop, keep=0) == [plain.id]
    begin(shop, plain)
    assert expendable(shop, keep=0, before=LATER) == []
    before = prices(shop)
    let_go(shop, undone, applied, plain)
    statuses = [by_id(shop, run).status for run in (undone, applied, plain)]
    assert statuses == ["undone", "applied", "applying"]
    assert prices(shop) == before


def test_what_is_let_go_is_seen_by_nobody_and_cannot_be_applied(shop):
    before = prices(shop)
    run, other = preview(shop), preview(shop)
    let_go(shop, run)
    assert by_id(shop, run) is None
    listed = shop.read(lambda unit: unit.repricings.page(None, limit=9, past=None))
    assert [each.id for each in listed] == [other.id]
    assert apply(shop, run) is None
    assert prices(shop) == before


def test_it_is_dropped_part_by_part_and_others_are_not(shop):
    run, other = preview(shop), preview(shop)
    kept = bands(shop, other)
    let_go(shop, run)
    left = shop.read(lambda unit: unit.repricings.left_behind(LATER))
    assert left == (run.seq,)
    parts = 1
    while shop.write(lambda unit: unit.repricings.drop_chunk(run.seq, size=1)):
        parts += 1
        assert by_id(shop, run) is None
    assert parts == 3
    assert bands(shop, run) == ()
    assert bands(shop, other) == kept
    assert shop.read(lambda unit: unit.repricings.left_behind(LATER)) == ()


def bands(storage, run):
    return storage.read(
        lambda unit: unit.repricings.bands(run.seq, BandFilter(), limit=99, past=None)
    )
