"""What quotes are asked for with: their lines, their terms, and decisions on them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from marshmallow import ValidationError, validates_schema

from api.schemas.document import Document
from api.schemas.estimates import EstimateBody, SpotBody
from api.schemas.fields import (
    Bounds,
    Choice,
    ListOf,
    Part,
    PatternText,
    QueryInteger,
    RateText,
    StrictBoolean,
    StrictInteger,
    Text,
    UtcTime,
)
from api.schemas.telling import told

STATUSES = ("open", "accepted", "declined", "expired", "renewed")
STATUS = "open until it is decided or its time has passed; renewed: another quote \
took its place."
MOST_LINES = 50
MOST_NOTE = 2000
MOST_REASON = 200
LONGEST_HOURS = 8760
MOST_QUOTES = 100
MOST_TOKEN = 4096
_HOURS = "How long it holds [h]; left out, the least that the lines' policies allow."


class QuoteIdText(PatternText):
    """The id of a quote."""

    pattern = "^[A-Za-z0-9_-]{16,64}$"
    form = "the id of a quote: 16 to 64 letters, digits, hyphens and underscores"


class QuotePath(Document):
    """Which quote."""

    quote_id = told(QuoteIdText, "The id of a quote.", required=True)


class QuoteBody(Document):
    """One or more kinds of ring, promised together at one price."""

    lines = told(
        ListOf,
        "What is wanted, each as an estimate is asked for; all in one channel, and at "
        "one spot price: where one line gives it, it holds for all.",
        Part(EstimateBody),
        least=1,
        most=MOST_LINES,
        required=True,
    )
    customer_note = told(
        Text,
        "Plain text on the customer's sheet.",
        most=MOST_NOTE,
        lines=True,
        load_default="",
    )
    deposit_share = told(
        RateText,
        "Share of the total that is due when it is accepted: 0.50 is half; left out, "
        "nothing is.",
        bounds=Bounds(above=0, most=1),
        load_default=None,
    )
    valid_hours = told(
        StrictInteger, _HOURS, least=1, most=LONGEST_HOURS, load_default=None
    )
    show_spot = told(
        StrictBoolean,
        "Whether the customer's sheet shows the spot price, where its source lets it.",
        load_default=False,
    )


class AcceptBody(Document):
    """Nothing, or the token of a held price: a quote is accepted as it is."""

    token = told(
        Text,
        "The price token that the buyer's page handed over. It is refused where it "
        "was changed, or is not of this quote.",
        least=1,
        most=MOST_TOKEN,
        load_default=None,
    )


class DeclineBody(Document):
    """Why a quote is put aside."""

    reason = told(Text, "In a line.", most=MOST_REASON, load_default="")


class RenewBody(Document):
    """What a renewed quote stands on."""

    spot = told(Part, "Left out, the price in force.", SpotBody, load_default=None)
    valid_hours = told(
        StrictInteger, _HOURS, least=1, most=LONGEST_HOURS, load_default=None
    )


class QuotesQuery(Document):
    """Which quotes, and which page of them."""

    status = told(Choice, f"Only these, by the clock; {STATUS}", STATUSES)
    created_from = told(UtcTime, "Made at this time or later (RFC 3339, with offset).")
    created_before = told(UtcTime, "Made before this time (RFC 3339, with offset).")
    text = told(
        Text, "Found in the number or the customer's note, in any case.", most=100
    )
    limit = told(
        QueryInteger,
        "At most so many quotes.",
        least=1,
        most=MOST_QUOTES,
        load_default=50,
    )
    cursor = told(
        Text,
        "Where the page begins: only ever taken from a Link header, with the same "
        "filters.",
        least=1,
        most=400,
    )

    @validates_schema
    def _in_order(self, asked: Mapping[str, Any], **_: Any) -> None:
        """Refuse a time that ends before it begins, which no quote is made in."""
        begins, ends = asked.get("created_from"), asked.get("created_before")
        if begins is not None and ends is not None and begins > ends:
            said = "'created_from' is later than 'created_before'; exchange them"
            raise ValidationError({"created_from": [said], "created_before": [said]})
