"""The tables of who is at the bench."""

from __future__ import annotations

from sqlalchemy import Boolean, Column, Index, Table, Text

from api.db.metadata import metadata
from api.db.types import Identity64, UtcDateTime

sessions = Table(
    "sessions",
    metadata,
    Column("digest", Text, primary_key=True),
    Column("signed_in", Boolean, nullable=False),
    Column("created_at", UtcDateTime, nullable=False),
    Column("seen_at", UtcDateTime, nullable=False),
    Index("ix_sessions_created_at", "created_at"),
)

passphrases = Table(
    "passphrases",
    metadata,
    Column("name", Text, primary_key=True),
    Column("hashed", Text, nullable=False),
    Column("set_at", UtcDateTime, nullable=False),
)

sign_in_tries = Table(
    "sign_in_tries",
    metadata,
    Column("id", Identity64, primary_key=True),
    Column("who", Text, nullable=False),
    Column("at", UtcDateTime, nullable=False),
    Index("ix_sign_in_tries_at", "at"),
    sqlite_autoincrement=True,
)
