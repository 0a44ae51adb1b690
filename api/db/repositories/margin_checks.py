"""The margin check's sums: a few GROUP BYs over what completed jobs came to."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    Row,
    Select,
    and_,
    case,
    func,
    or_,
    select,
)

from api.db.job_mapping import parts_of
from api.db.job_tables import PARTS, job_coins, job_lines, jobs
from api.db.quote_tables import quotes
from api.db.repositories.job_evidence import evidence, readings, stages
from api.ports.margin_checks import (
    CheckedJob,
    CoinReadings,
    CoinSums,
    JobSums,
    PromisedQuote,
    RingMade,
    Span,
    StageSums,
)
from pricing.money import tidy

_MONEY = (
    "planned_revenue", "planned_cost", "planned_margin", "realised_revenue",
    "realised_cost", "realised_margin", "labour",
)  # fmt: skip


class MarginCheckRepository:
    """What completed jobs came to, in one transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def sums(self, span: Span) -> tuple[JobSums, ...]:
        """All of the span together, a currency each."""
        query = _summed(span).group_by(jobs.c.currency).order_by(jobs.c.currency)
        return tuple(_job_sums(row, None) for row in self._connection.execute(query))

    def weekly(self, span: Span, currency: str) -> tuple[JobSums, ...]:
        """Each week that has any, the oldest first."""
        query = _summed(span).where(jobs.c.currency == currency)
        query = query.add_columns(jobs.c.week).group_by(jobs.c.week, jobs.c.currency)
        rows = self._connection.execute(query.order_by(jobs.c.week))
        return tuple(_job_sums(row, row.week) for row in rows)

    def coins(self, span: Span, currency: str) -> tuple[CoinSums, ...]:
        """By coin, the one that lost most first."""
        lines = job_lines.c
        summed = ["pieces", "coins_planned", "coins_used", "planned_margin"]
        summed += ["realised_margin", *(f"part_{name}" for name in PARTS)]
        margin = func.sum(lines.realised_margin) - func.sum(lines.planned_margin)
        query = select(
            lines.coin,
            func.max(lines.coin_name).label("coin_name"),
            *(func.sum(lines[name]).label(name) for name in summed),
        )
        query = _joined(query, job_lines, span).where(jobs.c.currency == currency)
        query = query.group_by(lines.coin).order_by(margin, lines.coin)
        return tuple(
            CoinSums(
                coin=row.coin,
                coin_name=row.coin_name,
                pieces=int(row.pieces),
                coins_planned=tidy(row.coins_planned),
                coins_used=tidy(row.coins_used, places=0),
                planned_margin=tidy(row.planned_margin),
                margin=tidy(row.realised_margin),
                parts=parts_of(row),
            )
            for row in self._connection.execute(query)
        )

    def stages(self, span: Span, currency: str) -> tuple[StageSums, ...]:
        """By stage, under any version of the price book."""
        return stages(self._connection, [*_within(span), jobs.c.currency == currency])

    def jobs(self, span: Span, currency: str, *, limit: int) -> tuple[CheckedJob, ...]:
        """At most so many, those under their floor first, then what lost most."""
        names = ("id", "number", "title", "completed_day", "pieces", "planned_margin",
                 "realised_margin", "realised_revenue", "minutes", "planned_minutes",
                 "floor_margin", "under_floor", "cause", "assumed",
                 *(f"part_{name}" for name in PARTS))  # fmt: skip
        query = select(*(jobs.c[name] for name in names))
        query = query.where(*_within(span), jobs.c.currency == currency)
        change = jobs.c.realised_margin - jobs.c.planned_margin
        query = query.order_by(jobs.c.under_floor.desc(), change, jobs.c.seq)
        return tuple(map(_checked, self._connection.execute(query.limit(limit))))

    def evidence(self, span: Span) -> tuple[StageSums, ...]:
        """By stage and the version of the price book that planned it."""
        return evidence(self._connection, _within(span))

    def readings(self, span: Span) -> tuple[CoinReadings, ...]:
        """By coin and version of the price book; only coins that have a key."""
        return readings(self._connection, _within(span))

    def most_made(self, span: Span, *, limit: int) -> tuple[RingMade, ...]:
        """Rings by how many were made, most first; only coins that have a key."""
        lines = job_lines.c
        pieces = func.sum(lines.pieces)
        query: Select[Any] = select(
            lines.coin,
            func.max(lines.coin_name).label("coin_name"),
            lines.size_us,
            pieces.label("pieces"),
        )
        query = _joined(query, job_lines, span).where(lines.coin != "")
        query = query.group_by(lines.coin, lines.size_us)
        query = query.order_by(pieces.desc(), lines.coin, lines.size_us).limit(limit)
        return tuple(
            RingMade(
                coin=row.coin,
                coin_name=row.coin_name,
                size_us=tidy(row.size_us),
                pieces=int(row.pieces),
            )
            for row in self._connection.execute(query)
        )

    def promised(self, now: datetime, *, limit: int) -> tuple[PromisedQuote, ...]:
        """At most so many, the newest first."""
        taken = select(func.sum(job_coins.c.coins)).where(job_coins.c.job == jobs.c.seq)
        query = (
            select(
                quotes.c.number,
                quotes.c.status,
                quotes.c.document,
                taken.scalar_subquery().label("taken"),
            )
            .join(jobs, jobs.c.quote_id == quotes.c.id, isouter=True)
            .where(_promised(now))
            .order_by(quotes.c.seq.desc())
            .limit(limit)
        )
        return tuple(
            PromisedQuote(
                number=row.number,
                accepted=row.status == "accepted",
                document=row.document,
                coins_taken=int(row.taken or 0),
            )
            for row in self._connection.execute(query)
        )


