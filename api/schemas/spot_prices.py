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
from api.schemas.telling import told

METALS = ("XAG",)
MOST_ENTRIES = 100
MOST_ID = 2**63 - 1
_METAL = "Code of the metal (ISO 4217); XAG is one troy ounce of silver."
_PRICE = "Price of one troy ounce [currency/ozt]."


class EntryPrice(DecimalText):
    """A price of one troy ounce [currency/ozt]."""

    places = 6


class SpotPriceBody(Document):
    """A spot price entered by hand."""

    metal = told(Choice, _METAL, METALS, load_default="XAG")
    price = told(EntryPrice, _PRICE, bounds=POSITIVE, required=True)
    currency = told(
        CurrencyText, "ISO 4217; left out, the price book's.", load_default=None
    )
    note = told(Text, "Where it comes from, in a line.", most=200, load_default="")
    expires_at = told(
        UtcTime, "From when on it does not count; left out: never.", load_default=None
    )


class SpotPriceQuery(Document):
    """Which part of the history."""

    metal = told(Choice, _METAL, METALS, load_default="XAG")
    limit = told(
        QueryInteger,
        "At most so many entries.",
        least=1,
        most=MOST_ENTRIES,
        load_default=50,
    )
    before = told(
        QueryInteger,
        "Only entries older than the one of this id.",
        least=1,
        most=MOST_ID,
        load_default=None,
    )


class MetalQuery(Document):
    """Which metal."""

    metal = told(Choice, _METAL, METALS, load_default="XAG")


class SpotPriceDocument(Answer):
    """One recorded spot price."""

    id = told(StrictInteger, "Rises with every entry.", least=1, most=MOST_ID)
    metal = told(Choice, _METAL, METALS)
    price = told(EntryPrice, _PRICE)
    currency = told(CurrencyText, "Currency of the price (ISO 4217).")
    as_of = told(UtcTime, "When it was entered.")
    source = told(Text, "How it came here: manual.", most=80)
    note = told(Text, "What was noted with it.", most=200)
    expires_at = told(UtcTime, "From when on it does not count.", allow_none=True)


class CurrentSpotDocument(Answer):
    """The spot price that estimates stand on now."""

    metal = told(Choice, _METAL, METALS)
    price = told(EntryPrice, _PRICE)
    currency = told(CurrencyText, "Currency of the price (ISO 4217).")
    as_of = told(UtcTime, "When it was entered.")
    source = told(Text, "How it came here: manual.", most=80)
    age_hours = told(DecimalText, "How old it is [h].")


class SpotHistoryDocument(Answer):
    """Recorded spot prices, newest first."""

    spot_prices = told(
        ListOf, "At most as many as asked for.", Part(SpotPriceDocument), most=100
    )
