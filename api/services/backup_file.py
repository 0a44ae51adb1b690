"""A backup as one file to be carried away, made and checked while one waits."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from api.ports import Clock, Conflict, UnitOfWork
from api.ports.backups import FOLDER, BackupRefused, Backups, Contents
from api.services.audit import note
from api.services.snapshots import Snapshots

MOST_BYTES = 256 * 1024 * 1024
"""Largest backup that is handed over in one piece [B]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BackupFile:
    """A backup that was checked.

    Attributes:
        body: the whole SQLite file.
        made_at: whose state it holds.
    """

    body: bytes
    made_at: datetime
    contents: Contents

    @property
    def name(self) -> str:
        """What the file is called."""
        return f"fineweight.backup.{self.made_at.astimezone(UTC):%Y%m%dT%H%M%SZ}.db"


class BackupFiles:
    """Makes backups that leave nothing behind on this machine."""

    def __init__(self, snapshots: Snapshots, clock: Clock, *, backups: Backups) -> None:
        self._snapshots = snapshots
        self._clock = clock
        self._backups = backups

    def make(self) -> BackupFile:
        """A backup of everything; the audit trail says that one was taken.

        Raises:
            Conflict: the database is damaged, or too large to go in one piece.
            StorageUnavailable: it cannot be used now.
        """
        now = self._clock.now()
        with TemporaryDirectory(prefix=FOLDER) as folder:
            try:
                told = self._backups.make(Path(folder) / "fineweight.db")
            except BackupRefused as error:
                raise Conflict(str(error)) from error
            if told.size > MOST_BYTES:
                raise Conflict(
                    f"a backup would hold {told.size} bytes, more than {MOST_BYTES} "
                    "that go in one piece; make it on the machine itself: "
                    "fineweight backup FILE"
                )
            made = BackupFile(
                body=told.file.read_bytes(), made_at=now, contents=told.contents
            )

        def tell(unit: UnitOfWork) -> None:
            after = {"bytes": len(made.body), "schema": made.contents.schema}
            note(unit, now, "backup.taken", "bench", after=after)

        self._snapshots.write(tell)
        return made
