"""The tables, and nothing else: what they mean is said in `api.ports`."""

from __future__ import annotations

from sqlalchemy import (
    CheckConstraint,
    Column,
    ForeignKey,
    Index,
    Integer,
    Table,
    Text,
)

from api.db.hook_tables import happenings, hook_deliverer, hook_messages, hooks
from api.db.job_tables import (
    job_attempts,
    job_coins,
    job_lines,
    job_numbers,
    job_stages,
    jobs,
    stage_timers,
)
from api.db.keeping_tables import (
    audit_entries,
    quotas,
    replays,
    secrets,
    signing_keys,
)
from api.db.listing_tables import (
    listing_bands,
    listing_specs,
    listings,
    price_changes,
)
from api.db.metadata import metadata
from api.db.quote_tables import quote_numbers, quotes
from api.db.repricing_tables import repricing_bands, repricing_cases, repricings
from api.db.session_tables import passphrases, sessions, sign_in_tries
from api.db.types import PRICE_SCALE, Identity64, ScaledDecimal, UtcDateTime

__all__ = [
    "api_keys",
    "audit_entries",
    "coins",
    "feed_fetches",
    "feed_secrets",
    "feeds",
    "happenings",
    "hook_deliverer",
    "hook_messages",
    "hooks",
    "job_attempts",
    "job_coins",
    "job_lines",
    "job_numbers",
    "job_stages",
    "jobs",
    "listing_bands",
    "listing_specs",
    "listings",
    "metadata",
    "passphrases",
    "price_book_versions",
    "price_changes",
    "quotas",
    "quote_numbers",
    "quotes",
    "replays",
    "repricing_bands",
    "repricing_cases",
    "repricings",
    "revisions",
    "secrets",
    "sessions",
    "sign_in_tries",
    "signing_keys",
    "spot_prices",
    "stage_timers",
]

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
    Column("status", Text, nullable=False),
    Column("recorded_at", UtcDateTime, nullable=False),
    Column("reasons", Text, nullable=False),
    Column("decided_by", Text, nullable=False),
    Column("decided_at", UtcDateTime),
    CheckConstraint("price > 0", name="price_above_zero"),
    CheckConstraint("status IN ('accepted', 'held', 'rejected')", name="status_known"),
    Index("ix_spot_prices_metal_id", "metal", "id"),
    Index("ix_spot_prices_metal_currency_as_of", "metal", "currency", "as_of"),
    sqlite_autoincrement=True,  # an id is never used twice
)

feeds = Table(
    "feeds",
    metadata,
    Column("key", Text, primary_key=True),
    Column("document", Text, nullable=False),
    Column("revision", Integer, nullable=False),
    Column("changed_at", UtcDateTime, nullable=False),
    CheckConstraint("revision >= 1", name="revision_counts"),
)

feed_secrets = Table(
    "feed_secrets",
    metadata,
    Column("feed", Text, ForeignKey("feeds.key"), primary_key=True),
    Column("name", Text, primary_key=True),
    Column("value", Text, nullable=False),
)

feed_fetches = Table(
    "feed_fetches",
    metadata,
    Column("id", Identity64, primary_key=True),
    Column("feed", Text, nullable=False),  # stays when the feed goes
    Column("at", UtcDateTime, nullable=False),
    Column("outcome", Text, nullable=False),
    Column("findings", Text, nullable=False),
    Column("entry_id", Identity64, ForeignKey("spot_prices.id")),
    Column("duration_ms", Integer, nullable=False),
    CheckConstraint(
        "outcome IN ('accepted', 'held', 'refused', 'ignored', 'failed')",
        name="outcome_known",
    ),
    Index("ix_feed_fetches_feed_id", "feed", "id"),
    sqlite_autoincrement=True,
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
