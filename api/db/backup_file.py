"""One SQLite file of ours: copied, and looked at without changing it.

References:
    [1] SQLite, "VACUUM", https://sqlite.org/lang_vacuum.html : VACUUM INTO copies
        one consistent view while others write, leaves out what was deleted, and
        does not sync the file.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from sqlalchemy import Connection, NullPool, create_engine, exc

from api.db.copying import contents
from api.db.engine import APPLICATION_ID, LOCK_WAIT_S
from api.db.failures import is_collision, unavailable
from api.db.new_file import unwritable
from api.db.upgrade import newest_revision
from api.ports.backups import BackupRefused, Contents, TableTold

_DAMAGE = ("SQLITE_CORRUPT", "SQLITE_NOTADB")
_BOOKKEEPING = ("alembic_version", "job_numbers", "quote_numbers", "revisions")


class Damaged(BackupRefused):
    """The file is a database of ours, and its content cannot be trusted."""


def copy_file(source: Path, part: Path) -> None:
    """Copy a database of ours that may be in use into an empty file; see [1].

    Raises:
        Damaged: the source cannot be read whole.
        BackupRefused: the copy cannot be written, or the source is not ours.
        StorageUnavailable: the source is locked for too long.
    """
    try:
        with opened(source) as connection:
            _refuse_foreign(connection, source)
            connection.execute("VACUUM INTO ?", (str(part),))
    except sqlite3.DatabaseError as error:
        _refuse_damaged(source, error)
        if is_collision(error):
            raise unavailable(error) from error
        raise unwritable(part.parent, error) from error


def examine(file: Path, *, checksums: bool = True) -> Contents:
    """What is in a database of ours that was found to be sound; it is not changed.

    Of another schema than the newest only the rows are counted; the schema is empty
    where there are no tables at all.

    Raises:
        BackupRefused: there is none, or it cannot be read, or is not ours.
        Damaged: it is not sound.
    """
    refuse_unreadable(file)
    try:
        with opened(file) as connection:
            _refuse_foreign(connection, file)
            _refuse_unsound(connection, file)
            schema = _schema(connection)
            if schema != newest_revision():
                return Contents(schema=schema, tables=_rows(connection))
        with reading(file) as connected:
            return contents(connected, schema, checksums=checksums)
    except sqlite3.DatabaseError as error:
        _refuse_damaged(file, error)
        raise _unreadable(file, error) from error
    except exc.DBAPIError as error:
        raise _unreadable(file, error.orig) from error


def refuse_unreadable(file: Path) -> None:
    """Raises BackupRefused if this is no file that can be read."""
    if file.is_dir():
        raise BackupRefused(f"'{file}' is a folder; name a backup in it")
    try:
        file.open("rb").close()
    except OSError as error:
        raise _unreadable(file, error.strerror) from error


def _unreadable(file: Path, reason: object) -> BackupRefused:
    return BackupRefused(f"'{file}' cannot be read ({reason})")


@contextmanager
def opened(file: Path) -> Iterator[sqlite3.Connection]:
    """A file that is there, by the plain driver, for reading alone."""
    address = f"{file.absolute().as_uri()}?mode=ro"
    with closing(sqlite3.connect(address, uri=True, timeout=LOCK_WAIT_S)) as found:
        found.isolation_level = None
        found.execute("PRAGMA trusted_schema = OFF")
        yield found


@contextmanager
def reading(file: Path) -> Iterator[Connection]:
    """The same by way of the tables, for a file that nobody changes meanwhile."""
    address = f"{file.absolute().as_uri()}?mode=ro"
    engine = create_engine(
        "sqlite://",
        creator=lambda: sqlite3.connect(address, uri=True),
        poolclass=NullPool,
    )
    with engine.connect() as connection:
        yield connection


def _refuse_foreign(connection: sqlite3.Connection, file: Path) -> None:
    (mark,) = connection.execute("PRAGMA application_id").fetchone()
    if mark != APPLICATION_ID:
        raise BackupRefused(
            f"'{file}' is no database of this program, so it was left alone"
        )


def _refuse_unsound(connection: sqlite3.Connection, file: Path) -> None:
    (verdict,) = connection.execute("PRAGMA integrity_check(1)").fetchone()
    broken = connection.execute("PRAGMA foreign_key_check").fetchall()
    if verdict == "ok" and broken:
        verdict = f"{len(broken)} references without a row"
    if verdict != "ok":
        raise _damaged(file, verdict)


def _refuse_damaged(file: Path, error: sqlite3.DatabaseError) -> None:
    name = getattr(error, "sqlite_errorname", "")
    if name == "SQLITE_NOTADB":
        raise BackupRefused(f"'{file}' is no database at all") from error
    if name.startswith(_DAMAGE):
        raise _damaged(file, error) from error


def _damaged(file: Path, reason: object) -> Damaged:
    return Damaged(f"'{file}' is damaged ({reason}); use an older backup")


def _schema(connection: sqlite3.Connection) -> str:
    if "alembic_version" not in _tables(connection):
        return ""
    found = connection.execute("SELECT version_num FROM alembic_version").fetchone()
    return str(found[0]) if found else ""


def as_one_file(file: Path) -> None:
    """Fold into the file what still lies beside it."""
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")


def _rows(connection: sqlite3.Connection) -> tuple[TableTold, ...]:
    return tuple(
        TableTold(name=name, rows=_count(connection, name))
        for name in _tables(connection)
        if name not in _BOOKKEEPING
    )


def _tables(connection: sqlite3.Connection) -> list[str]:
    query = (
        "SELECT name FROM sqlite_master WHERE type = 'table' "
        "AND name NOT LIKE 'sqlite~_%' ESCAPE '~' ORDER BY name"
    )
    return [name for (name,) in connection.execute(query)]


def _count(connection: sqlite3.Connection, table: str) -> int:
    quoted = table.replace('"', '""')
    query = f'SELECT count(*) FROM "{quoted}"'  # noqa: S608 - quoted
    (rows,) = connection.execute(query).fetchone()
    return int(rows)
