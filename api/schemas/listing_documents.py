"""Listings on the wire: whole for the bench, and what a shop may know."""

from __future__ import annotations

from api.schemas.document import Answer
from api.schemas.estimate_parts import MOST_COUNT
from api.schemas.fields import (
    Choice,
    CurrencyText,
    DecimalText,
    KeyText,
    ListOf,
    Part,
    StrictBoolean,
    StrictInteger,
    Text,
    UtcTime,
)
from api.schemas.listings import (
    KINDS,
    MOST_BANDS,
    MOST_EXTRAS,
    MOST_LISTINGS,
    MOST_TITLE,
    SkuText,
    size,
)
from api.schemas.telling import told

WHYS = ("created", "edited", "imported", "removed", "applied", "undone")
CHANGES = ("added", "changed")
MOST_ROWS = 5000
_MOST_MOVES = 10_000

BandDocument = Answer.from_dict(
    {
        "from": size("Smallest size [US number]."),
        "to": size("Largest size, itself included [US number]."),
        "price": told(DecimalText, "Price of one piece [currency]."),
    },
    name="BandDocument",
)
"""A band with its price in force."""


class ListingDocument(Answer):
    """Something in the shop, for the bench."""

    sku = told(SkuText, "Its name in addresses.")
    title = told(Text, "What a buyer reads.", most=MOST_TITLE)
    kind = told(Choice, "Made when it is ordered, or lying ready.", KINDS)
    coin = told(KeyText, "Key of the coin it is made of.")
    channel = told(KeyText, "Where it is sold.")
    policy = told(KeyText, "How cost becomes price.")
    extras = told(ListOf, "Extras of each piece.", KeyText(), most=MOST_EXTRAS)
    locked = told(StrictBoolean, "Whether repricings leave it alone.")
    published = told(StrictBoolean, "Whether the shop may show it.")
    actual_cost = told(
        DecimalText, "What it has really cost [currency], or null.", allow_none=True
    )
    currency = told(CurrencyText, "Every amount is in it (ISO 4217).")
    bands = told(ListOf, "By size.", Part(BandDocument), most=MOST_BANDS)
    created_at = told(UtcTime, "When it was made.")
    changed_at = told(UtcTime, "When it was last edited.")
    changed_by = told(Text, "By whom: the id of a key, or a name.", most=200)


class ListingPageDocument(Answer):
    """Listings, newest first."""

    listings = told(
        ListOf,
        "At most as many as asked for.",
        Part(ListingDocument),
        most=MOST_LISTINGS,
    )


class PublicListingDocument(Answer):
    """Something in the shop, as the shop may know it.

    Every member is spelled out, so that nothing new in a listing can slip in.
    """

    sku = told(SkuText, "Its name in addresses.")
    title = told(Text, "What a buyer reads.", most=MOST_TITLE)
    kind = told(Choice, "Made when it is ordered, or lying ready.", KINDS)
    currency = told(CurrencyText, "Every amount is in it (ISO 4217).")
    bands = told(ListOf, "By size.", Part(BandDocument), most=MOST_BANDS)


class PublicListingPageDocument(Answer):
    """Published listings, newest first."""

    listings = told(
        ListOf,
        "At most as many as asked for.",
        Part(PublicListingDocument),
        most=MOST_LISTINGS,
    )


PriceMoveDocument = Answer.from_dict(
    {
        "at": told(UtcTime, "When."),
        "by": told(Text, "By whom: the id of a key, or a name.", most=200),
        "why": told(Choice, "By an edit, or by a repricing that was.", WHYS),
        "from": size("Smallest size of the band [US number]."),
        "to": size("Largest size of the band [US number]."),
        "old": told(
            DecimalText, "Before [currency]; null: no such band.", allow_none=True
        ),
        "new": told(
            DecimalText, "After [currency]; null: no such band.", allow_none=True
        ),
        "run": told(
            Text, "Id of the repricing, null for an edit.", most=64, allow_none=True
        ),
        "spot_price": told(
            DecimalText, "The run's spot [currency/ozt], or null.", allow_none=True
        ),
        "book_version": told(
            StrictInteger,
            "The run's price book, or null.",
            least=0,
            most=MOST_COUNT,
            allow_none=True,
        ),
    },
    name="PriceMoveDocument",
)
"""One change of a price."""


class HistoryDocument(Answer):
    """How prices changed, newest first."""

    sku = told(SkuText, "Whose prices.")
    currency = told(CurrencyText, "Every amount is in it (ISO 4217).")
    moves = told(
        ListOf,
        "All that changed at once stands together, by size.",
        Part(PriceMoveDocument),
        most=_MOST_MOVES,
    )


class BandCountsDocument(Answer):
    """How many bands change."""

    added = told(StrictInteger, "New ones.", least=0, most=MOST_COUNT)
    changed = told(StrictInteger, "With another price.", least=0, most=MOST_COUNT)
    removed = told(
        StrictInteger, "In whose place others come.", least=0, most=MOST_COUNT
    )


BandChangeDocument = Answer.from_dict(
    {
        "from": size("Smallest size [US number]."),
        "to": size("Largest size [US number]."),
        "old": told(DecimalText, "Before; null: it is new.", allow_none=True),
        "new": told(DecimalText, "After; null: it goes.", allow_none=True),
    },
    name="BandChangeDocument",
)
"""What becomes of a band."""


class ListingChangeDocument(Answer):
    """What becomes of a listing."""

    sku = told(SkuText, "Its name in addresses.")
    row = told(StrictInteger, "First of its rows.", least=1, most=MOST_COUNT)
    change = told(Choice, "What becomes of it.", CHANGES)
    members = told(ListOf, "What changes beside bands.", Text(most=40), most=MOST_BANDS)
    bands = told(
        ListOf,
        "Bands that change.",
        Part(BandChangeDocument),
        most=2 * MOST_BANDS,
    )


class ImportDocument(Answer):
    """What an import has changed, or would change."""

    dry_run = told(StrictBoolean, "Whether nothing was written.")
    rows = told(StrictInteger, "Rows read.", least=0, most=MOST_COUNT)
    added = told(StrictInteger, "Listings added.", least=0, most=MOST_COUNT)
    changed = told(StrictInteger, "Listings changed.", least=0, most=MOST_COUNT)
    unchanged = told(StrictInteger, "Listings as before.", least=0, most=MOST_COUNT)
    bands = told(Part, "Bands of them all.", BandCountsDocument)
    changes = told(
        ListOf,
        "Every listing that is added or changed.",
        Part(ListingChangeDocument),
        most=MOST_ROWS,
    )
    ignored = told(
        ListOf,
        "Headings in the file that mean nothing here.",
        Text(most=2000),
        most=1000,
    )
