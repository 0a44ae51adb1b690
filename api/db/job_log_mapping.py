"""Rows of what was written down for jobs to values and back."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

import orjson

from api.db.mapping import AnyRow, Values
from api.ports.jobs import LoggedAttempt, LoggedCoins, StageTimer
from pricing.money import tidy


def attempt(row: AnyRow) -> LoggedAttempt:
    """An attempt; its masses as the scale showed them."""
    minutes = orjson.loads(row.minutes)
    return LoggedAttempt(
        n=row.n,
        line=row.line,
        outcome=row.outcome,
        stage=row.stage,
        minutes={stage: Decimal(figure) for stage, figure in minutes.items()},
        visits=orjson.loads(row.visits),
        slug_g=_mass(row.slug_g),
        bored_g=_mass(row.bored_g),
        finished_g=_mass(row.finished_g),
        note=row.note,
        entry=row.entry,
        at=row.at,
    )


def _mass(value: Decimal | None) -> Decimal | None:
    return None if value is None else tidy(value)


def attempt_values(job: int, attempt: LoggedAttempt) -> Values:
    """The columns of an attempt."""
    return {
        "job": job,
        "n": attempt.n,
        "line": attempt.line,
        "outcome": attempt.outcome,
        "stage": attempt.stage,
        "minutes": _text({k: f"{v:f}" for k, v in attempt.minutes.items()}),
        "visits": _text(attempt.visits),
        "slug_g": attempt.slug_g,
        "bored_g": attempt.bored_g,
        "finished_g": attempt.finished_g,
        "note": attempt.note,
        "entry": attempt.entry,
        "at": attempt.at,
    }


def _text(members: Mapping[str, object]) -> str:
    if not members:
        return "{}"
    return orjson.dumps(members, option=orjson.OPT_SORT_KEYS).decode()


def coins(row: AnyRow) -> LoggedCoins:
    """Coins taken for a line."""
    return LoggedCoins(
        line=row.line, count=row.coins, unit_cost=tidy(row.unit_cost), entry=row.entry
    )


def coins_values(job: int, n: int, coins: LoggedCoins) -> Values:
    """The columns of coins taken."""
    return {
        "job": job,
        "n": n,
        "line": coins.line,
        "coins": coins.count,
        "unit_cost": coins.unit_cost,
        "entry": coins.entry,
    }


def timer(row: AnyRow) -> StageTimer:
    """A stopwatch that runs."""
    return StageTimer(
        line=row.line,
        stage=row.stage,
        started_at=row.started_at,
        started_by=row.started_by,
    )
