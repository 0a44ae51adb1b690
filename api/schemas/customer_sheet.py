"""The customer's sheet on the wire: what the buyer is told, and nothing of costs.

Every member is spelled out, so that nothing new in a quote can slip in.
"""

from __future__ import annotations

from api.schemas.as_written import DayText
from api.schemas.document import Answer
from api.schemas.fields import (
    Choice,
    CurrencyText,
    DecimalText,
    ListOf,
    Part,
    StrictBoolean,
    StrictInteger,
    Text,
    UtcTime,
)
from api.schemas.quote_documents import NumberText
from api.schemas.quotes import MOST_LINES, MOST_NOTE, STATUS, STATUSES
from api.schemas.telling import told
from pricing.wish import MOST_PIECES

_LONG = 2000


class SheetPieceDocument(Answer):
    """One kind of ring."""

    coin = told(Text, "The coin, as a person calls it.", most=_LONG)
    size = told(Text, "Finger size as asked for, such as US 10.", most=40)
    quantity = told(StrictInteger, "How many.", least=1, most=MOST_PIECES)
    unit = told(DecimalText, "Price of one, as displayed [currency].")
    total = told(DecimalText, "Price of all of them [currency].")
    extras = told(ListOf, "Extras of each piece.", Text(most=_LONG), most=20)
    own_coin = told(StrictBoolean, "Whether the customer brings the coin.")
    own_coin_text = told(
        Text, "What a customer who brings it has to know; else empty.", most=_LONG
    )


class SheetCautionDocument(Answer):
    """One thing a buyer should know."""

    code = told(Text, "Short stable name.", most=60)
    text = told(Text, "What to know.", most=_LONG)


class SheetSpotDocument(Answer):
    """The silver price the quote stands on."""

    price = told(DecimalText, "For one troy ounce [currency/ozt].")
    as_of = told(UtcTime, "When it was the price; null: unknown.", allow_none=True)


class SheetRenewedDocument(Answer):
    """The quote it takes the place of."""

    number = told(NumberText, "What people call it.")
    total = told(DecimalText, "All that the buyer would have paid [currency].")


class CustomerSheetDocument(Answer):
    """A quote as its customer sees it."""

    number = told(NumberText, "What people call it.")
    workshop = told(Text, "Who makes it.", most=_LONG)
    status = told(Choice, f"By the clock; {STATUS}", STATUSES)
    created_at = told(UtcTime, "When it was made.")
    valid_until = told(UtcTime, "From when on it can no longer be accepted.")
    decided_at = told(UtcTime, "When it was decided; null: not yet.", allow_none=True)
    timezone = told(Text, "The workshop's (IANA), to show times in.", most=80)
    currency = told(CurrencyText, "Every amount is in it (ISO 4217).")
    pieces = told(ListOf, "The rings.", Part(SheetPieceDocument), most=MOST_LINES)
    goods = told(DecimalText, "All rings, as displayed [currency].")
    shipping = told(DecimalText, "Shipping, as displayed [currency].")
    tax = told(DecimalText, "Tax in or on top of both [currency].")
    tax_rate = told(DecimalText, "Its rate [fraction].")
    tax_inclusive = told(StrictBoolean, "Whether goods and shipping hold it already.")
    total = told(DecimalText, "All there is to pay [currency].")
    deposit = told(
        DecimalText, "Due when it is accepted; null: nothing.", allow_none=True
    )
    balance = told(DecimalText, "What remains after the deposit [currency].")
    make_by = told(
        DayText, "The day it can be ready by; null: not said.", allow_none=True
    )
    customer_note = told(
        Text, "From the maker to the customer.", most=MOST_NOTE, lines=True
    )
    cautions = told(
        ListOf, "What a buyer should know.", Part(SheetCautionDocument), most=200
    )
    spot = told(
        Part,
        "The spot price, where the maker shows it; else null.",
        SheetSpotDocument,
        allow_none=True,
    )
    renews = told(
        Part,
        "The quote it takes the place of, or null.",
        SheetRenewedDocument,
        allow_none=True,
    )
    renewed_by = told(
        NumberText, "Number of the quote that took its place.", allow_none=True
    )
