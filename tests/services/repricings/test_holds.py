"""A preview is applied only while what it was worked out by is in force."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from unittest.mock import patch

import pytest

from api.ports import Conflict
from api.services.repricings.refusals import Outdated, Overtaken
from pricing.catalogue import catalogue_coin
from tests.services.repricing import POLICIES, Shop

BAND = ("5", "5.5")
CHEAPER = [POLICIES[0] | {"target_margin": "0.40"}, POLICIES[1]]


@pytest.fixture
def shop(any_storage, clock):
    made = Shop(any_storage, clock).open()
    made.list(made.listing("A", (*BAND, "140.00")), made.listing("B", (*BAND, "170")))
    return made


def add_coin(shop):
    shop.coins.add(replace(catalogue_coin("at_50s_1959_1973"), key="own"))


def test_another_price_book_since_the_preview_stands_against_it(shop):
    run, before = shop.repricings.preview(), shop.prices()
    shop.change_book(policies=CHEAPER)
    with pytest.raises(Outdated, match=r"by version 1 .* and version 2 is in force"):
        shop.applied(run)
    assert shop.prices() == before
    assert shop.repricings.get(run.id) == run
    anew = shop.repricings.preview()
    assert shop.applied(anew).status == "applied"
    assert shop.prices() != before


def test_another_coin_since_the_preview_stands_against_it(shop):
    run, before = shop.repricings.preview(), shop.prices()
    add_coin(shop)
    with pytest.raises(Outdated, match="coins were changed after the preview"):
        shop.applied(run)
    assert shop.prices() == before
    assert shop.applied(shop.repricings.preview()).status == "applied"


def test_coins_that_came_and_went_are_told_apart_from_none(shop):
    shop.repricings.work_out()
    add_coin(shop)
    shop.coins.remove("own", expected=shop.coins.get("own").revision)
    run = shop.repricings.preview()
    assert run.coins_rev == shop.storage.revisions().coins == 2
    assert shop.applied(run).status == "applied"


def test_silver_that_moves_on_does_not_stand_against_it(shop):
    run = shop.repricings.preview()
    shop.silver("60")
    assert shop.applied(run).status == "applied"


@pytest.mark.parametrize("change", ["book", "coins"])
def test_a_change_during_the_apply_is_noticed_before_any_price_counts(shop, change):
    run, before = shop.repricings.preview(), shop.prices()
    make_ready = shop.repricings._apply._make_ready

    def meanwhile(begun):
        make_ready(begun)
        if change == "book":
            shop.change_book(policies=CHEAPER)
        else:
            add_coin(shop)

    with (
        patch.object(shop.repricings._apply, "_make_ready", meanwhile),
        pytest.raises(Outdated),
    ):
        shop.applied(run)
    assert shop.prices() == before
    left = shop.repricings.get(run.id)
    assert (left.status, left.version) == ("preview", 3)
    assert shop.applied(shop.repricings.preview()).status == "applied"


def test_an_edited_listing_is_named_still(shop):
    run = shop.repricings.preview()
    shop.edit("B", title="Another title")
    with pytest.raises(Overtaken, match=r"Changed were: B$"):
        shop.applied(run)


def test_one_of_a_time_when_coins_were_not_counted_is_applied_as_before(shop):
    run = shop.repricings.preview()
    older = replace(run, id="older", coins_rev=None)

    def store(unit):
        stored = unit.repricings.add(older, [])
        unit.repricings.fill_bands(stored.seq)
        return stored

    stored = shop.storage.write(store)
    add_coin(shop)
    assert shop.repricings.get("older").counts == run.counts
    assert shop.applied(stored).status == "applied"
    assert issubclass(Outdated, Conflict)


def test_an_undo_asks_for_nothing_but_the_listings(shop):
    before = shop.prices()
    done = shop.applied(shop.repricings.preview())
    shop.change_book(policies=CHEAPER)
    add_coin(shop)
    shop.repricings.undo(done.id, expected=done.version)
    assert shop.prices() == before
    assert min(before.values()) == Decimal(140)
