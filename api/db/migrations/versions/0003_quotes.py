"""Quotes that keep what they promise; answers to replay, quotas and secrets."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"

TEXT = sa.Text()
WHEN = sa.DateTime(timezone=True)
ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

PROMISED = (
    "seq",
    "id",
    "number",
    "created_at",
    "created_by",
    "valid_until",
    "currency",
    "total",
    "tax",
    "deposit",
    "book_version",
    "bench_hours",
    "make_by",
    "renews",
    "sheet_token",
    "customer_note",
    "document",
    "search",
)
NEVER = "a quote is never removed, and what it promises never changes"


def upgrade() -> None:
    """Make the tables and the triggers that hold a quote to its promise."""
    _quotes()
    op.create_index("ix_quotes_status_seq", "quotes", ["status", "seq"])
    op.create_index("ix_quotes_created_at", "quotes", ["created_at"])
    op.create_index("ix_quotes_make_by", "quotes", ["make_by"])
    op.create_table(
        "quote_numbers",
        sa.Column("year", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("last", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("year", name="pk_quote_numbers"),
        sa.CheckConstraint("last >= 1", name=op.f("ck_quote_numbers_last_counts")),
    )
    _replays()
    _quotas()
    op.create_table(
        "secrets",
        sa.Column("name", TEXT, nullable=False),
        sa.Column("value", TEXT, nullable=False),
        sa.PrimaryKeyConstraint("name", name="pk_secrets"),
    )
    if op.get_bind().dialect.name == "sqlite":
        _triggers_of_sqlite()
    else:
        _triggers_of_postgresql()


def _quotes() -> None:
    op.create_table(
        "quotes",
        sa.Column("seq", ID, autoincrement=True, nullable=False),
        sa.Column("id", TEXT, nullable=False),
        sa.Column("number", TEXT, nullable=False),
        sa.Column("status", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", WHEN, nullable=False),
        sa.Column("created_by", TEXT, nullable=False),
        sa.Column("valid_until", WHEN, nullable=False),
        sa.Column("decided_at", WHEN),
        sa.Column("decided_by", TEXT, nullable=False),
        sa.Column("reason", TEXT, nullable=False),
        sa.Column("currency", TEXT, nullable=False),
        sa.Column("total", sa.BigInteger(), nullable=False),
        sa.Column("tax", sa.BigInteger(), nullable=False),
        sa.Column("deposit", sa.BigInteger()),
        sa.Column("book_version", sa.Integer(), nullable=False),
        sa.Column("bench_hours", sa.BigInteger(), nullable=False),
        sa.Column("make_by", sa.Date()),
        sa.Column("renews", TEXT),
        sa.Column("sheet_token", TEXT, nullable=False),
        sa.Column("customer_note", TEXT, nullable=False),
        sa.Column("document", TEXT, nullable=False),
        sa.Column("search", TEXT, nullable=False),
        *_constraints(),
        sqlite_autoincrement=True,
    )


def _constraints() -> tuple[sa.Constraint, ...]:
    return (
        sa.PrimaryKeyConstraint("seq", name="pk_quotes"),
        sa.UniqueConstraint("id", name="uq_quotes_id"),
        sa.UniqueConstraint("number", name="uq_quotes_number"),
        sa.UniqueConstraint("renews", name="uq_quotes_renews"),
        sa.UniqueConstraint("sheet_token", name="uq_quotes_sheet_token"),
        sa.ForeignKeyConstraint(
            ["book_version"],
            ["price_book_versions.version"],
            name="fk_quotes_book_version_price_book_versions",
        ),
        sa.ForeignKeyConstraint(
            ["renews"], ["quotes.id"], name="fk_quotes_renews_quotes"
        ),
        sa.CheckConstraint(
            "status IN ('open', 'accepted', 'declined', 'renewed')",
            name=op.f("ck_quotes_status_known"),
        ),
        sa.CheckConstraint("version >= 1", name=op.f("ck_quotes_version_counts")),
        sa.CheckConstraint(
            "(status = 'open') = (decided_at IS NULL)",
            name=op.f("ck_quotes_decision_dated"),
        ),
    )


def _replays() -> None:
    op.create_table(
        "replays",
        sa.Column("credential", TEXT, nullable=False),
        sa.Column("operation", TEXT, nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("fingerprint", TEXT, nullable=False),
        sa.Column("status", sa.Integer(), nullable=False),
        sa.Column("headers", TEXT, nullable=False),
        sa.Column("body", TEXT, nullable=False),
        sa.Column("at", WHEN, nullable=False),
        sa.PrimaryKeyConstraint("credential", "operation", "key", name="pk_replays"),
    )
    op.create_index("ix_replays_at", "replays", ["at"])


def _quotas() -> None:
    op.create_table(
        "quotas",
        sa.Column("who", TEXT, nullable=False),
        sa.Column("began", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("counted", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("who", "began", name="pk_quotas"),
        sa.CheckConstraint("counted >= 1", name=op.f("ck_quotas_counted_counts")),
    )
    op.create_index("ix_quotas_began", "quotas", ["began"])


def _triggers_of_sqlite() -> None:
    # Values are compared, since a list of columns does not catch "SET rowid".
    changed = " OR ".join(f"OLD.{name} IS NOT NEW.{name}" for name in PROMISED)
    refuse = f"BEGIN SELECT RAISE(ABORT, '{NEVER}'); END"
    op.execute(
        "CREATE TRIGGER quotes_keep_their_promise BEFORE UPDATE ON quotes "
        f"WHEN {changed} OR OLD.status IN ('accepted', 'renewed') {refuse}"
    )
    op.execute(f"CREATE TRIGGER quotes_stay BEFORE DELETE ON quotes {refuse}")
    # INSERT OR REPLACE removes rows, and asks no trigger for deleting about it.
    op.execute(
        "CREATE TRIGGER quotes_are_not_replaced "  # noqa: S608 - all words our own
        "BEFORE INSERT ON quotes WHEN EXISTS (SELECT 1 FROM quotes "
        "WHERE seq = NEW.seq OR id = NEW.id OR number = NEW.number "
        "OR sheet_token = NEW.sheet_token OR renews = NEW.renews) " + refuse
    )


def _triggers_of_postgresql() -> None:
    # TRUNCATE is left to the table's owner: restoring a backup needs it.
    changed = " OR ".join(
        f"OLD.{name} IS DISTINCT FROM NEW.{name}" for name in PROMISED
    )
    op.execute(
        "CREATE FUNCTION refuse_to_change_a_quote() RETURNS trigger "
        f"LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION '{NEVER}' "
        "USING ERRCODE = 'integrity_constraint_violation'; END $$"
    )
    op.execute(
        "CREATE TRIGGER quotes_keep_their_promise BEFORE UPDATE ON quotes "
        f"FOR EACH ROW WHEN ({changed} OR OLD.status IN ('accepted', 'renewed')) "
        "EXECUTE FUNCTION refuse_to_change_a_quote()"
    )
    op.execute(
        "CREATE TRIGGER quotes_stay BEFORE DELETE ON quotes "
        "FOR EACH ROW EXECUTE FUNCTION refuse_to_change_a_quote()"
    )
