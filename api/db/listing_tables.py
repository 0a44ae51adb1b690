"""The tables of listings, their bands and the history of what they cost.

A band has two slots for its price, so that many prices come into force with one row
that is written elsewhere; `prices_in_force` says which slot counts. Their columns are
in no index and refer to nothing, because a repricing writes them by the million.
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
    UniqueConstraint,
    text,
)

from api.db.metadata import metadata
from api.db.quote_tables import MONEY_SCALE
from api.db.types import ByBytes, Identity64, ScaledDecimal, UtcDateTime

SIZE_SCALE = 2

_THERE = text("removed_at IS NULL")

listings = Table(
    "listings",
    metadata,
    Column("seq", Identity64, primary_key=True),
    Column("sku", ByBytes, nullable=False),
    Column("title", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("coin", Text, nullable=False),
    Column("channel", Text, nullable=False),
    Column("policy", Text, nullable=False),
    Column("extras", Text, nullable=False),
    Column("locked", Boolean, nullable=False),
    Column("published", Boolean, nullable=False),
    Column("actual_cost", ScaledDecimal(MONEY_SCALE)),
    Column("revision", Integer, nullable=False),
    Column("changed_rev", Integer, nullable=False),
    Column("created_at", UtcDateTime, nullable=False),
    Column("changed_at", UtcDateTime, nullable=False),
    Column("changed_by", Text, nullable=False),
    Column("removed_at", UtcDateTime),
    Column("search", Text, nullable=False),  # sku and title, without case
    CheckConstraint("kind IN ('made_to_order', 'ready_made')", name="kind_known"),
    CheckConstraint("revision >= 1", name="revision_counts"),
    Index("ix_listings_sku", "sku"),
    Index(
        "ix_listings_sku_there",
        "sku",
        unique=True,
        sqlite_where=_THERE,
        postgresql_where=_THERE,
    ),
    Index("ix_listings_changed_rev", "changed_rev"),
    sqlite_autoincrement=True,  # a place in the order is never used twice
)

listing_specs = Table(
    "listing_specs",
    metadata,
    Column("id", Identity64, primary_key=True),
    Column("coin", Text, nullable=False),
    Column("channel", Text, nullable=False),
    Column("policy", Text, nullable=False),
    Column("extras", Text, nullable=False),
    Column("size_from", ScaledDecimal(SIZE_SCALE), nullable=False),
    Column("size_to", ScaledDecimal(SIZE_SCALE), nullable=False),
    UniqueConstraint(
        "coin",
        "channel",
        "policy",
        "extras",
        "size_from",
        "size_to",
        name="uq_listing_specs_all",
    ),
    CheckConstraint("size_from <= size_to", name="sizes_in_order"),
    sqlite_autoincrement=True,
)

listing_bands = Table(
    "listing_bands",
    metadata,
    Column("id", Identity64, primary_key=True),
    Column("listing", Identity64, ForeignKey("listings.seq"), nullable=False),
    Column("spec", Identity64, ForeignKey("listing_specs.id"), nullable=False),
    Column("locked", Boolean, nullable=False),  # as the listing is
    Column("price", ScaledDecimal(MONEY_SCALE), nullable=False),
    Column("price_run", Identity64),
    Column("next_price", ScaledDecimal(MONEY_SCALE)),
    Column("next_run", Identity64),
    CheckConstraint("price > 0", name="price_above_zero"),
    CheckConstraint("next_price > 0", name="next_price_above_zero"),
    Index("ix_listing_bands_listing_spec", "listing", "spec", unique=True),
    Index("ix_listing_bands_spec", "spec"),
    sqlite_autoincrement=True,  # a run's band is never taken for a later one
)

price_changes = Table(
    "price_changes",
    metadata,
    Column("id", Identity64, primary_key=True),
    Column("listing", Identity64, ForeignKey("listings.seq"), nullable=False),
    Column("size_from", ScaledDecimal(SIZE_SCALE), nullable=False),
    Column("size_to", ScaledDecimal(SIZE_SCALE), nullable=False),
    Column("old_price", ScaledDecimal(MONEY_SCALE)),
    Column("new_price", ScaledDecimal(MONEY_SCALE)),
    Column("rev", Integer, nullable=False),
    Column("at", UtcDateTime, nullable=False),
    Column("changed_by", Text, nullable=False),
    Column("why", Text, nullable=False),
    CheckConstraint(
        "why IN ('created', 'edited', 'imported', 'removed')", name="why_known"
    ),
    Index("ix_price_changes_listing_rev", "listing", "rev"),
    sqlite_autoincrement=True,
)
