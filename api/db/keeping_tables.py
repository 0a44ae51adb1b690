"""The tables of what is written down about requests.

Triggers made by the migrations refuse to change or remove a line of the audit trail;
a migration that makes its table anew has to make them anew too.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Column,
    Index,
    Integer,
    Table,
    Text,
)

from api.db.metadata import metadata
from api.db.types import Identity64, UtcDateTime

replays = Table(
    "replays",
    metadata,
    Column("credential", Text, primary_key=True),
    Column("operation", Text, primary_key=True),
    Column("key", Text, primary_key=True),
    Column("fingerprint", Text, nullable=False),
    Column("status", Integer, nullable=False),
    Column("headers", Text, nullable=False),
    Column("body", Text, nullable=False),
    Column("at", UtcDateTime, nullable=False),
    Index("ix_replays_at", "at"),
)

quotas = Table(
    "quotas",
    metadata,
    Column("who", Text, primary_key=True),
    Column("began", BigInteger, primary_key=True, autoincrement=False),
    Column("counted", Integer, nullable=False),
    CheckConstraint("counted >= 1", name="counted_counts"),
    Index("ix_quotas_began", "began"),
)

secrets = Table(
    "secrets",
    metadata,
    Column("name", Text, primary_key=True),
    Column("value", Text, nullable=False),
)

signing_keys = Table(
    "signing_keys",
    metadata,
    Column("kid", Text, primary_key=True),
    Column("public", Text, nullable=False),
    Column("private", Text),
    Column("created_at", UtcDateTime, nullable=False),
    Column("retired_at", UtcDateTime),
    CheckConstraint(
        "(retired_at IS NULL) = (private IS NOT NULL)", name="retired_cannot_sign"
    ),
)

audit_entries = Table(
    "audit_entries",
    metadata,
    Column("id", Identity64, primary_key=True),
    Column("at", UtcDateTime, nullable=False),
    Column("actor", Text, nullable=False),
    Column("via", Text, nullable=False),
    Column("action", Text, nullable=False),
    Column("subject", Text, nullable=False),
    Column("before", Text),
    Column("after", Text),
    Column("request", Text, nullable=False),
    Index("ix_audit_entries_subject_id", "subject", "id"),
    Index("ix_audit_entries_actor_id", "actor", "id"),
    sqlite_autoincrement=True,
)
