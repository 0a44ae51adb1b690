"""Who is at the bench: sessions of browsers, the passphrase, tries to give it."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"

TEXT = sa.Text()
ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
AT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "sessions",
        sa.Column("digest", TEXT, nullable=False),
        sa.Column("signed_in", sa.Boolean(), nullable=False),
        sa.Column("created_at", AT, nullable=False),
        sa.Column("seen_at", AT, nullable=False),
        sa.PrimaryKeyConstraint("digest", name="pk_sessions"),
    )
    op.create_index("ix_sessions_created_at", "sessions", ["created_at"])
    op.create_table(
        "passphrases",
        sa.Column("name", TEXT, nullable=False),
        sa.Column("hashed", TEXT, nullable=False),
        sa.Column("set_at", AT, nullable=False),
        sa.PrimaryKeyConstraint("name", name="pk_passphrases"),
    )
    op.create_table(
        "sign_in_tries",
        sa.Column("id", ID, autoincrement=True, nullable=False),
        sa.Column("who", TEXT, nullable=False),
        sa.Column("at", AT, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_sign_in_tries"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_sign_in_tries_at", "sign_in_tries", ["at"])
