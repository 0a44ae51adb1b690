"""The listing that is meant, in the state that it was seen in."""

from __future__ import annotations

import pytest

from api.ports import NotFound, PreconditionFailed
from api.services.listings.document import version
from api.services.listings.lookup import as_expected, there
from tests.services.selling import Seller, asked, band


@pytest.fixture
def seller(promises):
    return Seller(promises)


def look(seller, find, *arguments):
    return seller.storage.read(lambda unit: find(unit, *arguments))


def test_a_listing_is_found_by_its_sku_as_it_is_spelt(seller):
    made = seller.create(sku="Ring-A")
    assert look(seller, there, "Ring-A") == made
    for sku in ("ring-a", "Ring", "x" * 100, "a\nb"):
        with pytest.raises(NotFound, match="no listing"):
            look(seller, there, sku)


def test_a_version_is_that_or_whatever_there_is(seller):
    made = seller.create()
    seen = version(made)
    assert look(seller, as_expected, "ring-1", seen) == made
    changed = seller.listings.replace("ring-1", asked(band(price="200")))
    assert look(seller, as_expected, "ring-1", None) == changed
    with pytest.raises(PreconditionFailed, match="has changed") as refused:
        look(seller, as_expected, "ring-1", seen)
    assert refused.value.current == changed.revision


def test_a_listing_made_again_under_its_sku_is_another(seller):
    seen = version(seller.create())
    seller.listings.remove("ring-1")
    with pytest.raises(NotFound):
        look(seller, as_expected, "ring-1", seen)
    seller.create()
    with pytest.raises(PreconditionFailed):
        look(seller, as_expected, "ring-1", seen)
