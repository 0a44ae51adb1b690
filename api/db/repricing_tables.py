"""The tables of repricings.

`repricing_cases` is written by the thousand and `repricing_bands` by the million. So
they refer to nothing, which would be looked up for every row: a run is written in the
same transaction, and specs stay. SQLite keeps both in their key alone. Both prices
stand in a band's row, and the run that the old one came from, so that applying a run
and taking it back read nothing else.
"""

from __future__ import annotations

from sqlalchemy import (
    Boolean,
    CheckConstraint,
    Column,
    ForeignKey,
    Index,
    Integer,
    Table,
    Text,
    text,
)

from api.db.metadata import metadata
from api.db.quote_tables import MONEY_SCALE
from api.db.types import PRICE_SCALE, Identity64, ScaledDecimal, UtcDateTime

RATE_SCALE = 6
"""Decimal places of a margin."""

_APPLYING = text("status = 'applying'")

repricings = Table(
    "repricings",
    metadata,
    Column("seq", Identity64, primary_key=True),
    Column("id", Text, nullable=False, unique=True),
    Column("status", Text, nullable=False),
    Column("version", Integer, nullable=False),
    Column("created_at", UtcDateTime, nullable=False),
    Column("created_by", Text, nullable=False),
    Column("currency", Text, nullable=False),
    Column("spot", Text, nullable=False),
    Column("spot_price", ScaledDecimal(PRICE_SCALE), nullable=False),
    Column(
        "book_version",
        Integer,
        ForeignKey("price_book_versions.version"),
        nullable=False,
    ),
    Column("skus", Text),
    Column("counts", Text, nullable=False),
    Column("value_change", ScaledDecimal(MONEY_SCALE), nullable=False),
    Column("listings_rev", Integer, nullable=False),
    Column("named", Text, nullable=False),
    Column("reached", Identity64, nullable=False),
    Column("reached_at", UtcDateTime),
    Column("applied_at", UtcDateTime),
    Column("applied_by", Text, nullable=False),
    Column("applied_rev", Integer),
    Column("undone_at", UtcDateTime),
    Column("undone_by", Text, nullable=False),
    Column("undone_rev", Integer),
    # One that is being filled is seen by nobody until it is a preview.
    CheckConstraint(
        "status IN ('filling', 'preview', 'applying', 'applied', 'undone')",
        name="status_known",
    ),
    CheckConstraint("version >= 1", name="version_counts"),
    CheckConstraint(
        "(status IN ('applied', 'undone')) = (applied_at IS NOT NULL)",
        name="applying_dated",
    ),
    CheckConstraint(
        "(status = 'undone') = (undone_at IS NOT NULL)", name="undoing_dated"
    ),
    Index("ix_repricings_status_seq", "status", "seq"),
    # One at a time: a second one would write over what the first made ready.
    Index(
        "ix_repricings_applying",
        "status",
        unique=True,
        sqlite_where=_APPLYING,
        postgresql_where=_APPLYING,
    ),
    sqlite_autoincrement=True,  # a band's run is never taken for a later one
)

repricing_cases = Table(
    "repricing_cases",
    metadata,
    Column("run", Identity64, primary_key=True, autoincrement=False),
    Column("spec", Identity64, primary_key=True, autoincrement=False),
    Column("old_price", ScaledDecimal(MONEY_SCALE), primary_key=True),
    Column("new_price", ScaledDecimal(MONEY_SCALE)),
    Column("moves", Boolean, nullable=False),
    Column("old_margin", ScaledDecimal(RATE_SCALE)),
    Column("new_margin", ScaledDecimal(RATE_SCALE)),
    Column("decision", Text, nullable=False),
    Column("reason", Text, nullable=False),
    Column("spot_at_floor", ScaledDecimal(PRICE_SCALE)),
    CheckConstraint(
        "decision IN ('hold', 'raise', 'lower', 'review', 'blocked')",
        name="decision_known",
    ),
    sqlite_with_rowid=False,
)

repricing_bands = Table(
    "repricing_bands",
    metadata,
    Column("run", Identity64, primary_key=True, autoincrement=False),
    Column("listing", Identity64, primary_key=True, autoincrement=False),
    Column("band", Identity64, primary_key=True, autoincrement=False),
    Column("spec", Identity64, nullable=False),
    Column("old_run", Identity64),
    Column("old_price", ScaledDecimal(MONEY_SCALE), nullable=False),
    Column("new_price", ScaledDecimal(MONEY_SCALE)),
    Column("locked", Boolean, nullable=False),
    Column("moves", Boolean, nullable=False),
    sqlite_with_rowid=False,
)
