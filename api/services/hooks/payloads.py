"""What messages say: picked member by member, so that nothing else slips in.

Each is under 20 kB, as the specification of webhooks advises.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from typing import Any

from api.ports import Listing, StoredQuote
from api.ports.hooks import HookEvent
from api.services.hooks.events import MOST_SKUS, PRICES
from api.services.listings.document import in_unit
from api.services.quotes.document import instant
from pricing.money import Currency, currency, trimmed

MOST_BYTES = 19_000
_ROOM = 400  # for what stands around the listings


def price_bodies(
    listings: Iterable[tuple[str, Listing | None]],
    *,
    version: int,
    unit: Currency,
    at: datetime,
) -> Iterator[str]:
    """Messages about the prices of listings, as many as it takes.

    Args:
        listings: by sku, as they are now; None for one that is not there.
        version: of the state of all listings; a higher one is of a later state.
        unit: the currency of the prices.
        at: when they changed.
    """
    part: list[Mapping[str, Any]] = []
    size = 0
    for sku, listing in listings:
        told = _listing(sku, listing, unit)
        length = len(_text(told)) + 1
        if part and (len(part) == MOST_SKUS or size + length > MOST_BYTES - _ROOM):
            yield _body(PRICES, at, _prices(part, version, unit))
            part, size = [], 0
        part.append(told)
        size += length
    if part:
        yield _body(PRICES, at, _prices(part, version, unit))


def quote_body(event: HookEvent, quote: StoredQuote, at: datetime) -> str:
    """The message about a quote."""
    unit = currency(quote.currency)
    data = {
        "id": quote.id,
        "number": quote.number,
        "total": f"{in_unit(quote.total, unit):f}",
        "currency": quote.currency,
    }
    return _body(event, at, data)


def _prices(
    part: list[Mapping[str, Any]], version: int, unit: Currency
) -> Mapping[str, Any]:
    return {"version": version, "currency": unit.code, "listings": part}


def _listing(sku: str, listing: Listing | None, unit: Currency) -> Mapping[str, Any]:
    if listing is None or not listing.published:
        return {"sku": sku, "published": False, "bands": []}
    bands = [
        {
            "from": trimmed(band.size_from),
            "to": trimmed(band.size_to),
            "price": f"{in_unit(band.price, unit):f}",
        }
        for band in listing.bands
    ]
    return {"sku": sku, "published": True, "bands": bands}


def _body(event: HookEvent, at: datetime, data: Mapping[str, Any]) -> str:
    return _text({"type": event, "timestamp": instant(at), "data": data})


def _text(document: Mapping[str, Any]) -> str:
    return json.dumps(document, separators=(",", ":"))  # ASCII: as many bytes as signs
