"""A backup put in the place of an SQLite file, which others may have open.

References:
    [1] SQLite, "SQLite Backup API", https://sqlite.org/backup.html : the pages of
        one database are written over another's in one transaction.
    [2] SQLite, "PRAGMA data_version": differs when another connection committed.
"""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from api.db.backup_file import Damaged, copy_file, examine
from api.db.copying import NUMBERS, HandedOut
from api.db.engine import LOCK_WAIT_S, prepare_file
from api.db.failures import unavailable
from api.db.new_file import new_file
from api.db.ready_backup import ReadyBackup
from api.ports import Clock
from api.ports.backups import (
    THE_PROGRAM,
    BackupRefused,
    By,
    Contents,
    Present,
    Restored,
)

TRIES = 3
"""How often the present state is kept anew because it was changed meanwhile."""
_KEPT = ("", "-wal")


@dataclass(frozen=True, kw_only=True)
class FileRestore:
    """A backup ready to replace the content of an SQLite file.

    Attributes:
        live: the file; there may be none yet.
        aside: the file to be with the present state.
    """

    backup: ReadyBackup
    live: Path
    aside: Path
    clock: Clock

    @property
    def schema(self) -> str:
        """Revision of the tables in the backup itself."""
        return self.backup.schema

    @property
    def contents(self) -> Contents:
        """What will be there."""
        return self.backup.contents

    @cached_property
    def present(self) -> Present | None:
        """What is there now. Raises BackupRefused if it is another program's."""
        if not self.live.exists() or not self.live.stat().st_size:
            return None
        try:
            return Present(contents=examine(self.live, checksums=False))
        except Damaged as error:
            return Present(contents=None, damage=error.message)

    def run(self, by: By = THE_PROGRAM) -> Restored:
        """Keep the present state aside and put the backup in its place; see [1]."""
        present = self.present
        kept = None if present is None else self.aside
        if present is None:
            prepare_file(self.live)
        with _writing(self.live) as connection:
            version = _data_version(connection)
            if present is not None:
                version = self._keep(connection)
            line = self.backup.line(at=self.clock.now(), kept=kept, by=by)
            self.backup.make_ready(_handed_out(connection), line)
            _match_pages(self.backup.file, connection)
            _put(self.backup.file, connection)
            overtaken = version != _data_version(connection)
        return Restored(kept=kept, overtaken=overtaken)

    def _keep(self, connection: sqlite3.Connection) -> int:
        """Keep the present state, and tell which it was."""
        version = _data_version(connection)
        self._keep_once()
        for _ in range(1, TRIES):
            now = _data_version(connection)
            if now == version:
                break
            version = now
            for end in _KEPT:
                Path(f"{self.aside}{end}").unlink(missing_ok=True)
            self._keep_once()
        return version

    def _keep_once(self) -> None:
        try:
            with new_file(self.aside) as part:
                copy_file(self.live, part)
                examine(part, checksums=False)
        except Damaged:
            self._keep_bytes()

    def _keep_bytes(self) -> None:
        """What is damaged is kept as it is, for whoever can still mend it."""
        for end in _KEPT:
            source = Path(f"{self.live}{end}")
            if source.exists():
                with new_file(Path(f"{self.aside}{end}")) as part:
                    shutil.copyfile(source, part)


@contextmanager
def _writing(live: Path) -> Iterator[sqlite3.Connection]:
    address = f"{live.as_uri()}?mode=rw"
    try:
        with closing(
            sqlite3.connect(address, uri=True, timeout=LOCK_WAIT_S)
        ) as connection:
            connection.isolation_level = None
            with suppress(sqlite3.DatabaseError):  # the usual one, where none is read
                connection.execute("PRAGMA synchronous = FULL")
            yield connection
    except sqlite3.Error as error:
        raise BackupRefused(
            f"'{live}' cannot be written ({error}); see to the space and permissions "
            "of its folder; nothing was changed"
        ) from error


def _data_version(connection: sqlite3.Connection) -> int:
    (version,) = connection.execute("PRAGMA data_version").fetchone()  # see [2]
    return int(version)


_LAST = "SELECT year, last FROM {}"


def _handed_out(connection: sqlite3.Connection) -> HandedOut:
    """What has been counted, as far as it can be read."""
    return HandedOut(
        counters=_pairs(connection, "SELECT name, revision FROM revisions"),
        ids=_pairs(connection, "SELECT name, seq FROM sqlite_sequence"),
        numbers={
            (table.name, year): last
            for table in NUMBERS
            for year, last in _pairs(connection, _LAST.format(table.name)).items()
        },
    )


def _pairs(connection: sqlite3.Connection, query: str) -> dict[Any, int]:
    try:
        return dict(connection.execute(query).fetchall())
    except sqlite3.DatabaseError:  # damaged, or no tables yet
        return {}


def _match_pages(copy: Path, connection: sqlite3.Connection) -> None:
    # A database with a write-ahead log keeps the size of its pages.
    (wanted,) = connection.execute("PRAGMA page_size").fetchone()
    with closing(sqlite3.connect(copy)) as copied:
        copied.isolation_level = None
        (size,) = copied.execute("PRAGMA page_size").fetchone()
        if size != wanted:
            copied.execute(f"PRAGMA page_size = {wanted}")
            copied.execute("VACUUM")


def _put(copy: Path, connection: sqlite3.Connection) -> None:
    def waited(status: int, _remaining: int, _pages: int) -> None:
        # The step has waited for the lock already, and would go on for ever.
        if status in {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}:
            raise unavailable(None)

    with closing(sqlite3.connect(copy)) as source:
        source.backup(connection, progress=waited, sleep=0)
    connection.execute("PRAGMA wal_checkpoint(PASSIVE)")  # waits for nobody
