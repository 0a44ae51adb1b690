"""What would become of the listings at another spot."""

from __future__ import annotations

from decimal import Decimal
from unittest.mock import patch

import pytest

from api.ports import SpotUnavailable
from api.services.repricings import what_if
from pricing.errors import InvalidInput, UnknownKey

BAND = ("5", "5.5")


@pytest.fixture
def stocked(shop):
    shop.list(
        shop.listing("A", (*BAND, "140.00"), ("8", "8", "152.00")),
        shop.listing("B", (*BAND, "170.00")),
        shop.listing("C", (*BAND, "100.00")),
        shop.listing("D", (*BAND, "140.00"), locked=True),
        shop.listing("E", (*BAND, "140.00"), coin="gone"),
    )
    return shop


@pytest.mark.parametrize("spot", ["27.50", "20", "45"])
def test_it_says_what_a_preview_would_and_stores_nothing(stocked, spot):
    price = Decimal(spot)
    found = stocked.repricings.what_if(spot_price=price)
    assert stocked.repricings.page(limit=1).runs == ()
    run = stocked.repricings.preview(price)
    assert found.judged.counts() == run.counts
    assert found.judged.value_change() == run.value_change
    asked = {"raise", "lower", "review"}
    wanted = {band for band in stocked.bands(run) if band.decision in asked}
    assert {*found.bands} == wanted
    assert found.left_out == 0


def test_the_largest_changes_come_first(stocked):
    bands = stocked.repricings.what_if(spot_price=Decimal("27.50")).bands
    shares = [abs(band.new_price - band.old_price) / band.old_price for band in bands]
    assert shares == sorted(shares, reverse=True)
    assert bands[0].sku == "C"


def test_a_change_of_so_many_per_cent(stocked):
    found = stocked.repricings.what_if(change_percent=Decimal(20))
    same = stocked.repricings.what_if(spot_price=Decimal("33.00"))
    assert found.judged.ground.spot.price == Decimal("33.00")
    assert found.bands == same.bands


def test_for_some_listings(stocked):
    found = stocked.repricings.what_if(spot_price=Decimal(25), skus=["B", "D"])
    assert found.judged.bands == 2
    assert {band.sku for band in found.bands} == {"B"}
    with pytest.raises(UnknownKey) as refused:
        stocked.repricings.what_if(spot_price=Decimal(40), skus=["no"])
    assert refused.value.path == ("skus", 0)


@pytest.mark.parametrize("some", [None, "all"])
def test_a_hundred_are_shown_and_the_others_counted(stocked, some, monkeypatch):
    monkeypatch.setattr(what_if, "MOST_BANDS", 4)
    stocked.list(
        *(
            stocked.listing(f"N{n}", (*BAND, "100.00"), locked=n % 2 == 0)
            for n in range(12)
        )
    )
    skus = [sku for sku, _ in stocked.prices()] if some else None
    found = stocked.repricings.what_if(spot_price=Decimal("27.50"), skus=skus)
    assert len(found.bands) == 4
    assert {band.old_price for band in found.bands} == {100}
    counts = found.judged.counts()
    every = counts["raise"] + counts["lower"] + counts["review"]
    assert found.left_out == every - 4 > 0


def test_a_price_that_changed_meanwhile_is_not_shown(stocked):
    find = "api.db.repositories.ListingRepository.find"
    with patch(find, lambda *_: {}):
        assert stocked.repricings.what_if(spot_price=Decimal("27.50")).bands == ()


@pytest.mark.parametrize(
    "given", [{}, {"spot_price": Decimal(1), "change_percent": Decimal(1)}]
)
def test_it_is_asked_for_in_one_of_two_ways(stocked, given):
    with pytest.raises(InvalidInput, match="either a spot price or"):
        stocked.repricings.what_if(**given)


def test_a_change_needs_something_that_changes(stocked):
    with patch.object(stocked.repricings._grounds, "_spots") as spots:
        spots.quoted.side_effect = SpotUnavailable("none")
        with pytest.raises(SpotUnavailable):
            stocked.repricings.what_if(change_percent=Decimal(1))
