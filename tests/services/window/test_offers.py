"""A listing as linked data: the same prices, in the words of schema.org."""

from __future__ import annotations

from datetime import timedelta

import pytest

from api.services.window.offers import product
from tests.services.selling import band
from tests.services.windowing import Storefront

OFFER = {
    "@type",
    "name",
    "price",
    "priceCurrency",
    "priceValidUntil",
    "availability",
    "priceSpecification",
}
PRICE = {
    "@type",
    "price",
    "priceCurrency",
    "validThrough",
    "valueAddedTaxIncluded",
    "unitCode",
}


@pytest.fixture
def store(promises):
    return Storefront(promises)


def test_a_listing_is_a_product_with_an_offer_for_each_band(store, clock):
    store.publish(band(), band("10", "12", "200"))
    until = clock.now() + timedelta(minutes=15)
    told = product(store.window.get("ring-1"), until)
    assert set(told) == {"@context", "@type", "sku", "name", "offers"}
    assert (told["@type"], told["sku"]) == ("Product", "ring-1")
    assert [set(offer) for offer in told["offers"]] == [OFFER, OFFER]
    large = told["offers"][1]
    assert (large["name"], large["price"]) == ("US 10 to 12", "200.00")
    assert large["priceValidUntil"] == "2026-12-01T12:15:00Z"
    assert large["availability"] == "https://schema.org/MadeToOrder"
    assert set(large["priceSpecification"]) == PRICE
    assert large["priceSpecification"] | {"@type": ""} == {
        "@type": "",
        "price": "200.00",
        "priceCurrency": "EUR",
        "validThrough": "2026-12-01T12:15:00Z",
        "valueAddedTaxIncluded": True,
        "unitCode": "C62",
    }


def test_an_offer_of_one_size_is_named_by_it(store, clock):
    store.publish(band("7", "7"))
    (offer,) = product(store.window.get("ring-1"), clock.now())["offers"]
    assert offer["name"] == "US 7"


def test_what_lies_ready_is_in_stock(store, clock):
    store.publish(kind="ready_made")
    told = product(store.window.get("ring-1"), clock.now())
    assert told["offers"][0]["availability"] == "https://schema.org/InStock"
