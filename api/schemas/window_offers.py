"""A listing as linked data, with the names that schema.org has for its members."""

from __future__ import annotations

from typing import Any, cast

from api.schemas.document import Answer
from api.schemas.fields import (
    Choice,
    CurrencyText,
    ListOf,
    Part,
    StrictBoolean,
    Text,
)
from api.schemas.listings import MOST_BANDS, MOST_TITLE, SkuText
from api.schemas.telling import told

_AVAILABILITIES = ("https://schema.org/MadeToOrder", "https://schema.org/InStock")
_UNTIL = "Until when the price may be shown, in UTC."


class LinkedData(Answer):
    """A document that can stand in a script element of a page as it is."""

    def encoded(self, obj: Any) -> bytes:
        """The document as JSON, without the signs that end a script."""
        text: bytes = super().encoded(obj)
        for sign in (b"<", b">", b"&"):
            text = text.replace(sign, b"\\u%04x" % ord(sign))
        return text


UnitPriceDocument = Answer.from_dict(
    {
        "@type": told(Choice, "What it is.", ("UnitPriceSpecification",)),
        "price": told(Text, "Price of one piece.", most=30),
        "priceCurrency": told(CurrencyText, "Its currency (ISO 4217)."),
        "validThrough": told(Text, _UNTIL, most=30),
        "valueAddedTaxIncluded": told(StrictBoolean, "Whether the tax is in it."),
        "unitCode": told(Choice, "One piece, by UN/CEFACT.", ("C62",)),
    },
    name="UnitPriceDocument",
)
"""The price of one piece."""

OfferDocument = Answer.from_dict(
    {
        "@type": told(Choice, "What it is.", ("Offer",)),
        "name": told(Text, "The sizes it is for.", most=60),
        "price": told(Text, "Price of one piece.", most=30),
        "priceCurrency": told(CurrencyText, "Its currency (ISO 4217)."),
        "priceValidUntil": told(Text, _UNTIL, most=30),
        "availability": told(Choice, "Made to order, or in stock.", _AVAILABILITIES),
        "priceSpecification": told(Part, "The same in full.", UnitPriceDocument),
    },
    name="OfferDocument",
)
"""What sizes are sold for."""

_Product = LinkedData.from_dict(
    {
        "@context": told(Choice, "The vocabulary.", ("https://schema.org",)),
        "@type": told(Choice, "What it is.", ("Product",)),
        "sku": told(SkuText, "Its name in addresses."),
        "name": told(Text, "What a buyer reads.", most=MOST_TITLE),
        "offers": told(ListOf, "By size.", Part(OfferDocument), most=MOST_BANDS),
    },
    name="ProductDocument",
)
ProductDocument = cast("type[LinkedData]", _Product)
"""A ring in the shop, as linked data."""
