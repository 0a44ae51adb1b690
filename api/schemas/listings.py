"""What listings are asked for with: one of them, some of them, or a file of them."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from api.schemas.csv_files import ExportQuery, HeadingsText
from api.schemas.document import Document
from api.schemas.fields import (
    Bounds,
    Choice,
    DecimalText,
    KeyText,
    ListOf,
    MoneyText,
    Part,
    PatternText,
    QueryInteger,
    StrictBoolean,
    Text,
    Truth,
)
from api.schemas.telling import told
from pricing import money
from pricing.band_size import LARGEST_US

KINDS = ("made_to_order", "ready_made")
COLUMNS = (
    "sku",
    "title",
    "kind",
    "coin",
    "channel",
    "policy",
    "extras",
    "locked",
    "published",
    "from",
    "to",
    "price",
    "actual_cost",
)
MOST_LISTINGS = 100
MOST_BANDS = 40
MOST_EXTRAS = 20
MOST_TITLE = 200
LARGEST_PRICE = 10**9
CURSOR = "Where the page begins: only ever taken from a Link header, with the same \
filters."
_PRICE = Bounds(above=0, below=LARGEST_PRICE)


class SkuText(PatternText):
    """What a listing is called."""

    pattern = "^[A-Za-z0-9._-]{1,64}$"
    form = "a sku: 1 to 64 letters, digits, points, hyphens and underscores"


class SizeText(DecimalText):
    """The end of a band [US number], a whole quarter."""

    places = 2

    def _serialize(self, value: Any, *_: Any, **__: Any) -> str | None:
        return None if value is None else money.trimmed(value)


def size(about: str, **settings: Any) -> SizeText:
    """A field for a size of a band."""
    bounds = Bounds(least=Decimal(0), most=LARGEST_US)
    return told(SizeText, about, bounds=bounds, **settings)


BandBody = Document.from_dict(
    {
        "from": size("Smallest size [US number], a whole quarter.", required=True),
        "to": size("Largest size, itself included [US number].", required=True),
        "price": told(
            MoneyText,
            "Price of one piece of any of them [currency]. Left out, it stays where "
            "all that it follows from does, and else is worked out at the spot in "
            "force, for the dearest of the sizes.",
            bounds=_PRICE,
            load_default=None,
        ),
    },
    name="BandBody",
)
"""A band; one of its members is a word of the language."""


class ListingChangeBody(Document):
    """Something in the shop."""

    sku = told(SkuText, "Its name; may be left out where the address says it.")
    title = told(Text, "What a buyer reads.", least=1, most=MOST_TITLE, required=True)
    kind = told(
        Choice, "Made when it is ordered, or lying ready.", KINDS, required=True
    )
    coin = told(KeyText, "Key of the coin it is made of.", required=True)
    channel = told(KeyText, "Where it is sold.", required=True)
    policy = told(KeyText, "How cost becomes price.", required=True)
    extras = told(
        ListOf,
        "Extras of each piece.",
        KeyText(),
        most=MOST_EXTRAS,
        load_default=list,
    )
    locked = told(
        StrictBoolean, "Whether repricings leave it alone.", load_default=False
    )
    published = told(StrictBoolean, "Whether the shop may show it.", load_default=False)
    actual_cost = told(
        MoneyText,
        "What a ready-made piece has really cost [currency], where that is known.",
        bounds=Bounds(least=0, below=LARGEST_PRICE),
        allow_none=True,
        load_default=None,
    )
    bands = told(
        ListOf,
        "Sizes that share a price; no two of them overlap.",
        Part(BandBody),
        least=1,
        most=MOST_BANDS,
        required=True,
    )


class ListingBody(ListingChangeBody):
    """Something new for the shop."""

    sku = told(SkuText, "Its name in addresses.", required=True)


class ListingPath(Document):
    """Which listing."""

    sku = told(SkuText, "The sku of a listing.", required=True)


class ListingsQuery(Document):
    """Which listings, and which page of them."""

    kind = told(Choice, "Only such.", KINDS)
    text = told(Text, "Found in the sku or the title, in any case.", most=100)
    published = told(Truth, "Only such, or only others; not for a shop key.")
    locked = told(Truth, "Only such, or only others; not for a shop key.")
    coin = told(KeyText, "Only of this coin; not for a shop key.")
    channel = told(KeyText, "Only sold there; not for a shop key.")
    policy = told(KeyText, "Only priced so; not for a shop key.")
    limit = told(
        QueryInteger,
        "At most so many listings.",
        least=1,
        most=MOST_LISTINGS,
        load_default=50,
    )
    cursor = told(Text, CURSOR, least=1, most=400)


class HistoryQuery(Document):
    """Which part of a history."""

    limit = told(
        QueryInteger,
        "At most so many moments at which something changed.",
        least=1,
        most=MOST_LISTINGS,
        load_default=50,
    )
    cursor = told(Text, CURSOR, least=1, most=400)


class ImportQuery(ExportQuery):
    """How a file is written, and what is to be done with it."""

    columns = told(
        HeadingsText,
        "Which of our columns have other headings in the file, as "
        "title=Name,price=Preis.",
        f"({'|'.join(COLUMNS)})",
        f"title=Name,price=Preis; ours are {', '.join(COLUMNS)}, and",
        most=2000,
        load_default=dict,
    )
    dry_run = told(Truth, "Only say what would change; else it is carried out.")
