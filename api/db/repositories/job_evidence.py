"""What the bench did, apart by the version of the price book that it was planned with.

A job for a quote was planned with the quote's version, one for a listing with the
version that was in force when the job was opened.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    Row,
    Select,
    case,
    func,
    literal,
    select,
)

from api.db.job_tables import job_lines, job_stages, jobs
from api.db.quote_tables import quotes
from api.db.tables import price_book_versions as books
from api.ports.jobs import ReadingSums
from api.ports.margin_checks import CoinReadings, StageSums
from pricing.money import tidy

Conditions = Sequence[ColumnElement[bool]]

_COUNTS = ("tried", "failed", "counted", "redone", "timed")
_FIGURES = ("minutes", "planned_minutes", "difference_sq", "labour_efficiency")
_MOST_VERSIONS = 60
"""Versions that are told apart; those before count as the oldest of them."""

_JOBS_WITH_QUOTES = jobs.join(quotes, quotes.c.id == jobs.c.quote_id, isouter=True)
"""Joined before what there are many of a job, so that a quote is looked up once."""


def stages(connection: Connection, within: Conditions) -> tuple[StageSums, ...]:
    """Sums by stage of the jobs that are ``within``, under any version."""
    return _stages(connection, within, None)


def evidence(connection: Connection, within: Conditions) -> tuple[StageSums, ...]:
    """Sums by stage and version, of the jobs that are ``within``."""
    return _stages(connection, within, _version(connection))


def _stages(
    connection: Connection, within: Conditions, version: Any | None
) -> tuple[StageSums, ...]:
    apart = [job_stages.c.stage, *([] if version is None else [version])]
    summed = [
        func.sum(job_stages.c[name]).label(name) for name in (*_COUNTS, *_FIGURES)
    ]
    title = func.max(job_stages.c.title).label("title")
    source = jobs if version is None else _JOBS_WITH_QUOTES
    query: Select[Any] = select(*apart, title, *summed).select_from(
        source.join(job_stages, job_stages.c.job == jobs.c.seq)
    )
    query = query.where(*within).group_by(*apart)
    rows = connection.execute(query.order_by(*apart))
    return tuple(_stage_sums(row, told=version is not None) for row in rows)


def _stage_sums(row: Row[Any], *, told: bool) -> StageSums:
    counts = {name: int(getattr(row, name)) for name in _COUNTS}
    figures = {name: tidy(getattr(row, name)) for name in _FIGURES}
    found: dict[str, Any] = {**counts, **figures}
    version = row.book_version if told else 0
    return StageSums(stage=row.stage, title=row.title, book_version=version, **found)


def readings(connection: Connection, within: Conditions) -> tuple[CoinReadings, ...]:
    """Sums of scale readings by coin and version, where there are any."""
    version, lines = _version(connection), job_lines.c
    names = [
        f"{what}_{sum_of}"
        for what in ("slug", "bored")
        for sum_of in ("n", "ratio", "ratio_sq")
    ]
    summed = [func.sum(lines[name]).label(name) for name in names]
    query: Select[Any] = select(lines.coin, version, *summed).select_from(
        _JOBS_WITH_QUOTES.join(job_lines, lines.job == jobs.c.seq)
    )
    query = query.where(*within, lines.coin != "")
    query = query.group_by(lines.coin, version).having(
        func.sum(lines.slug_n + lines.bored_n) > 0
    )
    rows = connection.execute(query.order_by(lines.coin, version))
    return tuple(
        CoinReadings(
            coin=row.coin,
            book_version=row.book_version,
            slug=_sums(row, "slug"),
            bored=_sums(row, "bored"),
        )
        for row in rows
    )


def _sums(row: Row[Any], what: str) -> ReadingSums:
    return ReadingSums(
        n=int(getattr(row, f"{what}_n")),
        ratio=getattr(row, f"{what}_ratio"),
        ratio_sq=getattr(row, f"{what}_ratio_sq"),
    )


def _version(connection: Connection) -> Any:
    """The version that a job was planned with, as a column."""
    query = select(books.c.version, books.c.created_at).order_by(books.c.version.desc())
    begun = connection.execute(query.limit(_MOST_VERSIONS)).all()
    oldest = begun[-1].version if begun else 0
    steps = [
        (jobs.c.created_at >= row.created_at, literal(row.version))
        for row in begun[:-1]
    ]
    by_time = case(*steps, else_=literal(oldest)) if steps else literal(oldest)
    return func.coalesce(quotes.c.book_version, by_time).label("book_version")
