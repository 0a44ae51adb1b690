"""What a backup or restore left behind that was killed, removed a day later.

Only what they make themselves is touched: the part of a file of a name that they
write to, and the folder of a backup that is made ready, or handed over.
"""

from __future__ import annotations

import re
import shutil
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from api.db.new_file import PART
from api.ports.backups import FOLDER

KEPT_S = 24 * 60 * 60
"""How long something may lie there: far longer than anybody works on it [s]."""


def sweep(folder: Path, *names: str) -> None:
    """Remove what is older than a day; what cannot be removed stays.

    Args:
        folder: where they wrote to.
        names: patterns of the files they wrote, as regular expressions.
    """
    written = re.compile("|".join(rf"\.{name}{PART}" for name in names) or "$.")
    for path in _entries(folder):
        with suppress(OSError):
            if path.is_symlink() or not _is_old(path):
                continue
            if path.name.startswith(FOLDER) and path.is_dir():
                shutil.rmtree(path, ignore_errors=True)
            elif written.fullmatch(path.name) and path.is_file():
                path.unlink()


def _entries(folder: Path) -> Iterator[Path]:
    with suppress(OSError):
        yield from sorted(folder.glob(".*"))


def _is_old(path: Path) -> bool:
    # By the clock that the files' own times are from, which is the system's.
    times = [path.stat().st_mtime, *(one.stat().st_mtime for one in path.glob("*"))]
    return time.time() - max(times) > KEPT_S
