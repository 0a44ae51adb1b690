"""Backups: what is told about one, and what can be done with it."""

from __future__ import annotations

from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Protocol

from api.ports.errors import ServiceError

FOLDER = ".fineweight-restore-"
"""How the name begins of a folder that a copy lies in as long as it is needed."""


class BackupRefused(ServiceError):
    """A backup cannot be written or used; the message says why, and what to do."""

    code = "backup_refused"


@dataclass(frozen=True, slots=True, kw_only=True)
class TableTold:
    """One table's content.

    Attributes:
        rows: how many it has [count].
        sha256: of its rows in the order of their key, in hex; equal content has an
            equal checksum in whatever database. Empty where it was not asked for.
    """

    name: str
    rows: int
    sha256: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """What a database holds.

    Attributes:
        schema: revision of its tables.
        newest: when something was last recorded in it; None for never, or unknown.
    """

    schema: str
    tables: tuple[TableTold, ...]
    newest: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BackupTold:
    """A backup that was made and checked; ``size`` is the file's [bytes]."""

    file: Path
    size: int
    contents: Contents


@dataclass(frozen=True, slots=True, kw_only=True)
class Present:
    """What is there before a restore.

    Attributes:
        contents: None for a damaged database.
        damage: what is wrong with it; empty for a sound one.
    """

    contents: Contents | None
    damage: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """What a restore did.

    Attributes:
        kept: file with the state from before; None where there was nothing.
        overtaken: whether something was changed in the last moment, after the state
            was kept, and is lost.
    """

    kept: Path | None
    overtaken: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class By:
    """Who restores a backup, as the audit trail names whoever acts."""

    name: str = ""
    via: str = "program"


THE_PROGRAM = By()


class ReadyRestore(Protocol):
    """A backup that was checked and brought to this program's schema in a copy."""

    @property
    def schema(self) -> str:
        """Revision of the tables in the file itself."""
        ...

    @property
    def contents(self) -> Contents:
        """What will be there."""
        ...

    @property
    def present(self) -> Present | None:
        """What is there now; None for nothing."""
        ...

    def run(self, by: By = THE_PROGRAM) -> Restored:
        """Keep the present state aside and put the backup in its place.

        The audit trail is the backup's with a line more, which tells of this and
        goes live together with it.

        Raises:
            BackupRefused: it cannot be done; nothing was changed.
            StorageUnavailable: the database cannot be used now; nothing was changed.
        """
        ...


class Backups(Protocol):
    """Makes backups of one database, and restores it."""

    def make(self, file: Path | None = None) -> BackupTold:
        """Write a backup and check it; by default to a dated file beside the database.

        Raises:
            NotFound: there is no database.
            Conflict: there is a file of that name already.
            BackupRefused: it cannot be written there, or the database is damaged.
            StorageUnavailable: the database cannot be used now.
        """
        ...

    def opened(self, file: Path) -> AbstractContextManager[ReadyRestore]:
        """A backup made ready to be restored; the file itself is never changed.

        Raises:
            BackupRefused: it is no sound backup that this program understands.
            StorageUnavailable: the database cannot be used now.
        """
        ...
