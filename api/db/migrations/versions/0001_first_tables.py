"""The first tables: price book, coins, spot prices, keys and their revisions."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

TEXT = sa.Text()
WHEN = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the tables."""
    _revisions()
    op.create_table(
        "price_book_versions",
        sa.Column("version", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("document", TEXT, nullable=False),
        sa.Column("created_at", WHEN, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("note", TEXT, nullable=False),
        sa.PrimaryKeyConstraint("version", name="pk_price_book_versions"),
        sa.CheckConstraint(
            "version >= 1", name=op.f("ck_price_book_versions_version_counts")
        ),
    )
    op.create_table(
        "coins",
        sa.Column("key", TEXT, nullable=False),
        sa.Column("document", TEXT, nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("changed_at", WHEN, nullable=False),
        sa.PrimaryKeyConstraint("key", name="pk_coins"),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_coins_revision_counts")),
    )
    _spot_prices()
    _api_keys()


def _revisions() -> None:
    table = op.create_table(
        "revisions",
        sa.Column("name", TEXT, nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("name", name="pk_revisions"),
        sa.CheckConstraint("revision >= 0", name=op.f("ck_revisions_revision_counts")),
    )
    parts = ("coins", "keys", "price_book", "spot_prices")
    op.bulk_insert(table, [{"name": part, "revision": 0} for part in parts])


def _spot_prices() -> None:
    op.create_table(
        "spot_prices",
        sa.Column(
            "id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("metal", TEXT, nullable=False),
        sa.Column("price", sa.BigInteger(), nullable=False),
        sa.Column("currency", TEXT, nullable=False),
        sa.Column("as_of", WHEN, nullable=False),
        sa.Column("source", TEXT, nullable=False),
        sa.Column("note", TEXT, nullable=False),
        sa.Column("expires_at", WHEN),
        sa.Column("entered_by", TEXT, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_spot_prices"),
        sa.CheckConstraint("price > 0", name=op.f("ck_spot_prices_price_above_zero")),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_spot_prices_metal_id", "spot_prices", ["metal", "id"])


def _api_keys() -> None:
    op.create_table(
        "api_keys",
        sa.Column("id", TEXT, nullable=False),
        sa.Column("scope", TEXT, nullable=False),
        sa.Column("label", TEXT, nullable=False),
        sa.Column("digest", TEXT, nullable=False),
        sa.Column("created_at", WHEN, nullable=False),
        sa.Column("last_used_at", WHEN),
        sa.Column("revoked_at", WHEN),
        sa.PrimaryKeyConstraint("id", name="pk_api_keys"),
        sa.CheckConstraint(
            "scope IN ('bench', 'shop', 'window')",
            name=op.f("ck_api_keys_scope_known"),
        ),
    )
