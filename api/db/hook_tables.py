"""The tables of hooks: endpoints, what there is to tell, messages, who delivers."""

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
from api.db.types import Identity64, UtcDateTime

_WAITING = text("status = 'waiting'")

hooks = Table(
    "hooks",
    metadata,
    Column("seq", Identity64, primary_key=True),
    Column("id", Text, nullable=False, unique=True),
    Column("url", Text, nullable=False),
    Column("events", Text, nullable=False),
    Column("secrets", Text, nullable=False),
    Column("enabled", Boolean, nullable=False),
    Column("why_disabled", Text, nullable=False),
    Column("version", Integer, nullable=False),
    Column("created_at", UtcDateTime, nullable=False),
    Column("since", UtcDateTime, nullable=False),
    CheckConstraint("version >= 1", name="version_counts"),
    sqlite_autoincrement=True,
)

happenings = Table(
    "happenings",
    metadata,
    Column("seq", Identity64, primary_key=True),
    Column("event", Text, nullable=False),
    Column("at", UtcDateTime, nullable=False),
    Column("quote", Text, nullable=False),
    Column("skus", Text, nullable=False),
    Column("run", Identity64),
    Column("reached", Identity64, nullable=False),
    sqlite_autoincrement=True,
)

hook_messages = Table(
    "hook_messages",
    metadata,
    Column("seq", Identity64, primary_key=True),
    Column("id", Text, nullable=False, unique=True),
    Column("hook", Text, ForeignKey("hooks.id"), nullable=False),
    Column("event", Text, nullable=False),
    Column("body", Text, nullable=False),
    Column("created_at", UtcDateTime, nullable=False),
    Column("status", Text, nullable=False),
    Column("tries", Integer, nullable=False),
    Column("due", UtcDateTime, nullable=False),
    Column("answered", Integer),
    Column("reason", Text, nullable=False),
    CheckConstraint(
        "status IN ('waiting', 'delivered', 'failed')", name="status_known"
    ),
    CheckConstraint("tries >= 0", name="tries_count"),
    Index("ix_hook_messages_hook_status_seq", "hook", "status", "seq"),
    Index(
        "ix_hook_messages_waiting",
        "hook",
        "seq",
        sqlite_where=_WAITING,
        postgresql_where=_WAITING,
    ),
    sqlite_autoincrement=True,
)

hook_deliverer = Table(
    "hook_deliverer",
    metadata,
    Column("name", Text, primary_key=True),  # one row, made when it is first needed
    Column("holder", Text, nullable=False),
    Column("until", UtcDateTime, nullable=False),
    Column("expired_until", UtcDateTime),
)
