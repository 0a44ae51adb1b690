"""A published listing as linked data, for search engines and other programs.

References:
    [1] schema.org: Product, Offer, UnitPriceSpecification, ItemAvailability.
    [2] UN/CEFACT Recommendation 20: C62, one (a piece).
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from api.services.quotes.document import exact
from api.services.window.listings import WindowBand, WindowListing

_AVAILABILITY = {
    "made_to_order": "https://schema.org/MadeToOrder",
    "in_stock": "https://schema.org/InStock",
}
_ONE_PIECE = "C62"


def product(listing: WindowListing, valid_until: datetime) -> dict[str, Any]:
    """The product of a listing, with an offer for each band of sizes [1].

    Args:
        listing: what is shown.
        valid_until: until when its prices are good.
    """
    until = valid_until.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    return {
        "@context": "https://schema.org",
        "@type": "Product",
        "sku": listing.sku,
        "name": listing.title,
        "offers": [_offer(listing, band, until) for band in listing.bands],
    }


def _offer(listing: WindowListing, band: WindowBand, until: str) -> dict[str, Any]:
    price = exact(band.price)
    return {
        "@type": "Offer",
        "name": band.sizes,
        "price": price,
        "priceCurrency": listing.currency,
        "priceValidUntil": until,
        "availability": _AVAILABILITY[listing.availability],
        "priceSpecification": {
            "@type": "UnitPriceSpecification",
            "price": price,
            "priceCurrency": listing.currency,
            "validThrough": until,
            "valueAddedTaxIncluded": listing.tax_included,
            "unitCode": _ONE_PIECE,
        },
    }
