"""Files that appear whole under their name or not at all."""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from api.db.engine import OWNER_ONLY
from api.ports import Conflict
from api.ports.backups import BackupRefused

_BESIDE = ("", "-wal", "-shm", "-journal")
"""What SQLite may leave beside a file, by the end of its name."""
PART = r"\.[0-9a-f]{8}\.part(?:-wal|-shm|-journal)?"
"""How the name of a file that is being written goes on, as a regular expression."""


@contextmanager
def new_file(target: Path) -> Iterator[Path]:
    """An empty file to write to, its owner's only, that gets its name at the end.

    What was written is on the disk before it has its name; if anything is raised,
    nothing is left.

    Raises:
        Conflict: there is a file of that name already.
        BackupRefused: it is a folder, or nothing can be written there.
    """
    with _told(target):
        _refuse_taken(target)
        part = target.with_name(f".{target.name}.{secrets.token_hex(4)}.part")
        os.close(os.open(part, os.O_RDWR | os.O_CREAT | os.O_EXCL, OWNER_ONLY))
    try:
        yield part
        with _told(target):
            _sync(part)
            _name(part, target)
            with suppress(OSError):  # not every system can do this to a folder
                _sync(target.parent)
    finally:
        for end in _BESIDE:
            Path(f"{part}{end}").unlink(missing_ok=True)


def _refuse_taken(target: Path) -> None:
    if target.is_dir():
        raise BackupRefused(f"'{target}' is a folder; name a file in it")
    if target.exists():
        raise _taken(target)
    if not target.parent.is_dir():
        raise BackupRefused(f"there is no folder '{target.parent}'; make it first")


@contextmanager
def _told(target: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise unwritable(target, error.strerror) from error


def unwritable(target: Path, reason: object) -> BackupRefused:
    """The refusal to write a file where it cannot be written."""
    return BackupRefused(
        f"'{target}' cannot be written ({reason}); see to the space and permissions "
        "of its folder, or name another; nothing was changed"
    )


def _taken(target: Path) -> Conflict:
    return Conflict(f"there is a file '{target}' already; name another")


def _sync(path: Path) -> None:
    descriptor = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _name(part: Path, target: Path) -> None:
    # A link, because a file that came to be meanwhile would be lost to a rename.
    try:
        os.link(part, target)
    except FileExistsError as error:
        raise _taken(target) from error
    except OSError:  # a disk without links, such as a stick
        part.rename(target)
