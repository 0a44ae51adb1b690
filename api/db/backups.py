"""Backups of the database that an installation works on."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC
from pathlib import Path
from tempfile import gettempdir

from api.db.backup import back_up_file, back_up_server, one_view
from api.db.backup_file import refuse_unreadable
from api.db.engine import make_engine
from api.db.failures import UPGRADE_NEEDED, refusals
from api.db.leftovers import sweep
from api.db.ready_backup import ReadyBackup, ready_backup
from api.db.restore import FileRestore
from api.db.restore_server import ServerRestore
from api.db.upgrade import schema_is_current
from api.ports import Clock, NotFound, StorageUnavailable
from api.ports.backups import BackupRefused, BackupTold, ReadyRestore

_NAME = "fineweight.db"


class SqlBackups:
    """Makes backups of one database and restores it; see `api.ports.backups`."""

    def __init__(self, database: str, clock: Clock) -> None:
        self._database = database
        self._clock = clock
        on_server = "://" in database
        self._live = None if on_server else Path(database).expanduser().resolve()

    def make(self, file: Path | None = None) -> BackupTold:
        """Write a backup and check it; by default to a dated file beside the database.

        Of a PostgreSQL database the dated file lies in the current folder.
        """
        target = (file or self._dated("backup", "%Y%m%dT%H%M%SZ")).absolute()
        sweep(target.parent, re.escape(target.name))
        self._sweep()
        if self._live is None:
            return self._of_server(target)
        if not self._live.exists():
            raise NotFound(
                f"there is no database '{self._live}'; name one with --database"
            )
        return back_up_file(self._live, target)

    @contextmanager
    def opened(self, file: Path) -> Iterator[ReadyRestore]:
        """A backup made ready to be restored; the file itself is never changed."""
        refuse_unreadable(file)
        live = self._live
        if live is not None and live.exists() and live.samefile(file):
            raise BackupRefused(f"'{file}' is the database itself; name a backup of it")
        self._sweep()
        beside = live.parent if live is not None and live.parent.is_dir() else None
        with ready_backup(file, beside=beside) as ready:
            yield self._restore(ready)

    def _sweep(self) -> None:
        """Remove what lies about from one that was killed."""
        live = self._live or Path.cwd() / _NAME
        dated = r"\.(?:backup|before-restore)\.[0-9TZ]+"
        name = f"{re.escape(live.stem)}{dated}{re.escape(live.suffix)}(?:-wal)?"
        sweep(live.parent, name)
        sweep(Path(gettempdir()))

    def _of_server(self, target: Path) -> BackupTold:
        engine = make_engine(self._database, pooled=False)
        with refusals():
            if not schema_is_current(engine):
                raise StorageUnavailable(UPGRADE_NEEDED)
        with one_view(engine) as connection:
            return back_up_server(connection, target)

    def _restore(self, ready: ReadyBackup) -> ReadyRestore:
        aside = self._dated("before-restore", "%Y%m%dT%H%M%S%fZ")
        if self._live is not None:
            return FileRestore(
                backup=ready, live=self._live, aside=aside, clock=self._clock
            )
        engine = make_engine(self._database, pooled=False)
        return ServerRestore(backup=ready, live=engine, aside=aside, clock=self._clock)

    def _dated(self, what: str, pattern: str) -> Path:
        live = self._live or Path.cwd() / _NAME
        stamp = self._clock.now().astimezone(UTC).strftime(pattern)
        return live.with_name(f"{live.stem}.{what}.{stamp}{live.suffix}")
