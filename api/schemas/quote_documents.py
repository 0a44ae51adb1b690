"""Quotes on the wire, for the bench: every figure as it was promised."""

from __future__ import annotations

from api.schemas.as_written import AsWritten, DayText, Written
from api.schemas.coins import CoinBody
from api.schemas.document import Answer
from api.schemas.estimate_document import EstimateDocument
from api.schemas.estimate_parts import LONG, MOST_COUNT
from api.schemas.fields import (
    Choice,
    CurrencyText,
    DecimalText,
    KeyText,
    ListOf,
    Part,
    PatternText,
    StrictBoolean,
    StrictInteger,
    Text,
    UtcTime,
)
from api.schemas.quotes import (
    MOST_LINES,
    MOST_NOTE,
    MOST_QUOTES,
    STATUS,
    STATUSES,
    QuoteIdText,
)
from api.schemas.telling import told
from pricing.wish import MOST_PIECES

_MOST_ORDERED = MOST_LINES * MOST_PIECES


class NumberText(PatternText):
    """What people call a quote."""

    pattern = "^[0-9]{4}-[0-9]{4,}$"
    form = "the number of a quote, such as 2026-0017"


class NamedQuoteDocument(Answer):
    """Another quote, by its name and what it came to."""

    id = told(QuoteIdText, "Its name in addresses.")
    number = told(NumberText, "What people call it.")
    total = told(DecimalText, "All that the buyer paid or would have [currency].")
    created_at = told(UtcTime, "When it was made.")


class OrderCoinsDocument(Answer):
    """How many coins of a type to put on the bench for the whole order."""

    coin = told(KeyText, "Key of the coin; null if given inline.", allow_none=True)
    coin_name = told(Text, "What a person calls it.", most=LONG)
    pieces = told(StrictInteger, "Good pieces wanted.", least=1, most=_MOST_ORDERED)
    coins = told(
        StrictInteger,
        "Coins to start, so that with the lines' confidence every type suffices.",
        least=1,
        most=MOST_COUNT,
    )


class QuoteSummaryDocument(Written):
    """A quote without its lines."""

    id = told(QuoteIdText, "Its name in addresses.")
    number = told(NumberText, "What people call it.")
    status = told(Choice, f"By the clock; {STATUS}", STATUSES)
    version = told(
        StrictInteger, "Counted up by each decision.", least=1, most=MOST_COUNT
    )
    created_at = told(UtcTime, "When it was made.")
    created_by = told(Text, "By whom: the id of a key, or a name.", most=200)
    valid_until = told(UtcTime, "From when on it can no longer be accepted.")
    decided_at = told(UtcTime, "When it was decided; null: not yet.", allow_none=True)
    decided_by = told(Text, "By whom; empty: not yet.", most=200)
    reason = told(Text, "Why it was declined.", most=200)
    currency = told(CurrencyText, "Every amount is in it (ISO 4217).")
    book_version = told(
        StrictInteger, "Version of the price book used.", least=0, most=MOST_COUNT
    )
    rules_version = told(
        StrictInteger, "Version of the rules of pricing.", least=1, most=MOST_COUNT
    )
    goods = told(DecimalText, "The rings, as displayed [currency].")
    shipping = told(DecimalText, "Charged for shipping, as displayed [currency].")
    tax = told(DecimalText, "In them or on top, as the channel has it [currency].")
    total = told(DecimalText, "All that the buyer pays [currency].")
    deposit = told(
        DecimalText, "Due when it is accepted; null: nothing.", allow_none=True
    )
    net = told(DecimalText, "Goods without tax [currency].")
    fees = told(DecimalText, "What the channel keeps [currency].")
    cost = told(DecimalText, "What the whole order costs to make [currency].")
    margin = told(DecimalText, "What is left [currency].")
    margin_rate = told(
        DecimalText, "The same as a share of net; null for no net.", allow_none=True
    )
    bench_hours = told(DecimalText, "Attended hours it takes [h].")
    make_by = told(
        DayText,
        "The day it can be ready by; null where the book has no weekly hours.",
        allow_none=True,
    )
    coins_to_start = told(
        ListOf, "One a type of coin.", Part(OrderCoinsDocument), most=MOST_LINES
    )
    customer_note = told(Text, "On the customer's sheet.", most=MOST_NOTE, lines=True)
    show_spot = told(StrictBoolean, "Whether the customer's sheet may show the spot.")
    sheet = told(
        Text, "Address of the customer's sheet; nobody can guess it.", most=200
    )
    renews = told(
        Part, "The quote it takes the place of.", NamedQuoteDocument, allow_none=True
    )
    renewed_by = told(
        Part, "The quote that took its place.", NamedQuoteDocument, allow_none=True
    )


class QuoteDocument(QuoteSummaryDocument):
    """A quote with everything it stands on."""

    lines = told(
        ListOf,
        "The estimate of each line, as it was.",
        AsWritten(EstimateDocument()),
        most=MOST_LINES,
    )
    coins = told(
        ListOf, "The coin of each line, as it was.", Part(CoinBody), most=MOST_LINES
    )


class QuotePageDocument(Answer):
    """Quotes, newest first."""

    quotes = told(
        ListOf,
        "At most as many as asked for.",
        Part(QuoteSummaryDocument),
        most=MOST_QUOTES,
    )
