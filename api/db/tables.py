"""The tables, and nothing else: what they mean is said in `api.ports`."""

from __future__ import annotations

from sqlalchemy import CheckConstraint, Column, Index, Integer, MetaData, Table, Text

from api.db.types import Identity64, ScaledDecimal, UtcDateTime

# Names for every constraint, because SQLite can only change what has a name.
NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}
PRICE_SCALE = 6

metadata = MetaData(naming_convention=NAMING)

revisions = Table(
    "revisions",
    metadata,
    Column("name", Text, primary_key=True),
    Column("revision", Integer, nullable=False),
    CheckConstraint("revision >= 0", name="revision_counts"),
)

price_book_versions = Table(
    "price_book_versions",
    metadata,
    Column("version", Integer, primary_key=True, autoincrement=False),
    Column("document", Text, nullable=False),
    Column("created_at", UtcDateTime, nullable=False),
    Column("created_by", Text, nullable=False),
    Column("note", Text, nullable=False),
    CheckConstraint("version >= 1", name="version_counts"),
)

coins = Table(
    "coins",
    metadata,
    Column("key", Text, primary_key=True),
    Column("document", Text, nullable=False),
    Column("revision", Integer, nullable=False),
    Column("changed_at", UtcDateTime, nullable=False),
    CheckConstraint("revision >= 1", name="revision_counts"),
)

spot_prices = Table(
    "spot_prices",
    metadata,
    Column("id", Identity64, primary_key=True),
    Column("metal", Text, nullable=False),
    Column("price", ScaledDecimal(PRICE_SCALE), nullable=False),
    Column("currency", Text, nullable=False),
    Column("as_of", UtcDateTime, nullable=False),
    Column("source", Text, nullable=False),
    Column("note", Text, nullable=False),
    Column("expires_at", UtcDateTime),
    Column("entered_by", Text, nullable=False),
    CheckConstraint("price > 0", name="price_above_zero"),
    Index("ix_spot_prices_metal_id", "metal", "id"),
    sqlite_autoincrement=True,  # an id is never used twice
)

api_keys = Table(
    "api_keys",
    metadata,
    Column("id", Text, primary_key=True),
    Column("scope", Text, nullable=False),
    Column("label", Text, nullable=False),
    Column("digest", Text, nullable=False),
    Column("created_at", UtcDateTime, nullable=False),
    Column("last_used_at", UtcDateTime),
    Column("revoked_at", UtcDateTime),
    CheckConstraint("scope IN ('bench', 'shop', 'window')", name="scope_known"),
)
