"""Keys that prices held for buyers are signed with."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"

TEXT = sa.Text()
WHEN = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "signing_keys",
        sa.Column("kid", TEXT, nullable=False),
        sa.Column("public", TEXT, nullable=False),
        sa.Column("private", TEXT),
        sa.Column("created_at", WHEN, nullable=False),
        sa.Column("retired_at", WHEN),
        sa.CheckConstraint(
            "(retired_at IS NULL) = (private IS NOT NULL)",
            name=op.f("ck_signing_keys_retired_cannot_sign"),
        ),
        sa.PrimaryKeyConstraint("kid", name="pk_signing_keys"),
    )
