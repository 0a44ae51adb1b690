"""A margin check as a table: the whole, then weeks, coins, stages and jobs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any

from api.ports.margin_checks import CheckedJob, CoinSums, JobSums, StageSums
from api.services.csv_cells import harmless
from api.services.csv_table import PLAIN, CsvForm, written
from api.services.jobs.document import in_unit
from api.services.margin_checks.check import MarginCheck
from pricing.margin_check.outcome import PARTS
from pricing.money import Currency

COLUMNS = (
    "rows_of", "key", "title", "from", "to", "currency", "jobs", "pieces",
    "coins_planned", "coins", "planned_margin", "margin", *PARTS, "planned_minutes",
    "minutes", "tried", "failed", "redone", "timed", "under_floor", "cause",
)  # fmt: skip
"""Headings; a cell that does not apply to a row is empty."""

Cells = Mapping[str, Any]


def csv_text(check: MarginCheck, form: CsvForm = PLAIN) -> str:
    """The file as one text.

    Args:
        check: with as many jobs as are to be listed.
        form: how it is written; its headings are our names.
    """
    head = written(COLUMNS, form.delimiter)
    rows = (_cells(row, form) for row in _rows(check))
    return head + "".join(written(row, form.delimiter) for row in rows)


def _rows(check: MarginCheck) -> Iterator[Cells]:
    unit, span = check.currency, check.span
    days = {"from": span.first, "to": span.last, "currency": unit.code}
    yield {"rows_of": "all", "key": check.name, **days, **_sums(check.sums, unit)}
    for week in check.trend:
        yield {"rows_of": "week", "key": week.week, **_sums(week, unit)}
    for coin in check.coins:
        yield {"rows_of": "coin", **_coin(coin, unit)}
    for stage in check.stages:
        yield {"rows_of": "stage", **_stage(stage, unit)}
    for job in check.jobs:
        yield {"rows_of": "job", **_job(job, unit)}


def _cells(row: Cells, form: CsvForm) -> Sequence[str]:
    return [_cell(row.get(name), form) for name in COLUMNS]


def _cell(value: Any, form: CsvForm) -> str:
    if value is None:
        return ""
    if isinstance(value, Decimal):
        return format(value, "f").replace(".", form.decimal)
    return harmless(value) if isinstance(value, str) else str(value)


def _parts(parts: Mapping[str, Decimal], unit: Currency) -> Cells:
    return {name: in_unit(amount, unit) for name, amount in parts.items()}


def _sums(sums: JobSums, unit: Currency) -> Cells:
    return {
        "jobs": sums.jobs,
        "pieces": sums.pieces,
        "coins": sums.coins_used,
        "planned_margin": in_unit(sums.planned_margin, unit),
        "margin": in_unit(sums.margin, unit),
        **_parts(sums.parts, unit),
        "planned_minutes": sums.planned_minutes,
        "minutes": sums.minutes,
        "under_floor": sums.under_floor,
    }


def _coin(sums: CoinSums, unit: Currency) -> Cells:
    return {
        "key": sums.coin,
        "title": sums.coin_name,
        "pieces": sums.pieces,
        "coins_planned": sums.coins_planned,
        "coins": sums.coins_used,
        "planned_margin": in_unit(sums.planned_margin, unit),
        "margin": in_unit(sums.margin, unit),
        **_parts(sums.parts, unit),
    }


def _stage(sums: StageSums, unit: Currency) -> Cells:
    names = ("title", "planned_minutes", "minutes", "tried", "failed", "redone")
    return {
        "key": sums.stage,
        **{name: getattr(sums, name) for name in names},
        "timed": sums.timed,
        "labour_efficiency": in_unit(sums.labour_efficiency, unit),
    }


def _job(job: CheckedJob, unit: Currency) -> Cells:
    return {
        "key": job.number,
        "title": job.title,
        "from": job.completed_day,
        "to": job.completed_day,
        "pieces": job.pieces,
        "planned_margin": in_unit(job.planned_margin, unit),
        "margin": in_unit(job.margin, unit),
        **_parts(job.parts, unit),
        "planned_minutes": job.planned_minutes,
        "minutes": job.minutes,
        "under_floor": int(job.under_floor),
        "cause": job.cause,
    }
