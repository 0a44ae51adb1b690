"""Engines for the two databases, set so that nothing acknowledged is lost.

References:
    [1] SQLite, "PRAGMA statements" and "Write-ahead logging", https://sqlite.org :
        synchronous FULL keeps a commit through a power loss in WAL mode; after NORMAL
        the last ones may be gone, and the file is sound.
    [2] SQLite, "Transactions": a transaction that reads first and writes later
        fails at once when another has written in between, whatever the busy
        timeout; one that begins IMMEDIATE waits.
"""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, NullPool, create_engine, event
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError

from api.ports import StorageUnavailable

APPLICATION_ID = 0x46696E65
"""Marks an SQLite file as this program's (the bytes say "Fine")."""
LOCK_WAIT_S = 5.0
WRITES = "fineweight_writes"
"""Execution option of a connection whose transactions write."""
OWNER_ONLY = 0o600
_AS_IT_IS: dict[str, Any] = {"pool_reset_on_return": None}
"""Where each statement is a transaction of its own, there is nothing to roll back."""
_POSTGRESQL = ("postgresql", "postgresql+psycopg")
_SQLITE = ("sqlite", "sqlite+pysqlite")


def make_engine(
    database: str,
    *,
    lock_wait_s: float = LOCK_WAIT_S,
    pooled: bool = True,
    durable: bool = True,
) -> Engine:
    """An engine for a database; an SQLite file is made where there is none.

    Args:
        database: path of an SQLite file, or a ``postgresql+psycopg://`` URL.
        lock_wait_s: how long a statement waits for another's lock [s].
        pooled: keep connections open for the next use.
        durable: what is committed outlasts a loss of power; else the last moment
            may be lost, for statements that are transactions of their own.

    Raises:
        ValueError: the text names neither.
        StorageUnavailable: the file cannot be used.
    """
    url = _url(database)
    milliseconds = int(lock_wait_s * 1000)
    if url.drivername in _SQLITE:
        return _sqlite(url, milliseconds, pooled=pooled, durable=durable)
    options = f"-c lock_timeout={max(1, milliseconds)} -c statement_timeout=30000"
    options += "" if durable else " -c synchronous_commit=off"
    return create_engine(
        url.set(drivername="postgresql+psycopg"),
        connect_args={"connect_timeout": 5, "options": options},
        **({} if durable else {"isolation_level": "AUTOCOMMIT", **_AS_IT_IS}),
        **({"pool_pre_ping": True} if pooled else {"poolclass": NullPool}),
    )


def sqlite_file(engine: Engine) -> Path | None:
    """The file behind an engine; None for PostgreSQL."""
    name = engine.url.database
    return Path(name) if name and engine.dialect.name == "sqlite" else None


def prepare_file(file: Path) -> None:
    """Make an SQLite file ours: readable by its owner only, in WAL mode.

    Raises:
        StorageUnavailable: it is another program's, no database, or not writable.
    """
    try:
        file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        os.close(os.open(file, os.O_RDWR | os.O_CREAT, OWNER_ONLY))
        file.chmod(OWNER_ONLY)  # -wal and -shm take their mode from it
        with closing(sqlite3.connect(file, timeout=LOCK_WAIT_S)) as connection:
            connection.isolation_level = None
            _claim(connection)
    except (OSError, sqlite3.Error) as error:
        raise StorageUnavailable(
            f"the database file '{file.name}' cannot be used ({error}); "
            "name another, or see to its folder, disk and permissions"
        ) from error


def _claim(connection: sqlite3.Connection) -> None:
    # One statement, so that a file being set up by another process is seen either
    # empty or marked.
    (mark, tables) = connection.execute(
        "SELECT application_id, (SELECT count(*) FROM sqlite_master) "
        "FROM pragma_application_id"
    ).fetchone()
    if mark != APPLICATION_ID and (mark or tables):
        raise sqlite3.DatabaseError("it belongs to another program")
    # The answer is read back because SQLite refuses WAL without an error.
    (mode,) = connection.execute("PRAGMA journal_mode = WAL").fetchone()
    if mode != "wal":
        raise sqlite3.DatabaseError(f"its journal stays in mode '{mode}', not WAL")
    if mark != APPLICATION_ID:
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")


def _url(database: str) -> URL:
    said = "a database is the path of an SQLite file or a postgresql+psycopg:// URL"
    if "://" not in database:
        if not database or database == ":memory:":
            raise ValueError(f"{said}; '{database}' is neither")
        return URL.create("sqlite", database=str(Path(database).expanduser().resolve()))
    try:
        url = make_url(database)
    except (ArgumentError, ValueError) as error:
        raise ValueError(f"{said}; this one cannot be read") from error
    if url.drivername not in (*_SQLITE, *_POSTGRESQL):
        raise ValueError(f"{said}; not {url.drivername}://")
    if url.drivername in _SQLITE:
        return _url(url.database or "")
    return url


def _sqlite(url: URL, milliseconds: int, *, pooled: bool, durable: bool) -> Engine:
    file = Path(url.database or "")
    prepare_file(file)
    # Mode rw: a file that has gone is missed, rather than begun anew and empty.
    address = f"{file.as_uri()}?mode=rw"

    def connect() -> sqlite3.Connection:
        return sqlite3.connect(address, uri=True, check_same_thread=False)

    kept = {} if pooled else {"poolclass": NullPool}
    kept |= {} if durable else _AS_IT_IS
    engine = create_engine(url, creator=connect, **kept)

    @event.listens_for(engine, "connect")
    def set_up(connection: sqlite3.Connection, record: object) -> None:
        del record
        connection.isolation_level = None  # the driver begins nothing by itself
        for setting in (
            "foreign_keys = ON",
            f"busy_timeout = {milliseconds}",
            f"synchronous = {'FULL' if durable else 'NORMAL'}",  # see [1]
            "trusted_schema = OFF",
        ):
            connection.execute(f"PRAGMA {setting}")

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get(WRITES, False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")  # see [2]

    return engine