def _promised(now: datetime) -> ColumnElement[bool]:
    """Whether a quote may still have to be kept, and is not yet."""
    valid = and_(quotes.c.status == "open", quotes.c.valid_until > now)
    unkept = or_(jobs.c.seq.is_(None), jobs.c.status == "open")
    return or_(valid, and_(quotes.c.status == "accepted", unkept))


def _within(span: Span) -> tuple[ColumnElement[bool], ...]:
    day = jobs.c.completed_day  # of no other job is it known
    return day >= span.first, day <= span.last


def _joined(query: Select[Any], table: Any, span: Span) -> Select[Any]:
    return query.join_from(jobs, table, table.c.job == jobs.c.seq).where(*_within(span))


def _summed(span: Span) -> Select[Any]:
    counted = ("pieces", "coins_used", "minutes", "planned_minutes")
    names = (*_MONEY, *counted, *(f"part_{name}" for name in PARTS))
    return select(
        jobs.c.currency,
        func.count().label("jobs"),
        func.sum(case((jobs.c.under_floor, 1), else_=0)).label("under"),
        *(func.sum(jobs.c[name]).label(name) for name in names),
    ).where(*_within(span))


def _job_sums(row: Row[Any], week: str | None) -> JobSums:
    return JobSums(
        currency=row.currency,
        jobs=row.jobs,
        pieces=int(row.pieces),
        coins_used=tidy(row.coins_used, places=0),
        under_floor=int(row.under),
        planned_revenue=tidy(row.planned_revenue),
        planned_cost=tidy(row.planned_cost),
        planned_margin=tidy(row.planned_margin),
        revenue=tidy(row.realised_revenue),
        cost=tidy(row.realised_cost),
        margin=tidy(row.realised_margin),
        parts=parts_of(row),
        minutes=tidy(row.minutes),
        planned_minutes=tidy(row.planned_minutes),
        labour=tidy(row.labour),
        week=week,
    )


def _checked(row: Row[Any]) -> CheckedJob:
    return CheckedJob(
        id=row.id,
        number=row.number,
        title=row.title,
        completed_day=row.completed_day,
        pieces=row.pieces,
        planned_margin=tidy(row.planned_margin),
        margin=tidy(row.realised_margin),
        revenue=tidy(row.realised_revenue),
        parts=parts_of(row),
        minutes=tidy(row.minutes),
        planned_minutes=tidy(row.planned_minutes),
        floor_margin=tidy(row.floor_margin),
        under_floor=row.under_floor,
        cause=row.cause,
        assumed=tuple(json.loads(row.assumed)),
    )
