"""Hooks: endpoints, what there is to tell, messages, and who delivers them."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"

TEXT = sa.Text()
ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
AT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "hooks",
        sa.Column("seq", ID, autoincrement=True, nullable=False),
        sa.Column("id", TEXT, nullable=False),
        sa.Column("url", TEXT, nullable=False),
        sa.Column("events", TEXT, nullable=False),
        sa.Column("secrets", TEXT, nullable=False),
        sa.Column("enabled", sa.Boolean(), nullable=False),
        sa.Column("why_disabled", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", AT, nullable=False),
        sa.Column("since", AT, nullable=False),
        sa.PrimaryKeyConstraint("seq", name="pk_hooks"),
        sa.UniqueConstraint("id", name="uq_hooks_id"),
        sa.CheckConstraint("version >= 1", name=op.f("ck_hooks_version_counts")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "happenings",
        sa.Column("seq", ID, autoincrement=True, nullable=False),
        sa.Column("event", TEXT, nullable=False),
        sa.Column("at", AT, nullable=False),
        sa.Column("quote", TEXT, nullable=False),
        sa.Column("skus", TEXT, nullable=False),
        sa.Column("run", ID),
        sa.Column("reached", ID, nullable=False),
        sa.PrimaryKeyConstraint("seq", name="pk_happenings"),
        sqlite_autoincrement=True,
    )
    _messages()
    op.create_table(
        "hook_deliverer",
        sa.Column("name", TEXT, nullable=False),
        sa.Column("holder", TEXT, nullable=False),
        sa.Column("until", AT, nullable=False),
        sa.Column("expired_until", AT),
        sa.PrimaryKeyConstraint("name", name="pk_hook_deliverer"),
    )


def _messages() -> None:
    op.create_table(
        "hook_messages",
        sa.Column("seq", ID, autoincrement=True, nullable=False),
        sa.Column("id", TEXT, nullable=False),
        sa.Column("hook", TEXT, nullable=False),
        sa.Column("event", TEXT, nullable=False),
        sa.Column("body", TEXT, nullable=False),
        sa.Column("created_at", AT, nullable=False),
        sa.Column("status", TEXT, nullable=False),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("due", AT, nullable=False),
        sa.Column("answered", sa.Integer()),
        sa.Column("reason", TEXT, nullable=False),
        sa.PrimaryKeyConstraint("seq", name="pk_hook_messages"),
        sa.UniqueConstraint("id", name="uq_hook_messages_id"),
        sa.ForeignKeyConstraint(
            ["hook"], ["hooks.id"], name="fk_hook_messages_hook_hooks"
        ),
        sa.CheckConstraint(
            "status IN ('waiting', 'delivered', 'failed')",
            name=op.f("ck_hook_messages_status_known"),
        ),
        sa.CheckConstraint("tries >= 0", name=op.f("ck_hook_messages_tries_count")),
        sqlite_autoincrement=True,
    )
    columns = ["hook", "status", "seq"]
    op.create_index("ix_hook_messages_hook_status_seq", "hook_messages", columns)
    waiting = sa.text("status = 'waiting'")
    op.create_index(
        "ix_hook_messages_waiting",
        "hook_messages",
        ["hook", "seq"],
        sqlite_where=waiting,
        postgresql_where=waiting,
    )
