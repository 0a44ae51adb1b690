"""The audit trail: lines that can be added, and nothing else."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"

TEXT = sa.Text()
ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
NEVER = "a line of the audit trail is never changed or removed"


def upgrade() -> None:
    """Make the table and the triggers that keep its lines."""
    op.create_table(
        "audit_entries",
        sa.Column("id", ID, autoincrement=True, nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("actor", TEXT, nullable=False),
        sa.Column("via", TEXT, nullable=False),
        sa.Column("action", TEXT, nullable=False),
        sa.Column("subject", TEXT, nullable=False),
        sa.Column("before", TEXT),
        sa.Column("after", TEXT),
        sa.Column("request", TEXT, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_audit_entries"),
        sqlite_autoincrement=True,
    )
    for other in ("subject", "actor"):
        op.create_index(f"ix_audit_entries_{other}_id", "audit_entries", [other, "id"])
    if op.get_bind().dialect.name == "sqlite":
        _triggers_of_sqlite()
    else:
        _triggers_of_postgresql()


def _triggers_of_sqlite() -> None:
    refuse = f"BEGIN SELECT RAISE(ABORT, '{NEVER}'); END"
    for name, deed in (("stay_as_they_are", "UPDATE"), ("stay", "DELETE")):
        op.execute(
            f"CREATE TRIGGER audit_entries_{name} BEFORE {deed} ON audit_entries "
            + refuse
        )
    # INSERT OR REPLACE removes rows, and asks no trigger for deleting about it.
    op.execute(
        "CREATE TRIGGER audit_entries_are_not_replaced "  # noqa: S608 - our own words
        "BEFORE INSERT ON audit_entries "
        "WHEN EXISTS (SELECT 1 FROM audit_entries WHERE id = NEW.id) " + refuse
    )


def _triggers_of_postgresql() -> None:
    # TRUNCATE is left to the table's owner: restoring a backup needs it.
    op.execute(
        "CREATE FUNCTION refuse_to_change_the_audit_trail() RETURNS trigger "
        f"LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION '{NEVER}' "
        "USING ERRCODE = 'integrity_constraint_violation'; END $$"
    )
    op.execute(
        "CREATE TRIGGER audit_entries_stay BEFORE UPDATE OR DELETE ON audit_entries "
        "FOR EACH ROW EXECUTE FUNCTION refuse_to_change_the_audit_trail()"
    )
