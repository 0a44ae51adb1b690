"""A backup checked, and made ready to go live in a copy of its own."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from api.db.backup import changing
from api.db.backup_file import as_one_file, copy_file, examine, opened
from api.db.copying import (
    HandedOut,
    raise_counters,
    raise_last_ids,
    raise_last_numbers,
)
from api.db.engine import make_engine
from api.db.repositories import AuditRepository
from api.db.upgrade import upgrade
from api.ports import AuditEntry, StorageUnavailable
from api.ports.backups import FOLDER, THE_PROGRAM, BackupRefused, By, Contents

RESTORED = "database.restored"
LONGEST_NAME = 200
_Objects = dict[tuple[str, str], str]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyBackup:
    """A copy of a backup, of the newest schema.

    Attributes:
        file: the copy, which may be changed.
        name: of the backup's own file.
        schema: revision of the tables in the backup itself.
    """

    file: Path
    name: str
    schema: str
    contents: Contents

    def make_ready(self, present: HandedOut, line: AuditEntry) -> None:
        """Let the copy outrun what it takes the place of, and tell of its restore.

        The line of the audit trail goes live with the copy or not at all.

        Args:
            present: what was counted there, as far as it could be read.
            line: of `line`.
        """
        with changing(self.file) as connection:
            raise_counters(connection, present.counters)
            raise_last_ids(connection, present.ids)
            raise_last_numbers(connection, present.numbers)
            AuditRepository(connection).add(line)

    def line(
        self, *, at: datetime, kept: Path | None, by: By = THE_PROGRAM
    ) -> AuditEntry:
        """What the audit trail says of its restore."""
        told = {"kept": None if kept is None else _plain(kept.name)}
        return AuditEntry(
            at=at,
            by=by.name,
            via=by.via,
            action=RESTORED,
            subject=_plain(self.name),
            after=told | {"schema": self.schema},
        )


@contextmanager
def ready_backup(file: Path, *, beside: Path | None) -> Iterator[ReadyBackup]:
    """A copy of a backup as long as it is needed; the file is only read.

    Args:
        file: the backup.
        beside: folder for the copy; None takes the system's for such things.

    Raises:
        BackupRefused: it is no sound backup that this program understands.
    """
    told = examine(file, checksums=False)
    if not told.schema:
        raise BackupRefused(f"'{file}' holds no tables of this program")
    with TemporaryDirectory(prefix=FOLDER, dir=beside) as folder:
        copy = Path(folder) / "ready.db"
        copy_file(file, copy)
        _upgrade(copy, file)
        _refuse_other_tables(copy, file)
        yield ReadyBackup(
            file=copy, name=file.name, schema=told.schema, contents=examine(copy)
        )


def _plain(name: str) -> str:
    # Whatever a file is called, a line of the trail is one that can be kept.
    signs = (
        sign if sign.isprintable() else sign.encode("unicode_escape").decode("ascii")
        for sign in name
    )
    return "".join(signs)[:LONGEST_NAME]


def _upgrade(copy: Path, file: Path) -> None:
    engine = make_engine(str(copy), pooled=False)
    try:
        upgrade(engine)
    except StorageUnavailable as error:
        raise BackupRefused(f"'{file}' cannot be used: {error.message}") from error
    as_one_file(copy)


def _refuse_other_tables(copy: Path, file: Path) -> None:
    # Only what the migrations make goes live, with the triggers that guard it.
    usual = copy.with_name("usual.db")
    upgrade(make_engine(str(usual), pooled=False))
    found, wanted = _objects(copy), _objects(usual)
    names = {
        name
        for kind, name in found.keys() | wanted.keys()
        if found.get((kind, name)) != wanted.get((kind, name))
    }
    if names:
        listed = ", ".join(sorted(names))
        raise BackupRefused(
            f"'{file}' was changed by another program: {listed} not as this program "
            "makes it; use another backup"
        )


def _objects(file: Path) -> _Objects:
    # How a table is written differs from one version of SQLite's tools to another;
    # triggers are our own words.
    query = (
        "SELECT type, name, CASE type WHEN 'trigger' THEN sql ELSE tbl_name END "
        "FROM sqlite_master WHERE name NOT LIKE 'sqlite~_%' ESCAPE '~'"
    )
    with opened(file) as connection:
        return {(kind, name): how for kind, name, how in connection.execute(query)}
