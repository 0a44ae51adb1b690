"""A database as the program of an earlier time left it: its schema and its rows."""

from __future__ import annotations

import json
import shutil
from datetime import UTC, date, datetime
from pathlib import Path

from sqlalchemy import DateTime, MetaData, Table

from api.db import upgrade
from api.db.engine import make_engine
from api.db.upgrade import MIGRATIONS

DATA = Path(__file__).with_name("data")
TABLES = (
    *("price_book_versions", "coins", "spot_prices", "revisions"),
    *("quotes", "quote_numbers"),
)


def kept(name):
    """The rows of then, and what was shown of them."""
    return json.loads((DATA / f"{name}.json").read_text("utf-8"))


def rebuild(database, rows, schema, folder):
    """Build a new database as it was at a schema, with these rows by table."""
    later = [each.name for each in MIGRATIONS.glob("versions/0*") if each.name > schema]
    later = [name for name in later if not name.startswith(schema)]
    shutil.copytree(MIGRATIONS, folder, ignore=shutil.ignore_patterns(*later))
    engine = make_engine(database)
    assert upgrade(engine, migrations=folder).after == schema
    with engine.begin() as connection:
        for name in TABLES:
            table = Table(name, MetaData(), autoload_with=connection)
            connection.execute(table.delete())
            found = [_values(table, row) for row in rows[name]]
            if found:
                connection.execute(table.insert(), found)
    engine.dispose()


def _values(table, row):
    """A row, but for what the database counts itself."""
    counted = {"spot_prices": "id", "quotes": "seq"}.get(table.name)
    return {
        name: _value(table.c[name], value)
        for name, value in row.items()
        if name != counted
    }


def _value(column, value):
    if value is None or column.type.python_type not in {datetime, date}:
        return value
    if isinstance(column.type, DateTime):
        return datetime.fromisoformat(value).replace(tzinfo=UTC)
    return date.fromisoformat(value)
