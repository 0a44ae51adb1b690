"""A quote as it is written on the wire: every figure from what it keeps."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from api.ports import QuoteStatus, StoredQuote
from api.services.quotes.formats import Kept, kept

FIGURES = (
    *("goods", "shipping", "tax", "total", "deposit", "net", "fees", "cost"),
    *("margin", "margin_rate", "bench_hours", "coins_to_start"),
)
"""Members that are what the order came to, as it was written down."""


def quote_document(
    quote: StoredQuote,
    document: Kept,
    *,
    status: QuoteStatus,
    renewed_by: StoredQuote | None,
) -> dict[str, Any]:
    """The whole document: exact figures and times as text, members as promised.

    Args:
        quote: as stored.
        document: what it keeps.
        status: by the clock.
        renewed_by: the quote that took its place, or None.
    """
    return {
        **quote_summary(quote, document, status=status, renewed_by=renewed_by),
        "lines": document["lines"],
        "coins": document["coins"],
    }


def quote_summary(
    quote: StoredQuote,
    document: Kept,
    *,
    status: QuoteStatus,
    renewed_by: StoredQuote | None,
) -> dict[str, Any]:
    """The document as it stands in a list: without its lines and coins."""
    order = document["order"]
    return {
        **_standing(quote, status),
        "currency": quote.currency,
        "book_version": quote.book_version,
        "rules_version": document["rules_version"],
        **{name: order[name] for name in FIGURES},
        "make_by": None if quote.make_by is None else quote.make_by.isoformat(),
        "customer_note": quote.customer_note,
        "show_spot": document["show_spot"],
        "sheet": f"/quotes/{quote.sheet_token}",
        "renews": document["renews"],
        "renewed_by": None if renewed_by is None else named(renewed_by),
    }


def _standing(quote: StoredQuote, status: QuoteStatus) -> dict[str, Any]:
    """Its names, and what has become of it."""
    return {
        "id": quote.id,
        "number": quote.number,
        "status": status,
        "version": quote.version,
        "created_at": instant(quote.created_at),
        "created_by": quote.created_by,
        "valid_until": instant(quote.valid_until),
        "decided_at": None if quote.decided_at is None else instant(quote.decided_at),
        "decided_by": quote.decided_by,
        "reason": quote.reason,
    }


def named(quote: StoredQuote) -> dict[str, str]:
    """What another quote says of this one: its name, and what it came to."""
    return {
        "id": quote.id,
        "number": quote.number,
        # As it was written: the database has decimals that a currency may not.
        "total": kept(quote)["order"]["total"],
        "created_at": instant(quote.created_at),
    }


def instant(at: datetime) -> str:
    """A moment in UTC, to the millisecond.

    >>> instant(datetime(2026, 12, 1, 12, tzinfo=UTC))
    '2026-12-01T12:00:00.000Z'
    """
    text = at.astimezone(UTC).isoformat(timespec="milliseconds")
    return text.removesuffix("+00:00") + "Z"


def exact(value: Decimal) -> str:
    """An exact figure in digits, with the decimals it has.

    >>> exact(Decimal("0.00")), exact(Decimal("1E+3"))
    ('0.00', '1000')
    """
    return format(value or abs(value), "f")
