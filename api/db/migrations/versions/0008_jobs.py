"""The bench log: jobs, their attempts, coins and timers, and what came of them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"

TEXT = sa.Text()
WHOLE = sa.Integer()
EXACT = sa.BigInteger()
ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
AT = sa.DateTime(timezone=True)

PARTS = (
    "price",
    "fees",
    "metal_price",
    "spoilage",
    "recovery",
    "labour_rate",
    "labour_efficiency",
    "overhead",
    "consumables_and_tools",
    "shipping",
    "tax",
)


def upgrade() -> None:
    """Make the tables."""
    _jobs()
    op.create_index("ix_jobs_status_seq", "jobs", ["status", "seq"])
    op.create_index("ix_jobs_week_seq", "jobs", ["week", "seq"])
    op.create_index("ix_jobs_completed_day", "jobs", ["completed_day"])
    op.create_table(
        "job_numbers",
        sa.Column("year", WHOLE, autoincrement=False, nullable=False),
        sa.Column("last", WHOLE, nullable=False),
        sa.PrimaryKeyConstraint("year", name="pk_job_numbers"),
        sa.CheckConstraint("last >= 1", name=op.f("ck_job_numbers_last_counts")),
    )
    _attempts()
    _coins()
    op.create_table(
        "stage_timers",
        _job(),
        *_columns(WHOLE, "line"),
        *_columns(TEXT, "stage"),
        *_columns(AT, "started_at"),
        *_columns(TEXT, "started_by"),
        *_keys("stage_timers", "job"),
    )
    _lines()
    _stages()


def _columns(
    kind: sa.types.TypeEngine[Any], *names: str, known: bool = True
) -> list[sa.Column[Any]]:
    return [sa.Column(name, kind, nullable=not known) for name in names]


def _parts(*, known: bool) -> list[sa.Column[Any]]:
    return _columns(EXACT, *(f"part_{name}" for name in PARTS), known=known)


def _job() -> sa.Column[int]:
    return sa.Column("job", ID, autoincrement=False, nullable=False)


def _keys(table: str, *names: str) -> Iterable[sa.Constraint]:
    yield sa.PrimaryKeyConstraint(*names, name=f"pk_{table}")
    yield sa.ForeignKeyConstraint(["job"], ["jobs.seq"], name=f"fk_{table}_job_jobs")


def _jobs() -> None:
    op.create_table(
        "jobs",
        sa.Column("seq", ID, autoincrement=True, nullable=False),
        *_columns(TEXT, "id", "number"),
        *_columns(TEXT, "reference", known=False),
        *_columns(TEXT, "status"),
        *_columns(WHOLE, "version"),
        *_columns(TEXT, "quote_id", "sku", known=False),
        *_columns(TEXT, "title"),
        *_columns(AT, "created_at"),
        *_columns(TEXT, "created_by"),
        *_columns(AT, "completed_at", known=False),
        *_columns(TEXT, "completed_by"),
        *_columns(sa.Date(), "completed_day", known=False),
        *_columns(TEXT, "week", known=False),
        *_columns(TEXT, "currency"),
        *_columns(WHOLE, "pieces"),
        *_columns(EXACT, "floor_margin"),
        *_columns(EXACT, "planned_revenue", "planned_cost", "planned_margin"),
        *_columns(EXACT, "planned_minutes"),
        *_columns(TEXT, "plan", "money"),
        *_columns(EXACT, "coins_used", known=False),
        *_columns(EXACT, "realised_revenue", "realised_cost", known=False),
        *_columns(EXACT, "realised_margin", known=False),
        *_parts(known=False),
        *_columns(EXACT, "minutes", "labour", known=False),
        *_columns(sa.Boolean(), "under_floor", known=False),
        *_columns(TEXT, "cause", "assumed", known=False),
        *_columns(TEXT, "search"),
        *_rules_of_jobs(),
        sqlite_autoincrement=True,
    )


def _rules_of_jobs() -> Iterable[sa.Constraint]:
    yield sa.PrimaryKeyConstraint("seq", name="pk_jobs")
    for name in ("id", "number", "reference", "quote_id"):
        yield sa.UniqueConstraint(name, name=f"uq_jobs_{name}")
    yield sa.ForeignKeyConstraint(
        ["quote_id"], ["quotes.id"], name="fk_jobs_quote_id_quotes"
    )
    rules = {
        "status_known": "status IN ('open', 'completed')",
        "version_counts": "version >= 1",
        "pieces_counted": "pieces >= 1",
        "one_origin": "(quote_id IS NULL) <> (sku IS NULL)",
    }
    for name in ("completed_at", "completed_day", "week", "realised_margin"):
        rules[f"{name}_known"] = f"(status = 'completed') = ({name} IS NOT NULL)"
    for name, rule in rules.items():
        yield sa.CheckConstraint(rule, name=op.f(f"ck_jobs_{name}"))


def _attempts() -> None:
    op.create_table(
        "job_attempts",
        _job(),
        sa.Column("n", WHOLE, autoincrement=False, nullable=False),
        *_columns(WHOLE, "line"),
        *_columns(TEXT, "outcome"),
        *_columns(TEXT, "stage", known=False),
        *_columns(TEXT, "minutes", "visits"),
        *_columns(EXACT, "slug_g", "bored_g", "finished_g", known=False),
        *_columns(TEXT, "note"),
        *_columns(TEXT, "entry", known=False),
        *_columns(AT, "at"),
        *_keys("job_attempts", "job", "n"),
        sa.UniqueConstraint("job", "entry", name="uq_job_attempts_job_entry"),
        sa.CheckConstraint(
            "outcome IN ('open', 'good', 'scrapped')",
            name=op.f("ck_job_attempts_outcome_known"),
        ),
        sa.CheckConstraint(
            "(outcome = 'scrapped') = (stage IS NOT NULL)",
            name=op.f("ck_job_attempts_stage_known"),
        ),
        sa.CheckConstraint("line >= 0", name=op.f("ck_job_attempts_line_counted")),
        sa.CheckConstraint("n >= 1", name=op.f("ck_job_attempts_n_counts")),
        sqlite_with_rowid=False,
    )


def _coins() -> None:
    op.create_table(
        "job_coins",
        _job(),
        sa.Column("n", WHOLE, autoincrement=False, nullable=False),
        *_columns(WHOLE, "line", "coins"),
        *_columns(EXACT, "unit_cost"),
        *_columns(TEXT, "entry", known=False),
        *_keys("job_coins", "job", "n"),
        sa.UniqueConstraint("job", "entry", name="uq_job_coins_job_entry"),
        sa.CheckConstraint("coins >= 1", name=op.f("ck_job_coins_coins_counted")),
        sa.CheckConstraint("line >= 0", name=op.f("ck_job_coins_line_counted")),
        sqlite_with_rowid=False,
    )


def _lines() -> None:
    op.create_table(
        "job_lines",
        _job(),
        sa.Column("line", WHOLE, autoincrement=False, nullable=False),
        *_columns(TEXT, "coin", "coin_name"),
        *_columns(EXACT, "size_us"),
        *_columns(WHOLE, "pieces"),
        *_columns(EXACT, "coins_planned", "coins_used"),
        *_columns(EXACT, "planned_margin", "realised_margin"),
        *_parts(known=True),
        *_columns(WHOLE, "slug_n"),
        *_columns(EXACT, "slug_ratio", "slug_ratio_sq"),
        *_columns(WHOLE, "bored_n"),
        *_columns(EXACT, "bored_ratio", "bored_ratio_sq"),
        *_keys("job_lines", "job", "line"),
        sqlite_with_rowid=False,
    )


def _stages() -> None:
    op.create_table(
        "job_stages",
        _job(),
        sa.Column("line", WHOLE, autoincrement=False, nullable=False),
        *_columns(TEXT, "stage", "title"),
        *_columns(WHOLE, "tried", "failed", "counted", "redone", "timed"),
        *_columns(EXACT, "minutes", "planned_minutes", "difference_sq"),
        *_columns(EXACT, "labour_efficiency", "scrap_chance"),
        *_columns(EXACT, "redo_chance", known=False),
        *_keys("job_stages", "job", "line", "stage"),
        sqlite_with_rowid=False,
    )
