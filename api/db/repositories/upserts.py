"""Rows that may be there already; both databases have the same words for it."""

from __future__ import annotations

from sqlalchemy import Column, Connection, Dialect, Table
from sqlalchemy.dialects import postgresql, sqlite

from api.db.mapping import Values


def count_up(connection: Connection, counter: Column[int], row: Values) -> int:
    """Count one more in the row of these key columns, from 1; how many now."""
    count = insert_into(connection.dialect, counter.table).values(
        {**row, counter.name: 1}
    )
    count = count.on_conflict_do_update(
        index_elements=[*row], set_={counter.name: counter + 1}
    )
    counted: int = connection.execute(count.returning(counter)).scalar_one()
    return counted


def add_unless_there(connection: Connection, table: Table, row: Values) -> bool:
    """Whether the row is added; False where one of its key was there."""
    add = insert_into(connection.dialect, table).values(row).on_conflict_do_nothing()
    # What comes back is counted: PostgreSQL's driver does not tell how many there were.
    return len(connection.execute(add.returning(*table.primary_key)).all()) == 1


def insert_into(dialect: Dialect, table: Table) -> sqlite.Insert | postgresql.Insert:
    """An INSERT that can say what to do about rows that are there."""
    if dialect.name == "sqlite":
        return sqlite.insert(table)
    return postgresql.insert(table)
