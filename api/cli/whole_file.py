"""A file that is written whole, or not at all."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import IO

import click


@contextmanager
def whole_file(name: str) -> Iterator[IO[bytes]]:
    """A file to write to, which takes its name when all is written.

    If anything is raised meanwhile, what was there under the name stays. ``-`` is
    standard output; that and devices are written to directly.

    Raises:
        UsageError: it cannot be written.
    """
    path = Path(name)
    try:
        if name == "-" or (path.exists() and not path.is_file()):
            with click.open_file(name, "wb") as opened:
                yield opened
        else:
            with _beside(path) as opened:
                yield opened
    except OSError as error:
        raise click.UsageError(f"{name} cannot be written: {error.strerror}") from error


@contextmanager
def _beside(path: Path) -> Iterator[IO[bytes]]:
    folder, start = path.absolute().parent, f".{path.name}."
    with NamedTemporaryFile(dir=folder, prefix=start, delete=False) as opened:
        part = Path(opened.name)
        try:
            yield opened
            opened.flush()
            part.chmod(_mode(path))
        except BaseException:
            part.unlink()
            raise
    part.replace(path)


def _mode(path: Path) -> int:
    """The rights of the file that is there, or of any new one."""
    if path.exists():
        return path.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
