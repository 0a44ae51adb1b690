"""The tables of the bench log: jobs, what was done for them, what came of it.

What a completed job came to is worked out once and stands in `jobs`, `job_lines` and
`job_stages`, so that a week is a few sums over them however many jobs it had. An
open job has no rows in the last two.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    Boolean,
    CheckConstraint,
    Column,
    Date,
    ForeignKey,
    Index,
    Integer,
    Table,
    Text,
    UniqueConstraint,
)

from api.db.metadata import metadata
from api.db.quote_tables import MONEY_SCALE
from api.db.repricing_tables import RATE_SCALE
from api.db.types import Identity64, ScaledDecimal, UtcDateTime

MINUTES_SCALE = 6
MASS_SCALE = 4
CHANCE_SCALE = 9
"""Decimal places of chances, ratios and expected coins."""

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
"""What a difference between planned and realised margin is made of."""


def _money(name: str, *, known: bool = True) -> Column[Any]:
    return Column(name, ScaledDecimal(MONEY_SCALE), nullable=not known)


def _minutes(name: str, *, known: bool = True) -> Column[Any]:
    return Column(name, ScaledDecimal(MINUTES_SCALE), nullable=not known)


def _parts(*, known: bool) -> list[Column[Any]]:
    return [_money(f"part_{name}", known=known) for name in PARTS]


jobs = Table(
    "jobs",
    metadata,
    Column("seq", Identity64, primary_key=True),
    Column("id", Text, nullable=False, unique=True),
    Column("number", Text, nullable=False, unique=True),
    Column("reference", Text, unique=True),  # what the maker's own files call it
    Column("status", Text, nullable=False),
    Column("version", Integer, nullable=False),
    Column("quote_id", Text, ForeignKey("quotes.id"), unique=True),
    Column("sku", Text),  # stays when the listing goes
    Column("title", Text, nullable=False),
    Column("created_at", UtcDateTime, nullable=False),
    Column("created_by", Text, nullable=False),
    Column("completed_at", UtcDateTime),
    Column("completed_by", Text, nullable=False),
    Column("completed_day", Date),  # in the workshop's time zone
    Column("week", Text),  # ISO 8601, of that day
    Column("currency", Text, nullable=False),
    Column("pieces", Integer, nullable=False),
    Column("floor_margin", ScaledDecimal(RATE_SCALE), nullable=False),
    _money("planned_revenue"),
    _money("planned_cost"),
    _money("planned_margin"),
    _minutes("planned_minutes"),
    Column("plan", Text, nullable=False),
    Column("money", Text, nullable=False),
    Column("coins_used", ScaledDecimal(CHANCE_SCALE)),
    _money("realised_revenue", known=False),
    _money("realised_cost", known=False),
    _money("realised_margin", known=False),
    *_parts(known=False),
    _minutes("minutes", known=False),
    _money("labour", known=False),
    Column("under_floor", Boolean),
    Column("cause", Text),
    Column("assumed", Text),
    Column("search", Text, nullable=False),  # number, reference, title, without case
    CheckConstraint("status IN ('open', 'completed')", name="status_known"),
    CheckConstraint("version >= 1", name="version_counts"),
    CheckConstraint("pieces >= 1", name="pieces_counted"),
    CheckConstraint("(quote_id IS NULL) <> (sku IS NULL)", name="one_origin"),
    *(
        CheckConstraint(
            f"(status = 'completed') = ({name} IS NOT NULL)", name=f"{name}_known"
        )
        for name in ("completed_at", "completed_day", "week", "realised_margin")
    ),
    Index("ix_jobs_status_seq", "status", "seq"),
    Index("ix_jobs_week_seq", "week", "seq"),
    Index("ix_jobs_completed_day", "completed_day"),
    sqlite_autoincrement=True,
)

job_numbers = Table(
    "job_numbers",
    metadata,
    Column("year", Integer, primary_key=True, autoincrement=False),
    Column("last", Integer, nullable=False),
    CheckConstraint("last >= 1", name="last_counts"),
)

job_attempts = Table(
    "job_attempts",
    metadata,
    Column(
        "job", Identity64, ForeignKey("jobs.seq"), primary_key=True, autoincrement=False
    ),
    Column("n", Integer, primary_key=True, autoincrement=False),
    Column("line", Integer, nullable=False),
    Column("outcome", Text, nullable=False),
    Column("stage", Text),
    Column("minutes", Text, nullable=False),
    Column("visits", Text, nullable=False),
    Column("slug_g", ScaledDecimal(MASS_SCALE)),
    Column("bored_g", ScaledDecimal(MASS_SCALE)),
    Column("finished_g", ScaledDecimal(MASS_SCALE)),
    Column("note", Text, nullable=False),
    Column("entry", Text),  # by which a file that comes again is known
    Column("at", UtcDateTime, nullable=False),
    UniqueConstraint("job", "entry"),
    CheckConstraint("outcome IN ('open', 'good', 'scrapped')", name="outcome_known"),
    CheckConstraint("(outcome = 'scrapped') = (stage IS NOT NULL)", name="stage_known"),
    CheckConstraint("line >= 0", name="line_counted"),
    CheckConstraint("n >= 1", name="n_counts"),
    sqlite_with_rowid=False,
)

job_coins = Table(
    "job_coins",
    metadata,
    Column(
        "job", Identity64, ForeignKey("jobs.seq"), primary_key=True, autoincrement=False
    ),
    Column("n", Integer, primary_key=True, autoincrement=False),
    Column("line", Integer, nullable=False),
    Column("coins", Integer, nullable=False),
    Column("unit_cost", ScaledDecimal(MONEY_SCALE), nullable=False),
    Column("entry", Text),  # as of attempts
    UniqueConstraint("job", "entry"),
    CheckConstraint("coins >= 1", name="coins_counted"),
    CheckConstraint("line >= 0", name="line_counted"),
    sqlite_with_rowid=False,
)

stage_timers = Table(
    "stage_timers",
    metadata,
    # One running timer a job.
    Column(
        "job", Identity64, ForeignKey("jobs.seq"), primary_key=True, autoincrement=False
    ),
    Column("line", Integer, nullable=False),
    Column("stage", Text, nullable=False),
    Column("started_at", UtcDateTime, nullable=False),
    Column("started_by", Text, nullable=False),
)

job_lines = Table(
    "job_lines",
    metadata,
    Column(
        "job", Identity64, ForeignKey("jobs.seq"), primary_key=True, autoincrement=False
    ),
    Column("line", Integer, primary_key=True, autoincrement=False),
    Column("coin", Text, nullable=False),
    Column("coin_name", Text, nullable=False),
    Column("size_us", ScaledDecimal(CHANCE_SCALE), nullable=False),
    Column("pieces", Integer, nullable=False),
    Column("coins_planned", ScaledDecimal(CHANCE_SCALE), nullable=False),
    Column("coins_used", ScaledDecimal(CHANCE_SCALE), nullable=False),
    _money("planned_margin"),
    _money("realised_margin"),
    *_parts(known=True),
    # Scale readings: how many, and the sums of actual over model and its square.
    *(
        column
        for what in ("slug", "bored")
        for column in (
            Column(f"{what}_n", Integer, nullable=False),
            Column(f"{what}_ratio", ScaledDecimal(CHANCE_SCALE), nullable=False),
            Column(f"{what}_ratio_sq", ScaledDecimal(CHANCE_SCALE), nullable=False),
        )
    ),
    sqlite_with_rowid=False,
)

job_stages = Table(
    "job_stages",
    metadata,
    Column(
        "job", Identity64, ForeignKey("jobs.seq"), primary_key=True, autoincrement=False
    ),
    Column("line", Integer, primary_key=True, autoincrement=False),
    Column("stage", Text, primary_key=True),
    Column("title", Text, nullable=False),
    Column("tried", Integer, nullable=False),
    Column("failed", Integer, nullable=False),
    Column("counted", Integer, nullable=False),
    Column("redone", Integer, nullable=False),
    Column("timed", Integer, nullable=False),
    _minutes("minutes"),
    _minutes("planned_minutes"),
    Column("difference_sq", ScaledDecimal(MINUTES_SCALE), nullable=False),
    _money("labour_efficiency"),
    Column("scrap_chance", ScaledDecimal(CHANCE_SCALE), nullable=False),
    Column("redo_chance", ScaledDecimal(CHANCE_SCALE)),
    sqlite_with_rowid=False,
)
