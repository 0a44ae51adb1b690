"""Fetched prices: feeds, their secrets and fetches; prices may be held and decided.

A price gets three more places, because exchange rates can be small. Prices that
are there already were entered by hand and count as accepted.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

TEXT = sa.Text()
WHEN = sa.DateTime(timezone=True)
ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Change the spot prices and make the new tables."""
    _widen_spot_prices()
    _feeds()
    _feed_fetches()
    op.execute("INSERT INTO revisions (name, revision) VALUES ('feeds', 0)")


def _widen_spot_prices() -> None:
    for column in (
        sa.Column("status", TEXT),
        sa.Column("recorded_at", WHEN),
        sa.Column("reasons", TEXT),
        sa.Column("decided_by", TEXT),
        sa.Column("decided_at", WHEN),
    ):
        op.add_column("spot_prices", column)
    op.execute(
        "UPDATE spot_prices SET price = price * 1000, status = 'accepted', "
        "recorded_at = as_of, reasons = '[]', decided_by = ''"
    )
    # The table is made anew on SQLite, which forgets what it is not told again.
    again = sa.CheckConstraint(
        "price > 0", name=op.f("ck_spot_prices_price_above_zero")
    )
    with op.batch_alter_table(
        "spot_prices",
        table_args=(again,) if op.get_bind().dialect.name == "sqlite" else (),
        table_kwargs={"sqlite_autoincrement": True},
    ) as table:
        for name, kind in (
            ("status", TEXT),
            ("recorded_at", WHEN),
            ("reasons", TEXT),
            ("decided_by", TEXT),
        ):
            table.alter_column(name, existing_type=kind, nullable=False)
        table.create_check_constraint(
            op.f("ck_spot_prices_status_known"),
            "status IN ('accepted', 'held', 'rejected')",
        )
        table.create_index(
            "ix_spot_prices_metal_currency_as_of", ["metal", "currency", "as_of"]
        )


def _feeds() -> None:
    op.create_table(
        "feeds",
        sa.Column("key", TEXT, nullable=False),
        sa.Column("document", TEXT, nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("changed_at", WHEN, nullable=False),
        sa.PrimaryKeyConstraint("key", name="pk_feeds"),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_feeds_revision_counts")),
    )
    op.create_table(
        "feed_secrets",
        sa.Column("feed", TEXT, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("value", TEXT, nullable=False),
        sa.PrimaryKeyConstraint("feed", "name", name="pk_feed_secrets"),
        sa.ForeignKeyConstraint(
            ["feed"], ["feeds.key"], name="fk_feed_secrets_feed_feeds"
        ),
    )


def _feed_fetches() -> None:
    op.create_table(
        "feed_fetches",
        sa.Column("id", ID, autoincrement=True, nullable=False),
        sa.Column("feed", TEXT, nullable=False),
        sa.Column("at", WHEN, nullable=False),
        sa.Column("outcome", TEXT, nullable=False),
        sa.Column("findings", TEXT, nullable=False),
        sa.Column("entry_id", ID),
        sa.Column("duration_ms", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_feed_fetches"),
        sa.ForeignKeyConstraint(
            ["entry_id"],
            ["spot_prices.id"],
            name="fk_feed_fetches_entry_id_spot_prices",
        ),
        sa.CheckConstraint(
            "outcome IN ('accepted', 'held', 'refused', 'ignored', 'failed')",
            name=op.f("ck_feed_fetches_outcome_known"),
        ),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_feed_fetches_feed_id", "feed_fetches", ["feed", "id"])
