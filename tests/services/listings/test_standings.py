"""How prices stand at the spot in force, and what a listing would become."""

from __future__ import annotations

from decimal import Decimal

import pytest

from api.ports import Place
from pricing.errors import InvalidInput, UnknownKey
from tests.services.selling import Seller, asked, band


@pytest.fixture
def seller(promises):
    return Seller(promises)


def standing(seller, *bands, **members):
    """How the first band of a new listing stands."""
    made = seller.create(*bands, **members)
    found = seller.listings.standings.of([made])
    return found.of(made, made.bands[0])


def test_a_band_stands_as_the_board_of_floors_and_its_own_price_say(seller):
    good = standing(seller, band(price=None))
    assert not good.under
    assert good.spot_at_floor > Decimal("27.50")
    assert good.margin > good.floor
    bad = standing(seller, band(price="90.00"), sku="ring-2")
    assert bad.under
    assert bad.spot_at_floor is None
    assert bad.margin < bad.floor
    assert bad.asked == good.asked > Decimal(90)
    assert bad.dearest_size == good.dearest_size


def test_what_cannot_be_priced_says_why(seller):
    made = seller.create(band())
    seller.promises.change_book(policies=[{"key": "trade", "target_margin": "0.2"}])
    found = seller.listings.standings.of([made]).bands[Place("ring-1", Decimal(5))]
    assert "retail" in found.trouble
    assert (found.margin, found.floor, found.under, found.asked) == (
        None,
        None,
        False,
        None,
    )


def test_without_a_spot_it_says_what_is_missing(seller):
    made = seller.create(band())
    seller.promises.change_book(currency="USD")  # and no rate to it
    found = seller.listings.standings.of([made])
    assert found.ground.spot is None
    assert found.of(made, made.bands[0]).trouble == found.ground.missing


def test_a_listing_is_tried_without_being_stored(seller):
    tried = seller.listings.tried(asked(band(price=None)))
    assert tried.bands[0].price > 0
    with pytest.raises(UnknownKey):
        seller.listings.tried(asked(coin="no_such"))
    with pytest.raises(InvalidInput):
        seller.listings.tried(asked(sku="new"))
    made = seller.create(band(price="150.00"))
    assert seller.listings.tried(asked(band(price=None))).bands == made.bands
