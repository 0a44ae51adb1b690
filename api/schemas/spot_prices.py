"""Spot prices on the wire: entered, fetched, in force, and as they were."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from api.schemas.document import Answer, Document
from api.schemas.fields import (
    POSITIVE,
    Choice,
    CurrencyText,
    DecimalText,
    KeyText,
    ListOf,
    Part,
    PatternText,
    QueryInteger,
    StrictBoolean,
    StrictInteger,
    Text,
    UtcTime,
)
from api.schemas.findings import MOST_FINDINGS, FindingDocument
from api.schemas.telling import told
from pricing.money import arithmetic, tidy

STATUSES = ("accepted", "held", "rejected")
OUTCOMES = ("accepted", "held", "refused", "ignored", "failed")
STALENESS = ("fresh", "old", "stale")
MOST_ENTRIES = 100
MOST_ID = 2**63 - 1
_MOST_RESULTS = 10_000
_MOST_MS = 2**31 - 1
_METAL = "XAG for one troy ounce of silver; or the code of a currency (ISO 4217), \
one unit of which is priced: an exchange rate."
_PRICE = "Price of one troy ounce, or of one unit of the currency [currency/unit]."
_CURRENCY = "Currency of the price (ISO 4217)."
_SOURCE = "manual, or the key of the feed it came from."
_STATUS = "held: waits for a person; only accepted ones count."
_BY = "Who it came from: the id of a key, or a name."


class MetalText(PatternText):
    """What is priced: silver, or a currency; which ones is checked later."""

    pattern = "^[A-Z]{3}$"
    form = "XAG, or the code of a currency in three capital letters"


class EntryPrice(DecimalText):
    """A price of one troy ounce or of one unit of a currency [currency/unit]."""

    places = 9


class ReadPrice(DecimalText):
    """A price as a feed gave it, however absurd [currency/unit]."""

    def __init__(self, **settings: Any) -> None:
        super().__init__(**settings)
        self.pattern = r"^(0|[1-9][0-9]{0,33})(\.[0-9]{1,9})?$"

    def _serialize(self, value: Decimal | None, *_: Any, **__: Any) -> str | None:
        if value is None:
            return None
        with arithmetic():  # it may have more digits than usual
            return super()._serialize(tidy(value))


class SpotPriceBody(Document):
    """A spot price, or a rate of exchange, entered by hand."""

    metal = told(MetalText, _METAL, load_default="XAG")
    price = told(EntryPrice, _PRICE, bounds=POSITIVE, required=True)
    currency = told(
        CurrencyText, "ISO 4217; left out, the price book's.", load_default=None
    )
    note = told(Text, "Where it comes from, in a line.", most=200, load_default="")
    expires_at = told(
        UtcTime,
        "From when on it does not count; until then it goes before whatever is "
        "fetched. Left out: it counts until a newer price is fetched or entered.",
        load_default=None,
    )


class SpotPriceQuery(Document):
    """Which part of the history."""

    metal = told(MetalText, _METAL, load_default="XAG")
    status = told(
        Choice, f"Only these; {_STATUS} Left out: all.", STATUSES, load_default=None
    )
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
    """What is priced."""

    metal = told(MetalText, _METAL, load_default="XAG")


class EntryPath(Document):
    """Which entry."""

    entry_id = told(
        QueryInteger, "The id of an entry.", least=1, most=MOST_ID, required=True
    )


class FetchBody(Document):
    """Which feed to ask."""

    feed = told(
        KeyText,
        "Its key; null or left out: every feed that is switched on.",
        load_default=None,
        allow_none=True,
    )


class SpotPriceDocument(Answer):
    """One recorded spot price."""

    id = told(StrictInteger, "Rises with every entry.", least=1, most=MOST_ID)
    metal = told(MetalText, _METAL)
    price = told(EntryPrice, _PRICE)
    currency = told(CurrencyText, _CURRENCY)
    as_of = told(UtcTime, "When it was the price; a feed says it, by hand it is now.")
    source = told(Text, _SOURCE, most=80)
    status = told(Choice, _STATUS, STATUSES)
    reasons = told(
        ListOf,
        "What was noticed about it as it came.",
        Part(FindingDocument),
        most=MOST_FINDINGS,
    )
    note = told(Text, "What was noted with it.", most=200)
    expires_at = told(UtcTime, "From when on it does not count.", allow_none=True)
    recorded_at = told(UtcTime, "When it was written down.")
    by = told(Text, _BY, most=200)
    decided_at = told(
        UtcTime, "When a held one was accepted or rejected.", allow_none=True
    )
    decided_by = told(Text, "Who decided; empty: nobody had to.", most=200)

    def arranged(self, obj: Any) -> Any:
        """The entry; one that says nothing else was recorded when it was right."""
        names = (name for name in self.dump_fields if name != "recorded_at")
        return {name: getattr(obj, name) for name in names} | {
            "recorded_at": obj.recorded_at or obj.as_of
        }


class CurrentSpotDocument(Answer):
    """The price that estimates stand on now, and whether they still may."""

    metal = told(MetalText, _METAL, attribute="spot.metal")
    price = told(EntryPrice, _PRICE, attribute="spot.price")
    currency = told(CurrencyText, _CURRENCY, attribute="spot.currency")
    as_of = told(UtcTime, "When it was the price.", attribute="spot.as_of")
    source = told(Text, _SOURCE, most=80, attribute="spot.source")
    expires_at = told(UtcTime, "From when on it does not count.", allow_none=True)
    age_hours = told(DecimalText, "How old it is [h].", attribute="spot.age_hours")
    open_hours = told(
        DecimalText,
        "The same without weekends and other closed days [h]; null where it says "
        "itself until when it counts.",
        allow_none=True,
    )
    staleness = told(
        Choice,
        "By the first policy of the price book. old: estimates warn of it; stale: "
        "they are refused.",
        STALENESS,
    )
    said = told(ListOf, "What is old about it.", Text(most=1000), most=2)
    waiting = told(
        StrictInteger, "Held prices that wait for a person.", least=0, most=1000
    )


class SpotHistoryDocument(Answer):
    """Recorded spot prices, newest first."""

    spot_prices = told(
        ListOf, "At most as many as asked for.", Part(SpotPriceDocument), most=100
    )


class FetchResultDocument(Answer):
    """What one price of one feed became."""

    feed = told(KeyText, "Key of the feed.")
    outcome = told(
        Choice,
        "accepted: it counts; held: it waits for a person; ignored: nothing new; "
        "refused: it cannot be right; failed: there was nothing to read.",
        OUTCOMES,
    )
    findings = told(
        ListOf,
        "Why, in plain words.",
        Part(FindingDocument),
        most=MOST_FINDINGS,
    )
    entry_id = told(
        StrictInteger,
        "Id of the recorded entry; null: none was.",
        least=1,
        most=MOST_ID,
        allow_none=True,
    )
    price = told(
        ReadPrice, "What the feed said, for one unit; null: nothing.", allow_none=True
    )
    currency = told(Text, "Currency of it (ISO 4217); empty: none.", most=3)
    as_of = told(UtcTime, "The feed's own time; null: none.", allow_none=True)
    from_cache = told(
        StrictBoolean, "Whether the feed was asked a short while ago, and not again."
    )
    duration_ms = told(StrictInteger, "Time it took [ms].", least=0, most=_MOST_MS)


class FetchDocument(Answer):
    """What came of asking feeds."""

    results = told(
        ListOf,
        "One a price; a feed of exchange rates has many.",
        Part(FetchResultDocument),
        most=_MOST_RESULTS,
    )
