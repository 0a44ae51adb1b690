"""A bench whose feeds answer as a test says."""

from __future__ import annotations

import json
from decimal import Decimal

from api.ports import Fetched

ASSAY = {
    "title": "The assay <office>",
    "url": "https://prices.example/silver.json",
    "format": "json",
    "currency": "EUR",
    "price": "/silver/price",
    "time": {"path": "/at"},
}


class Source:
    """A fetcher that answers with a price of the present moment."""

    def __init__(self, clock):
        self.clock = clock
        self.price = "27.50"
        self.failure = None
        self.asked = []

    def fetch(self, url, headers, *, secret_names, check=None):
        self.asked.append((url, headers))
        if self.failure is not None:
            raise self.failure
        said = {"silver": {"price": self.price}, "at": self.clock.now().isoformat()}
        body = json.dumps(said).encode()
        check(body, "application/json")
        return Fetched(body=body, content_type="application/json")


def hold(services, source, price="40.00", key="assay_office"):
    """The entry of a price that was held, for it jumped."""
    if key not in services.feeds.known():
        services.feeds.put(key, ASSAY, expected=None)
    source.price = price
    [result] = services.spot_prices.fetch(key)
    assert result.outcome == "held"
    return result.entry_id


def in_force(services):
    spot = services.spot_prices.current()
    return Decimal(spot.price), spot.currency
