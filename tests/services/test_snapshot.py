"""One state of the storage, loaded no further than what changed."""

from __future__ import annotations

from decimal import Decimal

import pytest

from api.services import Keys, Snapshots, SpotPrices


@pytest.fixture
def snapshots(storage, clock):
    return Snapshots(storage, clock)


def test_an_empty_storage_has_an_empty_snapshot(snapshots):
    found = snapshots.take()
    assert (found.book, dict(found.keys)) == (None, {})
    assert (dict(found.coins), dict(found.spots)) == ({}, {})
    assert (dict(found.feeds), found.closes) == ({}, ())


def test_only_the_part_that_changed_is_loaded(snapshots, storage, clock):
    elsewhere = Snapshots(storage, clock)
    Keys(elsewhere, clock).create("bench", "Bench")
    before = snapshots.take()
    SpotPrices(elsewhere, clock).enter("XAG", "27.50", "EUR")
    after = snapshots.take()
    assert after.keys is before.keys
    assert after.coins is before.coins
    assert after.feeds is before.feeds
    assert after.spots["XAG"][0].id == 1
    assert [close.price for close in after.closes] == [Decimal("27.50")]
