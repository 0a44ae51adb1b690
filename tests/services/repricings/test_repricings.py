"""Repricings as a whole: looked up, and when one is due."""

from __future__ import annotations

from decimal import Decimal
from unittest.mock import patch

import pytest

from api.ports import NotFound, SpotUnavailable

BAND = ("5", "5.5")


@pytest.fixture
def stocked(shop):
    shop.list(shop.listing("A", (*BAND, "140.00")))
    return shop


def test_a_run_is_found_by_its_id(stocked):
    run = stocked.repricings.preview()
    assert stocked.repricings.get(run.id) == run
    with pytest.raises(NotFound, match="no repricing 'nothing'"):
        stocked.repricings.get("nothing")


def test_silver_has_moved_since_the_run_that_was_applied_last(stocked, clock):
    moved = stocked.repricings.moved_since_applied
    assert moved() is None
    run = stocked.repricings.preview()
    assert moved() is None
    stocked.applied(run)
    assert moved() == 0
    clock.advance(hours=1)
    stocked.silver("28.05")
    assert moved() == Decimal("0.02")
    assert moved(Decimal("26.95")) == Decimal("-0.02")


def test_a_run_that_was_undone_does_not_count(stocked):
    first = stocked.applied(stocked.repricings.preview())
    stocked.silver("30.25")
    second = stocked.applied(stocked.repricings.preview())
    assert stocked.repricings.moved_since_applied() == 0
    stocked.repricings.undo(second.id, expected=second.version)
    assert stocked.repricings.moved_since_applied() == Decimal("0.1")
    stocked.repricings.undo(first.id, expected=first.version)
    assert stocked.repricings.moved_since_applied() is None


def test_runs_in_another_currency_say_nothing_of_this_one(stocked):
    stocked.applied(stocked.repricings.preview())
    stocked.change_book(currency="CHF")
    assert stocked.repricings.moved_since_applied(Decimal(30)) is None


def test_a_run_without_a_spot_says_nothing_of_one(stocked):
    with patch.object(stocked.repricings._grounds, "_spots") as spots:
        spots.quoted.side_effect = SpotUnavailable("none; enter one")
        stocked.applied(stocked.repricings.preview())
        with pytest.raises(SpotUnavailable, match="enter one"):
            stocked.repricings.moved_since_applied()
    assert stocked.repricings.moved_since_applied() is None
