"""Rows from one database to another in batches, with checksums that both agree on.

Rows are read in the order of their primary key, texts by their bytes, so that
SQLite and PostgreSQL give them in one order.

References:
    [1] PostgreSQL, "Collation Support": "C" compares the bytes of a text. SQLite
        does so by default.
    [2] PostgreSQL, "ALTER SEQUENCE": RESTART is undone with its transaction, and
        setval() is not.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import orjson
from sqlalchemy import (
    ColumnElement,
    Connection,
    Row,
    Table,
    Text,
    delete,
    func,
    insert,
    select,
    text,
)

from api.db.tables import job_numbers, metadata, quote_numbers, revisions
from api.db.types import UtcDateTime
from api.ports.backups import Contents, TableTold

BATCH = 500
"""Rows held at a time."""
MARGIN = 1000
"""How far counters are raised: more than is counted while a restore goes on."""

NUMBERS = (job_numbers, quote_numbers)
"""Of what people know by a number and its year: the last one of each year."""

_NOT_RECORDED = {"expires_at"}


@dataclass(frozen=True, slots=True, kw_only=True)
class HandedOut:
    """What a database has counted, and may not count again after a restore.

    Attributes:
        counters: of changes, by name.
        ids: the last of each table, by its name.
        numbers: the last of each table of numbers and year.
    """

    counters: Mapping[str, int] = field(default_factory=dict)
    ids: Mapping[str, int] = field(default_factory=dict)
    numbers: Mapping[tuple[str, int], int] = field(default_factory=dict)


def content_tables() -> tuple[Table, ...]:
    """Every table that holds content, by name.

    Counters are left out: those of changes say when to read again, those of quotes
    and jobs which numbers people hold already. A restore raises both, so that they
    differ from the backup's where nothing is amiss.
    """
    tables = (metadata.tables[name] for name in sorted(metadata.tables))
    return tuple(table for table in tables if table not in {revisions, *NUMBERS})


def contents(
    connection: Connection, schema: str, *, checksums: bool = True
) -> Contents:
    """What the tables of this program hold.

    Args:
        connection: in a transaction, so that it is one consistent view.
        schema: revision of the tables, which has to be the newest.
        checksums: work them out, which reads every row.
    """
    told = _summed if checksums else _counted
    return Contents(
        schema=schema,
        tables=tuple(told(connection, table) for table in content_tables()),
        newest=_newest(connection),
    )


def copy_rows(source: Connection, target: Connection) -> None:
    """Every row of every table, into tables that are empty."""
    for table in metadata.sorted_tables:  # what is referred to comes first
        for batch in _batches(source, table):
            target.execute(insert(table), [dict(row._mapping) for row in batch])  # noqa: SLF001 - its public name


def handed_out(connection: Connection) -> HandedOut:
    """What has been counted here."""
    return HandedOut(
        counters=counters(connection),
        ids=last_ids(connection),
        numbers=last_numbers(connection),
    )


def last_ids(connection: Connection) -> dict[str, int]:
    """The last id that each table handed out, by the table's name; 0 for none."""
    return {
        table.name: _last_id(connection, table)
        for table in content_tables()
        if table.autoincrement_column is not None
    }


def raise_last_ids(connection: Connection, least: Mapping[str, int]) -> None:
    """Let no table hand out an id again that is in ``least`` or in its rows."""
    for table in content_tables():
        column = table.autoincrement_column
        if column is None:
            continue
        used = connection.execute(select(func.max(column))).scalar_one() or 0
        last = max(used, least.get(table.name, 0), _last_id(connection, table))
        if last:
            _set_last_id(connection, table, last)


def counters(connection: Connection) -> dict[str, int]:
    """The counters of changes by name."""
    rows = connection.execute(select(revisions.c.name, revisions.c.revision))
    return {row.name: row.revision for row in rows}


