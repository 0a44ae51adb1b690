"""The tables of quotes.

Triggers made by the migrations refuse to change what a quote promises and to remove
one. A migration that makes a table anew, as SQLite needs for most changes, has to
make its triggers anew too.
"""

from __future__ import annotations

from sqlalchemy import (
    CheckConstraint,
    Column,
    Date,
    ForeignKey,
    Index,
    Integer,
    Table,
    Text,
)

from api.db.metadata import metadata
from api.db.types import Identity64, ScaledDecimal, UtcDateTime

MONEY_SCALE = 4
"""Decimal places of a stored amount: no currency has a smaller minor unit."""
HOURS_SCALE = 6

quotes = Table(
    "quotes",
    metadata,
    Column("seq", Identity64, primary_key=True),
    Column("id", Text, nullable=False, unique=True),
    Column("number", Text, nullable=False, unique=True),
    Column("status", Text, nullable=False),
    Column("version", Integer, nullable=False),
    Column("created_at", UtcDateTime, nullable=False),
    Column("created_by", Text, nullable=False),
    Column("valid_until", UtcDateTime, nullable=False),
    Column("decided_at", UtcDateTime),
    Column("decided_by", Text, nullable=False),
    Column("reason", Text, nullable=False),
    Column("currency", Text, nullable=False),
    Column("total", ScaledDecimal(MONEY_SCALE), nullable=False),
    Column("tax", ScaledDecimal(MONEY_SCALE), nullable=False),
    Column("deposit", ScaledDecimal(MONEY_SCALE)),
    Column(
        "book_version",
        Integer,
        ForeignKey("price_book_versions.version"),
        nullable=False,
    ),
    Column("bench_hours", ScaledDecimal(HOURS_SCALE), nullable=False),
    Column("make_by", Date),
    # Unique: a quote is renewed once.
    Column("renews", Text, ForeignKey("quotes.id"), unique=True),
    Column("sheet_token", Text, nullable=False, unique=True),
    Column("customer_note", Text, nullable=False),
    Column("document", Text, nullable=False),
    Column("search", Text, nullable=False),  # number and note, without case
    CheckConstraint(
        "status IN ('open', 'accepted', 'declined', 'renewed')", name="status_known"
    ),
    CheckConstraint("version >= 1", name="version_counts"),
    CheckConstraint("(status = 'open') = (decided_at IS NULL)", name="decision_dated"),
    Index("ix_quotes_status_seq", "status", "seq"),
    Index("ix_quotes_created_at", "created_at"),
    Index("ix_quotes_make_by", "make_by"),
    sqlite_autoincrement=True,  # a place in the order is never used twice
)

quote_numbers = Table(
    "quote_numbers",
    metadata,
    Column("year", Integer, primary_key=True, autoincrement=False),
    Column("last", Integer, nullable=False),
    CheckConstraint("last >= 1", name="last_counts"),
)
