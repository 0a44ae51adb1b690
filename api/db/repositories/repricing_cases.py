"""The cases of a run, written by the thousand.

References:
    [1] Measured for 5,000 cases: by the plain driver they take half the time of the
        same through Core, which looks up and calls a converter for every value. On
        PostgreSQL one array a column takes a quarter of a row at a time, and half of
        that was the driver looking through every number for what has to be quoted.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from functools import lru_cache
from typing import Any

from sqlalchemy import Connection

from api.db.quote_tables import MONEY_SCALE
from api.db.repricing_mapping import MOVING
from api.db.repricing_tables import RATE_SCALE, repricing_cases
from api.db.types import PRICE_SCALE, scaled
from api.ports import RepricingCase

_NAMES = ", ".join(column.name for column in repricing_cases.c)
_INTO = f"INSERT INTO {repricing_cases.name} ({_NAMES})"
_MARKS = ", ".join("?" for _ in repricing_cases.c)
_BY_ROW = f"{_INTO} VALUES ({_MARKS})"
_ARRAYS = (
    "%s::bigint[], %s::bigint[], %s::bigint[], %s::bigint[], %s::boolean[], "
    "%s::bigint[], %s::bigint[], %s::text[], %s::text[], %s::bigint[]"
)
_BY_COLUMN = f"{_INTO} SELECT * FROM unnest({_ARRAYS})"  # noqa: S608 - our own words

_stored = lru_cache(4096)(scaled)  # prices and margins come again and again


def add_cases(connection: Connection, run: int, cases: Iterable[RepricingCase]) -> None:
    """Write the cases of a run, see [1]."""
    rows = [_row(run, each) for each in cases]
    if not rows:
        return
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql(_BY_ROW, rows)
        return
    columns = zip(repricing_cases.c, zip(*rows, strict=True), strict=True)
    given = tuple(
        [*values] if column.name == "reason" else _plain(values)
        for column, values in columns
    )
    connection.exec_driver_sql(_BY_COLUMN, given)


def _plain(values: Iterable[Any]) -> str:
    """An array of what needs no quotes: numbers, truths, decisions."""
    told = ("NULL" if value is None else str(value) for value in values)
    return f"{{{','.join(told)}}}"


def _row(run: int, case: RepricingCase) -> Sequence[Any]:
    """In the order of the columns."""
    floor = case.spot_at_floor
    return (
        run,
        case.spec,
        _stored(case.old_price, MONEY_SCALE),
        _whole(case.new_price, MONEY_SCALE),
        case.decision in MOVING,
        _whole(case.old_margin, RATE_SCALE),
        _whole(case.new_margin, RATE_SCALE),
        case.decision,
        case.reason,
        None if floor is None else scaled(floor, PRICE_SCALE),
    )


def _whole(value: Decimal | None, scale: int) -> int | None:
    return None if value is None else _stored(value, scale)
