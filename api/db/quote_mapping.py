"""Rows of quotes to values and back."""

from __future__ import annotations

import unicodedata

from api.db.mapping import AnyRow, Values
from api.ports import StoredQuote
from pricing.money import tidy


def stored_quote(row: AnyRow) -> StoredQuote:
    """A quote; its amounts with two decimals or more, whatever the currency has."""
    return StoredQuote(
        seq=row.seq,
        id=row.id,
        number=row.number,
        status=row.status,
        version=row.version,
        created_at=row.created_at,
        created_by=row.created_by,
        valid_until=row.valid_until,
        decided_at=row.decided_at,
        decided_by=row.decided_by,
        reason=row.reason,
        currency=row.currency,
        total=tidy(row.total),
        tax=tidy(row.tax),
        deposit=None if row.deposit is None else tidy(row.deposit),
        book_version=row.book_version,
        bench_hours=tidy(row.bench_hours),
        make_by=row.make_by,
        renews=row.renews,
        sheet_token=row.sheet_token,
        customer_note=row.customer_note,
        document=row.document,
    )


def quote_values(quote: StoredQuote) -> Values:
    """The columns of a quote; the database gives its place in the order."""
    return {
        "id": quote.id,
        "number": quote.number,
        "status": quote.status,
        "version": quote.version,
        "created_at": quote.created_at,
        "created_by": quote.created_by,
        "valid_until": quote.valid_until,
        "decided_at": quote.decided_at,
        "decided_by": quote.decided_by,
        "reason": quote.reason,
        "currency": quote.currency,
        "total": quote.total,
        "tax": quote.tax,
        "deposit": quote.deposit,
        "book_version": quote.book_version,
        "bench_hours": quote.bench_hours,
        "make_by": quote.make_by,
        "renews": quote.renews,
        "sheet_token": quote.sheet_token,
        "customer_note": quote.customer_note,
        "document": quote.document,
        "search": folded(f"{quote.number}\n{quote.customer_note}"),
    }


def folded(text: str) -> str:
    """``text`` without case, for searching.

    It is done here since neither database does it for every alphabet.
    """
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", text).casefold())
