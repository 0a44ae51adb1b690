"""Listings, their bands and price history; repricings."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"

TEXT = sa.Text()
BY_BYTES = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
WHEN = sa.DateTime(timezone=True)
BIG = sa.BigInteger()
ID = BIG.with_variant(sa.Integer(), "sqlite")
THERE = sa.text("removed_at IS NULL")
APPLYING = sa.text("status = 'applying'")
NEVER = "a price change is never changed or removed"


def upgrade() -> None:
    """Make the tables, and the triggers that keep the history."""
    op.execute("INSERT INTO revisions (name, revision) VALUES ('listings', 0)")
    _listings()
    _specs()
    _bands()
    _price_changes()
    _repricings()
    _cases()
    _bands_of_runs()
    if op.get_bind().dialect.name == "sqlite":
        _triggers_of_sqlite()
    else:
        # Room in each page, so that a repricing changes rows where they are.
        op.execute("ALTER TABLE listing_bands SET (fillfactor = 50)")
        _triggers_of_postgresql()


def _needed(name: str, kind: sa.types.TypeEngine[Any]) -> sa.Column[Any]:
    return sa.Column(name, kind, nullable=False)


def _id(name: str) -> sa.Column[Any]:
    return sa.Column(name, ID, autoincrement=True, nullable=False)


def _key(name: str) -> sa.Column[Any]:
    return sa.Column(name, ID, autoincrement=False, nullable=False)


def _check(table: str, name: str, condition: str) -> sa.CheckConstraint:
    return sa.CheckConstraint(condition, name=op.f(f"ck_{table}_{name}"))


def _refers(table: str, column: str, other: str, key: str) -> sa.ForeignKeyConstraint:
    name = f"fk_{table}_{column}_{other}"
    return sa.ForeignKeyConstraint([column], [f"{other}.{key}"], name=name)


def _listings() -> None:
    op.create_table(
        "listings",
        _id("seq"),
        _needed("sku", BY_BYTES),
        _needed("title", TEXT),
        _needed("kind", TEXT),
        _needed("coin", TEXT),
        _needed("channel", TEXT),
        _needed("policy", TEXT),
        _needed("extras", TEXT),
        _needed("locked", sa.Boolean()),
        _needed("published", sa.Boolean()),
        sa.Column("actual_cost", BIG),
        _needed("revision", sa.Integer()),
        _needed("changed_rev", sa.Integer()),
        _needed("created_at", WHEN),
        _needed("changed_at", WHEN),
        _needed("changed_by", TEXT),
        sa.Column("removed_at", WHEN),
        _needed("search", TEXT),
        sa.PrimaryKeyConstraint("seq", name="pk_listings"),
        _check("listings", "kind_known", "kind IN ('made_to_order', 'ready_made')"),
        _check("listings", "revision_counts", "revision >= 1"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_listings_sku", "listings", ["sku"])
    op.create_index(
        "ix_listings_sku_there",
        "listings",
        ["sku"],
        unique=True,
        sqlite_where=THERE,
        postgresql_where=THERE,
    )
    op.create_index("ix_listings_changed_rev", "listings", ["changed_rev"])


def _specs() -> None:
    keys = ("coin", "channel", "policy", "extras")
    sizes = ("size_from", "size_to")
    op.create_table(
        "listing_specs",
        _id("id"),
        *(_needed(name, TEXT) for name in keys),
        *(_needed(name, BIG) for name in sizes),
        sa.PrimaryKeyConstraint("id", name="pk_listing_specs"),
        sa.UniqueConstraint(*keys, *sizes, name="uq_listing_specs_all"),
        _check("listing_specs", "sizes_in_order", "size_from <= size_to"),
        sqlite_autoincrement=True,
    )


def _bands() -> None:
    op.create_table(
        "listing_bands",
        _id("id"),
        _needed("listing", ID),
        _needed("spec", ID),
        _needed("locked", sa.Boolean()),
        _needed("price", BIG),
        sa.Column("price_run", ID),
        sa.Column("next_price", BIG),
        sa.Column("next_run", ID),
        sa.PrimaryKeyConstraint("id", name="pk_listing_bands"),
        _refers("listing_bands", "listing", "listings", "seq"),
        _refers("listing_bands", "spec", "listing_specs", "id"),
        _check("listing_bands", "price_above_zero", "price > 0"),
        _check("listing_bands", "next_price_above_zero", "next_price > 0"),
        sqlite_autoincrement=True,
    )
    op.create_index(
        "ix_listing_bands_listing_spec",
        "listing_bands",
        ["listing", "spec"],
        unique=True,
    )
    op.create_index("ix_listing_bands_spec", "listing_bands", ["spec"])


def _price_changes() -> None:
    op.create_table(
        "price_changes",
        _id("id"),
        _needed("listing", ID),
        _needed("size_from", BIG),
        _needed("size_to", BIG),
        sa.Column("old_price", BIG),
        sa.Column("new_price", BIG),
        _needed("rev", sa.Integer()),
        _needed("at", WHEN),
        _needed("changed_by", TEXT),
        _needed("why", TEXT),
        sa.PrimaryKeyConstraint("id", name="pk_price_changes"),
        _refers("price_changes", "listing", "listings", "seq"),
        _check(
            "price_changes",
            "why_known",
            "why IN ('created', 'edited', 'imported', 'removed')",
        ),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_price_changes_listing_rev", "price_changes", ["listing", "rev"])


def _repricings() -> None:
    op.create_table(
        "repricings",
        _id("seq"),
        *(_needed(name, TEXT) for name in ("id", "status")),
        _needed("version", sa.Integer()),
        _needed("created_at", WHEN),
        *(_needed(name, TEXT) for name in ("created_by", "currency", "spot")),
        _needed("spot_price", BIG),
        _needed("book_version", sa.Integer()),
        sa.Column("skus", TEXT),
        _needed("counts", TEXT),
        _needed("value_change", BIG),
        _needed("listings_rev", sa.Integer()),
        _needed("named", TEXT),
        _needed("reached", ID),
        sa.Column("reached_at", WHEN),
        sa.Column("applied_at", WHEN),
        _needed("applied_by", TEXT),
        sa.Column("applied_rev", sa.Integer()),
        sa.Column("undone_at", WHEN),
        _needed("undone_by", TEXT),
        sa.Column("undone_rev", sa.Integer()),
        *_constraints_of_repricings(),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_repricings_status_seq", "repricings", ["status", "seq"])
    op.create_index(
        "ix_repricings_applying",
        "repricings",
        ["status"],
        unique=True,
        sqlite_where=APPLYING,
        postgresql_where=APPLYING,
    )


def _constraints_of_repricings() -> tuple[sa.Constraint, ...]:
    return (
        sa.PrimaryKeyConstraint("seq", name="pk_repricings"),
        sa.UniqueConstraint("id", name="uq_repricings_id"),
        _refers("repricings", "book_version", "price_book_versions", "version"),
        _check(
            "repricings",
            "status_known",
            "status IN ('filling', 'preview', 'applying', 'applied', 'undone')",
        ),
        _check("repricings", "version_counts", "version >= 1"),
        _check(
            "repricings",
            "applying_dated",
            "(status IN ('applied', 'undone')) = (applied_at IS NOT NULL)",
        ),
        _check(
            "repricings",
            "undoing_dated",
            "(status = 'undone') = (undone_at IS NOT NULL)",
        ),
    )


def _cases() -> None:
    op.create_table(
        "repricing_cases",
        _key("run"),
        _key("spec"),
        _needed("old_price", BIG),
        sa.Column("new_price", BIG),
        _needed("moves", sa.Boolean()),
        sa.Column("old_margin", BIG),
        sa.Column("new_margin", BIG),
        _needed("decision", TEXT),
        _needed("reason", TEXT),
        sa.Column("spot_at_floor", BIG),
        sa.PrimaryKeyConstraint("run", "spec", "old_price", name="pk_repricing_cases"),
        _check(
            "repricing_cases",
            "decision_known",
            "decision IN ('hold', 'raise', 'lower', 'review', 'blocked')",
        ),
        sqlite_with_rowid=False,
    )


def _bands_of_runs() -> None:
    op.create_table(
        "repricing_bands",
        *(_key(name) for name in ("run", "listing", "band")),
        _needed("spec", ID),
        sa.Column("old_run", ID),
        _needed("old_price", BIG),
        sa.Column("new_price", BIG),
        _needed("locked", sa.Boolean()),
        _needed("moves", sa.Boolean()),
        sa.PrimaryKeyConstraint("run", "listing", "band", name="pk_repricing_bands"),
        sqlite_with_rowid=False,
    )


def _triggers_of_sqlite() -> None:
    refuse = f"BEGIN SELECT RAISE(ABORT, '{NEVER}'); END"
    for name, deed in (("stay_as_they_are", "UPDATE"), ("stay", "DELETE")):
        op.execute(
            f"CREATE TRIGGER price_changes_{name} BEFORE {deed} ON price_changes "
            + refuse
        )
    # INSERT OR REPLACE removes rows, and asks no trigger for deleting about it.
    op.execute(
        "CREATE TRIGGER price_changes_are_not_replaced "  # noqa: S608 - our own words
        "BEFORE INSERT ON price_changes "
        "WHEN EXISTS (SELECT 1 FROM price_changes WHERE id = NEW.id) " + refuse
    )


def _triggers_of_postgresql() -> None:
    # TRUNCATE is left to the table's owner: restoring a backup needs it.
    op.execute(
        "CREATE FUNCTION refuse_to_change_the_price_history() RETURNS trigger "
        f"LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION '{NEVER}' "
        "USING ERRCODE = 'integrity_constraint_violation'; END $$"
    )
    op.execute(
        "CREATE TRIGGER price_changes_stay BEFORE UPDATE OR DELETE ON price_changes "
        "FOR EACH ROW EXECUTE FUNCTION refuse_to_change_the_price_history()"
    )
