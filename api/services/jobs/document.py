"""A job as it is told, to the bench alone: what was planned, done and come of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict
from decimal import Decimal
from typing import Any

from api.ports.jobs import Job, JobLog, JobResult, LoggedAttempt, LoggedCoins
from api.services.jobs.plan import plan_members
from api.services.jobs.terms import read_money
from pricing import money
from pricing.money import Currency

_LINE = (
    *("coin", "coin_name", "size", "pieces", "coins"),
    *("coin_amount", "recovery", "labour", "overhead", "minutes"),
    *("consumables_and_tools", "other", "slug_g", "bored_g", "goods"),
)
_STAGE = ("key", "title", "minutes", "minutes_per_try", "scrap_chance", "redo_chance")
_PLAN = ("sold_price", "shipping_charged", "tax", "fees", "shipping_paid")


def job_document(job: Job, log: JobLog) -> dict[str, Any]:
    """The whole of a job."""
    return {
        **job_summary(job),
        "plan": _plan(job),
        **asdict(read_money(job.money)),
        "coins": [coins_document(each) for each in log.coins],
        "attempts": [attempt_document(each) for each in log.attempts],
        "timer": None if log.timer is None else asdict(log.timer),
    }


def job_summary(job: Job) -> dict[str, Any]:
    """A job as it stands in a list: without what was written down for it."""
    unit = money.currency(job.currency)
    planned = {
        "revenue": in_unit(job.planned_revenue, unit),
        "cost": in_unit(job.planned_cost, unit),
        "margin": in_unit(job.planned_margin, unit),
        "minutes": money.minutes(job.planned_minutes),
    }
    return {
        "id": job.id,
        "number": job.number,
        "reference": job.reference,
        "status": job.status,
        "version": job.version,
        "quote_id": job.quote_id,
        "sku": job.sku,
        "title": job.title,
        "created_at": job.created_at,
        "created_by": job.created_by,
        "completed_at": job.completed_at,
        "completed_by": job.completed_by,
        "completed_day": job.completed_day,
        "week": job.week,
        "currency": job.currency,
        "pieces": job.pieces,
        "planned": planned,
        "realised": None if job.result is None else _result(job.result, unit),
    }


def attempt_document(attempt: LoggedAttempt) -> dict[str, Any]:
    """One attempt."""
    names = ("n", "line", "outcome", "stage", "minutes", "visits", "note", "at")
    masses = ("slug_g", "bored_g", "finished_g")
    return {name: getattr(attempt, name) for name in (*names, *masses)}


def coins_document(coins: LoggedCoins) -> dict[str, Any]:
    """Coins that were taken."""
    return {"line": coins.line, "count": coins.count, "unit_cost": coins.unit_cost}


def in_unit(amount: Decimal, unit: Currency) -> Decimal:
    """An amount with the decimals of its currency, or more where it has more."""
    return money.tidy(amount, places=unit.minor_units)


def bridge(parts: Mapping[str, Decimal], unit: Currency) -> list[dict[str, Any]]:
    """The parts of the difference between two margins, in their order."""
    return [{"part": x, "amount": in_unit(y, unit)} for x, y in parts.items()]


def _result(result: JobResult, unit: Currency) -> dict[str, Any]:
    return {
        "revenue": in_unit(result.revenue, unit),
        "cost": in_unit(result.cost, unit),
        "margin": in_unit(result.margin, unit),
        "coins": money.tidy(result.coins_used, places=0),
        "minutes": result.minutes,
        "labour": in_unit(result.labour, unit),
        "bridge": bridge(result.parts, unit),
        "under_floor": result.under_floor,
        "cause": result.cause,
        "assumed": result.assumed,
    }


def _plan(job: Job) -> dict[str, Any]:
    members = plan_members(job.plan)
    return {
        **{name: Decimal(members[name]) for name in _PLAN},
        "floor_margin": job.floor_margin,
        "lines": [_plan_line(each) for each in members["lines"]],
    }


def _plan_line(line: Mapping[str, Any]) -> dict[str, Any]:
    size = {**line["size"], "us": Decimal(line["size"]["us"])}
    return {
        **_exact(line, _LINE),
        "size": size,
        "stages": [_exact(x, _STAGE) for x in line["stages"]],
    }


_WORDS = frozenset({"coin", "coin_name", "size", "pieces", "key", "title"})


def _exact(members: Mapping[str, Any], names: Iterable[str]) -> dict[str, Any]:
    """Members of a kept document; its figures are kept as text."""
    return {
        name: members[name]
        if name in _WORDS or members[name] is None
        else Decimal(members[name])
        for name in names
    }
