"""What repricings are asked for with, and how they are told."""

from __future__ import annotations

from typing import Any, ClassVar

from marshmallow import post_load

from api.schemas.document import Document, ListOf, Part
from api.schemas.estimates import SpotBody
from api.schemas.exact import Bounds, DecimalText
from api.schemas.fields import (
    Choice,
    PatternText,
    QueryInteger,
    Text,
)
from api.schemas.listings import CURSOR, SkuText, size
from api.schemas.telling import told

STATUSES = ("preview", "applying", "applied", "undone")
STATUS = "preview: nothing of it is in force; applying: still nothing, it was begun; \
applied: all of it is in force; undone: nothing of it is in force any more."
DECISIONS = ("hold", "raise", "lower", "review", "locked", "blocked")
MOST_SKUS = 1000
MOST_NAMED = 1000
MOST_ON_A_PAGE = 100
_SKUS = "Skus of the listings asked for; left out or null, all of them."


class RepricingIdText(PatternText):
    """The id of a repricing."""

    pattern = "^[0-9a-f]{32}$"
    form = "the id of a repricing: 32 digits and letters from a to f"


class PercentText(DecimalText):
    """A change [%]."""

    places = 4


class RepricingPath(Document):
    """Which repricing."""

    repricing_id = told(RepricingIdText, "The id of a repricing.", required=True)


class RepricingBody(Document):
    """Over which listings, at which spot price."""

    spot = told(Part, "Left out, the price in force.", SpotBody, load_default=None)
    skus = told(ListOf, _SKUS, SkuText(), least=1, most=MOST_SKUS, load_default=None)

    @post_load
    def _to_plain(self, data: dict[str, Any], **_: Any) -> dict[str, Any]:
        spot = data.pop("spot")
        return data | {"spot_price": spot["price"] if spot else None}


class WhatIfBody(RepricingBody):
    """At which spot price, or by how much it changes, and for which listings."""

    change_percent = told(
        PercentText,
        "In place of spot: by how many per cent the price in force changes; 5 or -5.",
        bounds=Bounds(above=-100, most=1000),
        load_default=None,
    )


class BandNameBody(Document):
    """A band of a listing, by its smallest size."""

    class Meta(Document.Meta):
        """``from`` is a word of the language, and cannot be written below."""

        include: ClassVar = {
            "from": size(
                "Its smallest size [US number].", required=True, attribute="size_from"
            )
        }

    sku = told(SkuText, "The sku of its listing.", required=True)


class ApplyBody(Document):
    """What is applied beside the bands to be raised or lowered."""

    include = told(
        ListOf,
        "Bands in review that are to have their new price too; no other is changed.",
        Part(BandNameBody),
        most=MOST_NAMED,
        load_default=(),
    )


class RepricingsQuery(Document):
    """Which repricings, and which page of them."""

    status = told(Choice, f"Only these; {STATUS}", STATUSES)
    limit = told(
        QueryInteger,
        "At most so many repricings.",
        least=1,
        most=MOST_ON_A_PAGE,
        load_default=50,
    )
    cursor = told(
        Text,
        CURSOR,
        least=1,
        most=400,
    )


class RepricingBandsQuery(Document):
    """Which bands of a repricing, and which page of them."""

    decision = told(Choice, "Only bands with this decision.", DECISIONS)
    sku = told(SkuText, "Only bands of this listing.")
    limit = told(
        QueryInteger,
        "At most so many bands.",
        least=1,
        most=MOST_ON_A_PAGE,
        load_default=100,
    )
    cursor = told(
        Text,
        CURSOR,
        least=1,
        most=400,
    )


class FloorsQuery(Document):
    """Which page of the board."""

    limit = told(
        QueryInteger,
        "At most so many bands.",
        least=1,
        most=MOST_ON_A_PAGE,
        load_default=100,
    )
    cursor = told(
        Text,
        CURSOR,
        least=1,
        most=400,
    )
