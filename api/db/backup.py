"""Backups of a database: one SQLite file each, from one consistent view, checked."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Connection, Engine, delete, exc

from api.db.backup_file import as_one_file, copy_file, examine
from api.db.copying import contents, copy_rows, last_ids, raise_last_ids
from api.db.engine import WRITES, make_engine
from api.db.failures import UPGRADE_NEEDED, refusals
from api.db.new_file import new_file, unwritable
from api.db.tables import metadata
from api.db.upgrade import newest_revision, upgrade
from api.ports import StorageUnavailable
from api.ports.backups import BackupRefused, BackupTold

_ONE_VIEW = {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}


def back_up_file(source: Path, target: Path) -> BackupTold:
    """Back up an SQLite file that may be in use.

    Raises:
        Conflict: ``target`` is there already.
        BackupRefused: it cannot be written, or ``source`` is damaged or not ours.
        StorageUnavailable: ``source`` is locked, or has no tables yet.
    """
    with new_file(target) as part:
        copy_file(source, part)
        told = examine(part)
        if not told.schema:
            raise StorageUnavailable(UPGRADE_NEEDED)
        size = part.stat().st_size
    return BackupTold(file=target, size=size, contents=told)


def back_up_server(source: Connection, target: Path) -> BackupTold:
    """Back up a PostgreSQL database of the newest schema.

    Args:
        source: in a transaction that sees one consistent view.
        target: the SQLite file to be.

    Raises:
        Conflict: ``target`` is there already.
        BackupRefused: it cannot be written, or came out unlike the database.
        StorageUnavailable: ``source`` cannot be read now.
    """
    with new_file(target) as part:
        try:
            upgrade(make_engine(str(part), pooled=False))
        except StorageUnavailable as error:
            cause = getattr(error.__cause__, "orig", error.__cause__)
            raise unwritable(target, cause) from error
        try:
            _copy_server(source, part)
        except exc.DBAPIError as error:
            if not isinstance(error.orig, sqlite3.Error):
                raise
            raise unwritable(target, error.orig) from error
        told = examine(part)
        if told != contents(source, newest_revision()):
            raise BackupRefused(
                "the backup came out unlike the database and was thrown away; "
                "report this"
            )
        size = part.stat().st_size
    return BackupTold(file=target, size=size, contents=told)


@contextmanager
def one_view(engine: Engine) -> Iterator[Connection]:
    """A connection that reads one state of a PostgreSQL database, however long."""
    with refusals(), engine.connect().execution_options(**_ONE_VIEW) as connection:
        connection.exec_driver_sql("SET LOCAL statement_timeout = 0")
        yield connection


@contextmanager
def changing(file: Path) -> Iterator[Connection]:
    """A transaction on an SQLite file that nobody else has open."""
    engine = make_engine(str(file), pooled=False)
    connected = engine.connect().execution_options(**{WRITES: True})
    with connected as connection, connection.begin():
        yield connection
    as_one_file(file)


def _copy_server(source: Connection, part: Path) -> None:
    with changing(part) as target:
        for table in reversed(metadata.sorted_tables):
            target.execute(delete(table))  # what a new database begins with
        copy_rows(source, target)
        raise_last_ids(target, last_ids(source))
