"""Spot prices on the wire: entered, in force, and as they were."""

from __future__ import annotations

from api.schemas.document import Answer, Document
from api.schemas.fields import (
    POSITIVE,
    Choice,
    CurrencyText,
    DecimalText,
    ListOf,
    Part,
    QueryInteger,
    StrictInteger,
    Text,
    UtcTime,
)

METALS = ("XAG",)
MOST_ENTRIES = 100
MOST_ID = 2**63 - 1


class EntryPrice(DecimalText):
    """A price of one troy ounce [currency/ozt]."""

    places = 6


class SpotPriceBody(Document):
    """A spot price entered by hand."""

    metal = Choice(METALS, load_default="XAG")
    price = EntryPrice(bounds=POSITIVE, required=True)
    currency = CurrencyText(
        load_default=None,
        metadata={"description": "ISO 4217; left out, the price book's."},
    )
    note = Text(most=200, load_default="")
    expires_at = UtcTime(
        load_default=None,
        allow_none=True,
        metadata={"description": "When it stops counting; null or left out: never."},
    )


class SpotPriceQuery(Document):
    """Which part of the history."""

    metal = Choice(METALS, load_default="XAG")
    limit = QueryInteger(least=1, most=MOST_ENTRIES, load_default=50)
    before = QueryInteger(
        least=1,
        most=MOST_ID,
        load_default=None,
        metadata={"description": "Only entries older than the one of this id."},
    )


class MetalQuery(Document):
    """Which metal."""

    metal = Choice(METALS, load_default="XAG")


class SpotPriceDocument(Answer):
    """One recorded spot price."""

    id = StrictInteger(least=1, most=MOST_ID)
    metal = Choice(METALS)
    price = EntryPrice()
    currency = CurrencyText()
    as_of = UtcTime()
    source = Text(most=80)
    note = Text(most=200)
    expires_at = UtcTime(allow_none=True)


class CurrentSpotDocument(Answer):
    """The spot price that estimates stand on now."""

    metal = Choice(METALS)
    price = EntryPrice()
    currency = CurrencyText()
    as_of = UtcTime()
    source = Text(most=80)
    age_hours = DecimalText()


class SpotHistoryDocument(Answer):
    """Recorded spot prices, newest first."""

    spot_prices = ListOf(Part(SpotPriceDocument), most=MOST_ENTRIES)