def raise_counters(connection: Connection, others: Mapping[str, int]) -> None:
    """Bring every counter above what it was here and in ``others``.

    Whoever holds something in memory then finds that all of it has changed.
    """
    for name, count in counters(connection).items():
        above = max(count, others.get(name, 0)) + MARGIN
        change = revisions.update().where(revisions.c.name == name)
        connection.execute(change.values(revision=above))


def last_numbers(connection: Connection) -> dict[tuple[str, int], int]:
    """The last number handed out in each year, by the name of its table."""
    return {
        (table.name, row.year): row.last
        for table in NUMBERS
        for row in connection.execute(select(table.c.year, table.c.last))
    }


def raise_last_numbers(
    connection: Connection, least: Mapping[tuple[str, int], int]
) -> None:
    """Let nothing have a number that was handed out, here or in ``least``."""
    here = last_numbers(connection)
    for table in NUMBERS:
        rows = [
            {"year": year, "last": max(here.get(each, 0), least.get(each, 0))}
            for each in sorted(here.keys() | least.keys())
            for name, year in [each]
            if name == table.name
        ]
        connection.execute(delete(table))
        if rows:
            connection.execute(insert(table), rows)


def _batches(connection: Connection, table: Table) -> Iterator[Sequence[Row[Any]]]:
    order = [_by_bytes(connection, column) for column in table.primary_key]
    query = select(table).order_by(*order)
    options = {"yield_per": BATCH}  # a cursor of the server's, where it has them
    with connection.execute(query, execution_options=options) as result:
        yield from result.partitions()


def _by_bytes(connection: Connection, column: ColumnElement[Any]) -> ColumnElement[Any]:
    if connection.dialect.name == "postgresql" and isinstance(column.type, Text):
        return column.collate("C")  # see [1]
    return column


def _summed(connection: Connection, table: Table) -> TableTold:
    rows, digest = 0, hashlib.sha256()
    for batch in _batches(connection, table):
        rows += len(batch)
        for row in batch:
            line = orjson.dumps(list(row), default=str)
            digest.update(line + b"\n")
    return TableTold(name=table.name, rows=rows, sha256=digest.hexdigest())


def _counted(connection: Connection, table: Table) -> TableTold:
    rows = connection.execute(select(func.count()).select_from(table)).scalar_one()
    return TableTold(name=table.name, rows=rows)


def _newest(connection: Connection) -> datetime | None:
    moments = [
        connection.execute(select(func.max(column))).scalar_one()
        for table in content_tables()
        for column in table.columns
        if isinstance(column.type, UtcDateTime) and _says_when(column.name)
    ]
    return max((moment for moment in moments if moment), default=None)


def _says_when(name: str) -> bool:
    return name == "at" or (name.endswith("_at") and name not in _NOT_RECORDED)


def _last_id(connection: Connection, table: Table) -> int:
    if connection.dialect.name == "sqlite":
        query = text("SELECT seq FROM sqlite_sequence WHERE name = :name")
        found = connection.execute(query, {"name": table.name}).scalar_one_or_none()
    else:
        sequence = _sequence(connection, table)
        # Until it is called, a sequence tells the number it will give.
        called = f"SELECT last_value - (NOT is_called)::int FROM {sequence}"  # noqa: S608 - quoted by the database
        found = connection.execute(text(called)).scalar_one_or_none()
    return found or 0


def _set_last_id(connection: Connection, table: Table, last: int) -> None:
    if connection.dialect.name == "sqlite":
        found = {"name": table.name, "last": last}
        connection.execute(
            text("DELETE FROM sqlite_sequence WHERE name = :name"), found
        )
        change = "INSERT INTO sqlite_sequence (name, seq) VALUES (:name, :last)"
        connection.execute(text(change), found)
    else:
        sequence = _sequence(connection, table)
        connection.execute(
            text(f"ALTER SEQUENCE {sequence} RESTART WITH {last + 1}")
        )  # see [2]


def _sequence(connection: Connection, table: Table) -> str:
    column = table.autoincrement_column
    names = {"table": table.name, "column": "" if column is None else column.name}
    query = text("SELECT pg_get_serial_sequence(:table, :column)")
    return str(connection.execute(query, names).scalar_one())
