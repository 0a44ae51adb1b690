"""What a storefront is told: every member spelled out, nothing of how prices come."""

from __future__ import annotations

from functools import cached_property
from typing import Any

from api.schemas.document import Answer, Document, Remembered
from api.schemas.fields import (
    Choice,
    CurrencyText,
    DecimalText,
    ListOf,
    Part,
    QueryInteger,
    StrictBoolean,
    StrictInteger,
    Text,
    UtcTime,
)
from api.schemas.listings import (
    CURSOR,
    MOST_BANDS,
    MOST_LISTINGS,
    MOST_TITLE,
    SkuText,
    size,
)
from api.schemas.ring_sizes import RingSizeQuery
from api.schemas.telling import told
from pricing.ring_size import SYSTEMS

AVAILABILITIES = ("made_to_order", "in_stock")
MOST_PIECES = 100
LONG = 2000
_QUANTITY = "How many pieces."


class KeptAnswer(Answer):
    """An answer whose text lives as long as its value, which comes again."""

    @cached_property
    def _remembered(self) -> Remembered:
        return Remembered()

    def encoded(self, obj: Any) -> bytes:
        """The document of ``obj`` as JSON; written once for each value."""
        return self._remembered.encoded(obj, super().encoded)


class WindowListingsQuery(Document):
    """Which page of what is shown."""

    text = told(Text, "Found in the sku or the title, in any case.", most=100)
    limit = told(
        QueryInteger,
        "At most so many listings.",
        least=1,
        most=MOST_LISTINGS,
        load_default=50,
    )
    cursor = told(Text, CURSOR, least=1, most=400)


class WindowPriceQuery(RingSizeQuery):
    """A ring that is shown, and a finger size in one of the systems."""

    sku = told(SkuText, "The sku of a listing.", required=True)
    quantity = told(QueryInteger, _QUANTITY, least=1, most=MOST_PIECES, load_default=1)


class WindowSizeBody(RingSizeQuery):
    """A finger size in one of the systems."""


class WindowPriceBody(Document):
    """A ring that is shown, in a size."""

    sku = told(SkuText, "The sku of a listing.", required=True)
    size = told(Part, "The finger size, in any system.", WindowSizeBody, required=True)
    quantity = told(StrictInteger, _QUANTITY, least=1, most=MOST_PIECES, load_default=1)


WindowBandDocument = Answer.from_dict(
    {
        "from": size("Smallest size [US number].", attribute="size_from"),
        "to": size("Largest, itself included [US number].", attribute="size_to"),
        "price": told(DecimalText, "Price of one piece [currency]."),
    },
    name="WindowBandDocument",
)
"""Sizes that share a price."""


class WindowCautionDocument(Answer):
    """One thing a buyer should know."""

    code = told(Text, "Short stable name.", most=60)
    text = told(Text, "What to know.", most=LONG)


def _cautions() -> Any:
    about = "What a buyer should know of the ring."
    return told(ListOf, about, Part(WindowCautionDocument), most=40)


def _availability() -> Any:
    about = "Made when it is ordered, or lying ready."
    return told(Choice, about, AVAILABILITIES)


def _tax_included() -> Any:
    about = "Whether prices hold the tax already; else it comes on top."
    return told(StrictBoolean, about)


class WindowListingDocument(KeptAnswer):
    """A published listing, as anybody may see it."""

    sku = told(SkuText, "Its name in addresses.")
    title = told(Text, "What a buyer reads.", most=MOST_TITLE)
    availability = _availability()
    currency = told(CurrencyText, "Every amount is in it (ISO 4217).")
    tax_included = _tax_included()
    bands = told(ListOf, "By size.", Part(WindowBandDocument), most=MOST_BANDS)
    cautions = _cautions()


class WindowListingPageDocument(Answer):
    """Published listings, newest first."""

    listings = told(
        ListOf,
        "At most as many as asked for.",
        Part(WindowListingDocument),
        most=MOST_LISTINGS,
    )


class WindowSizeDocument(Answer):
    """A finger size as it was asked for."""

    system = told(Choice, "The system.", SYSTEMS)
    size = told(Text, "The size as the system writes it.", most=20)


class WindowPriceDocument(KeptAnswer):
    """The price of a ring in a size; amounts without shipping."""

    sku = told(SkuText, "The listing.")
    title = told(Text, "What a buyer reads.", most=MOST_TITLE)
    size = told(Part, "As asked for.", WindowSizeDocument)
    quantity = told(StrictInteger, _QUANTITY, least=1, most=MOST_PIECES)
    unit_price = told(DecimalText, "Price of one piece.")
    total = told(DecimalText, "Price of all pieces.")
    tax = told(DecimalText, "Tax in the total, or on top of it.")
    tax_included = _tax_included()
    currency = told(CurrencyText, "Every amount is in it (ISO 4217).")
    valid_until = told(
        UtcTime, "Until when it may be shown; only a held price is a promise."
    )
    availability = _availability()
    cautions = _cautions()
