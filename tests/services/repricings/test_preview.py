"""Previews: stored whole, of one state of the listings, changing no price."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from decimal import Decimal
from types import SimpleNamespace
from unittest.mock import patch

import pytest

from api.ports import SpotUnavailable, StorageCollision
from api.services.actor import Actor, acting
from api.services.repricings.preview import TRIES, decision_of, floor_of
from pricing.catalogue import catalogue_coin
from tests.services.promising import COIN
from tests.services.repricing import NOTHING

BAND = ("5", "5.5")


@pytest.fixture
def stocked(shop):
    """A shop with a listing for every decision."""
    shop.list(
        shop.listing("A-hold", (*BAND, "152.00")),
        shop.listing("B-raise", (*BAND, "140.00"), ("6", "8", "140.00")),
        shop.listing("C-lower", (*BAND, "170.00")),
        shop.listing("D-review", (*BAND, "100.00")),
        shop.listing("E-locked", (*BAND, "100.00"), locked=True),
        shop.listing("F-blocked", (*BAND, "100.00"), coin="gone"),
    )
    return shop


def test_a_preview_is_stored_with_all_it_stands_on(stocked, clock):
    before = stocked.prices()
    with acting(Actor(by="maker")):
        run = stocked.repricings.preview()
    assert re.fullmatch("[0-9a-f]{32}", run.id)
    assert (run.status, run.version, run.created_by) == ("preview", 1, "maker")
    assert (run.created_at, run.currency) == (clock.now(), "EUR")
    assert (run.spot_price, run.book_version, run.skus) == (Decimal("27.50"), 1, None)
    assert json.loads(run.spot)["source"] == "manual"
    assert run.counts == {
        "hold": 1,
        "raise": 2,
        "lower": 1,
        "review": 1,
        "locked": 1,
        "blocked": 1,
    }
    bands = stocked.bands(run)
    moved = [b.new_price - b.old_price for b in bands if b.moves]
    assert run.value_change == sum(moved)
    assert stocked.repricings.get(run.id) == run
    assert stocked.prices() == before


def test_every_band_has_its_decision_with_margins_and_reason(stocked):
    found = {
        (band.sku, band.size_from): band
        for band in stocked.bands(stocked.repricings.preview())
    }
    assert {sku[:1]: band.decision for (sku, _), band in found.items()} == {
        "A": "hold",
        "B": "raise",
        "C": "lower",
        "D": "review",
        "E": "locked",
        "F": "blocked",
    }
    held = found["A-hold", 5]
    assert (held.new_price, held.moves) == (held.old_price, False)
    assert "inside the dead band" in held.reason
    raised = found["B-raise", 5]
    assert raised.new_price == stocked.asked() > raised.old_price
    assert raised.new_margin > raised.old_margin > 0
    assert raised.spot_at_floor > Decimal("27.50")
    assert raised.moves
    waiting = found["D-review", 5]
    assert (waiting.new_price, waiting.moves) == (stocked.asked(), False)
    assert waiting.spot_at_floor is None
    assert not found["E-locked", 5].moves
    gone = found["F-blocked", 5]
    assert (gone.new_price, gone.old_margin, gone.new_margin) == (None, None, None)
    assert "no coin 'gone'" in gone.reason


def test_at_a_given_spot_or_for_some_listings(stocked):
    run = stocked.repricings.preview(Decimal("29.10"), ["C-lower", "A-hold"])
    assert run.spot_price == Decimal("29.10")
    assert run.skus == ("C-lower", "A-hold")
    assert sum(run.counts.values()) == 2
    assert {band.sku for band in stocked.bands(run)} == {"A-hold", "C-lower"}


def test_without_any_spot_the_preview_says_so(stocked):
    with patch.object(stocked.repricings._grounds, "_spots") as spots:
        spots.quoted.side_effect = SpotUnavailable("none; enter one")
        run = stocked.repricings.preview()
    assert (run.spot, run.spot_price) == ("null", 0)
    assert run.counts == NOTHING | {"locked": 1, "blocked": 6}
    reasons = {band.reason for band in stocked.bands(run, decision="blocked")}
    assert "none; enter one" in reasons


def test_a_preview_is_audited_with_its_counts(stocked):
    run = stocked.repricings.preview(skus=["A-hold"])
    [(action, subject, before, after)] = stocked.entries("repricing")
    assert (action, subject, before) == ("repricing.previewed", run.id, None)
    assert after["counts"] == NOTHING | {"hold": 1}
    assert (after["spot_price"], after["book_version"]) == ("27.50", 1)
    assert after["skus"] == 1


def meddling(shop, times):
    """Somebody changes a listing each time the listings have been worked out."""
    left = iter(range(times))
    work_out = shop.repricings._preview.work_out

    def meddled(*asked):
        found = work_out(*asked)
        if next(left, None) is not None:
            price = shop.get("C-lower").bands[0].price + 1
            shop.reprice_by_hand("C-lower", price)
        return found

    return patch.object(shop.repricings._preview, "work_out", meddled)


@pytest.mark.parametrize("times", [1, TRIES - 1])
def test_listings_that_change_meanwhile_are_read_again(stocked, times):
    with meddling(stocked, times):
        run = stocked.repricings.preview()
    [band] = stocked.bands(run, sku="C-lower")
    assert band.old_price == 170 + times
    assert run.listings_rev == stocked.storage.revisions().listings
    assert len(stocked.repricings.page(limit=100).runs) == 1


def test_listings_that_never_stand_still_are_given_up_on(stocked):
    with meddling(stocked, TRIES), pytest.raises(StorageCollision, match="try again"):
        stocked.repricings.preview()
    assert stocked.repricings.page(limit=100).runs == ()


def test_bands_that_cannot_all_be_found_leave_nothing_behind(stocked):
    work_out = stocked.repricings._preview.work_out

    def one_too_many(*asked):
        found = work_out(*asked)
        first, *others = found.cases
        more = replace(first.case, bands=first.case.bands + 1)
        return replace(found, cases=(first._replace(case=more), *others))

    with (
        patch.object(stocked.repricings._preview, "work_out", one_too_many),
        pytest.raises(StorageCollision),
    ):
        stocked.repricings.preview()
    assert stocked.repricings.page(limit=100).runs == ()


def test_the_newest_preview_of_the_same_serves_again_where_that_is_asked(stocked):
    run = stocked.repricings.preview()
    entries = stocked.entries("repricing")
    assert stocked.repricings.preview(anew=False) == run
    stocked.silver("27.50")  # the same price, entered again
    assert stocked.repricings.preview(anew=False) == run
    assert stocked.entries("repricing") == entries
    assert stocked.repricings.preview().id != run.id


def add_coin(shop):
    shop.coins.add(replace(catalogue_coin(COIN), key="own"))


CHANGES = {
    "silver": lambda shop: shop.silver("27.51"),
    "book": lambda shop: shop.change_book(title="Another bench"),
    "listing": lambda shop: shop.edit("A-hold", title="x"),
    "coin": add_coin,
    "a preview of some": lambda shop: shop.repricings.preview(skus=["A-hold"]),
    "a preview elsewhere": lambda shop: shop.repricings.preview(Decimal(30)),
    "applied": lambda shop: shop.applied(shop.repricings.page(limit=1).runs[0]),
}


@pytest.mark.parametrize("change", CHANGES)
def test_after_any_change_another_preview_is_made(stocked, change):
    first = stocked.repricings.preview()
    CHANGES[change](stocked)
    before = len(stocked.repricings.page(limit=100).runs)
    run = stocked.repricings.preview(anew=False)
    assert run.id != first.id
    assert (run.status, run.skus) == ("preview", None)
    assert len(stocked.repricings.page(limit=100).runs) == before + 1


def test_a_preview_of_the_same_listings_serves_again_too(stocked):
    run = stocked.repricings.preview(Decimal(30), ["A-hold", "C-lower"])
    again = stocked.repricings.preview(Decimal(30), ["A-hold", "C-lower"], anew=False)
    assert again == run


def test_without_a_spot_it_is_said_anew_why_there_is_none(stocked):
    for why in ("none; enter one", "none; enter a rate"):
        with patch.object(stocked.repricings._grounds, "_spots") as spots:
            spots.quoted.side_effect = SpotUnavailable(why)
            run = stocked.repricings.preview(anew=False)
        assert why in {band.reason for band in stocked.bands(run, decision="blocked")}


def test_what_was_worked_out_ahead_is_only_stored(stocked):
    stocked.repricings.work_out()
    with patch.object(stocked.compiled, "of") as of:
        assert stocked.repricings.preview().counts["raise"] == 2
    of.assert_not_called()


def test_the_spot_at_the_floor_is_shown_below_it_and_none_stays_none():
    judged = SimpleNamespace(spot_at_floor=Decimal("30.00019999"), decision="hold")
    assert floor_of(judged) == Decimal("30.0001")
    assert floor_of(SimpleNamespace(spot_at_floor=None)) is None
    assert decision_of(judged) == "hold"
