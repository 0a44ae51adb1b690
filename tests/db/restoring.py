"""What a database holds after a restore, without the line that tells of it."""

from __future__ import annotations

from sqlalchemy import text

from api.db.copying import contents
from api.db.engine import make_engine
from api.db.upgrade import newest_revision

_LINE = text(
    "DELETE FROM audit_entries WHERE action = 'database.restored' "
    "AND id = (SELECT max(id) FROM audit_entries)"
)


def brought_back(engine, told=1):
    """All that is there but the newest line of the trail, where it tells of a restore.

    Nothing is changed: the line is only gone within a transaction that is undone.
    """
    of = " ON audit_entries" if engine.dialect.name == "postgresql" else ""
    with engine.connect() as connection:
        connection.execute(text(f"DROP TRIGGER audit_entries_stay{of}"))
        assert connection.execute(_LINE).rowcount == told
        found = contents(connection, newest_revision())
        connection.rollback()
    return found


def brought_back_to(file, told=1):
    """The same of an SQLite file."""
    engine = make_engine(str(file), pooled=False)
    try:
        return brought_back(engine, told)
    finally:
        engine.dispose()
