"""A backup put in the place of a PostgreSQL database, in one transaction.

References:
    [1] PostgreSQL, "TRUNCATE": undone with its transaction. One that began reading
        before may find the tables empty afterwards, which is why all are locked
        first: it waits, or what it has read is waited for.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from sqlalchemy import Connection, Engine, inspect, text

from api.db.backup import back_up_server
from api.db.backup_file import examine, reading
from api.db.copying import (
    contents,
    copy_rows,
    handed_out,
    last_ids,
    raise_last_ids,
)
from api.db.failures import refusals
from api.db.ready_backup import ReadyBackup
from api.db.tables import metadata, revisions
from api.db.upgrade import newest_revision, schema_is_current, upgrade
from api.ports import Clock
from api.ports.backups import (
    THE_PROGRAM,
    BackupRefused,
    By,
    Contents,
    Present,
    Restored,
)


@dataclass(frozen=True, kw_only=True)
class ServerRestore:
    """A backup ready to replace the content of a PostgreSQL database.

    Attributes:
        live: the database.
        aside: the file to be with the present state.
    """

    backup: ReadyBackup
    live: Engine
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
        """What is there now; of older tables nothing is told but that they are."""
        with refusals():
            if schema_is_current(self.live):
                with self.live.connect() as connection:
                    found = contents(connection, newest_revision(), checksums=False)
                return Present(contents=found)
            if inspect(self.live).get_table_names():
                return Present(contents=Contents(schema="", tables=()))
        return None

    def run(self, by: By = THE_PROGRAM) -> Restored:
        """Keep the present state aside and put the backup in its place."""
        kept = None if self.present is None else self.aside
        upgrade(self.live)
        with refusals(), self.live.begin() as connection:
            _lock(connection)
            if kept is not None:
                back_up_server(connection, kept)
            line = self.backup.line(at=self.clock.now(), kept=kept, by=by)
            self.backup.make_ready(handed_out(connection), line)
            with reading(self.backup.file) as source:
                _replace(connection, source)
            # The backup's lines of the audit trail, and the one that tells of this.
            wanted = examine(self.backup.file)
            if contents(connection, wanted.schema) != wanted:
                raise BackupRefused(
                    "what was restored came out unlike the backup, so nothing was "
                    "changed; report this"
                )
        return Restored(kept=kept)


def _lock(connection: Connection) -> None:
    connection.execute(text("SET LOCAL statement_timeout = 0"))
    # The counters come first: every request begins with them.
    others = [table for table in metadata.sorted_tables if table is not revisions]
    for table in (revisions, *others):
        lock = text(f'LOCK TABLE "{table.name}" IN ACCESS EXCLUSIVE MODE')
        connection.execute(lock)


def _replace(connection: Connection, source: Connection) -> None:
    names = ", ".join(f'"{table.name}"' for table in metadata.sorted_tables)
    connection.execute(text(f"TRUNCATE {names}"))  # see [1]
    copy_rows(source, connection)
    raise_last_ids(connection, last_ids(source))
