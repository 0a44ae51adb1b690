"""`fineweight backup`: a copy of everything, in one file."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from api.cli.context import Desk, with_desk
from api.cli.output import instant, note, table
from api.ports.backups import BackupTold, Contents

if TYPE_CHECKING:
    from api.ports.backups import Backups

SHOWN = 12
"""Digits of a checksum that are enough to compare by eye."""


@click.command()
@click.argument("file", type=click.Path(path_type=Path), required=False)
@with_desk
def backup(desk: Desk, file: Path | None) -> None:
    """Copy the database to FILE and check the copy, also while a server runs.

    \b
    Without FILE it is a dated file beside the database; of a PostgreSQL database
    in the current folder. A backup is always one SQLite file:
      fineweight backup
      fineweight backup /media/stick/rings.db
      fineweight restore /media/stick/rings.db
    """  # noqa: D301 - Click keeps the lines together at its own mark
    told = backups(desk).make(file)
    desk.show(_document(told), lambda: _text(told))
    note(
        "It holds everything, the secrets of feeds and hooks too, and what held prices "
        "are signed with: let nobody else read it. Put it back with: fineweight "
        "restore FILE"
    )


def backups(desk: Desk) -> Backups:
    """The backups of the command's database."""
    made: Backups = import_module("api.app").backups(desk.settings)
    return made


def documents(contents: Contents) -> list[dict[str, Any]]:
    """Each table for programs."""
    return [
        {"name": each.name, "rows": each.rows, "sha256": each.sha256 or None}
        for each in contents.tables
    ]


def _document(told: BackupTold) -> dict[str, Any]:
    return {
        "file": str(told.file),
        "bytes": told.size,
        "schema": told.contents.schema,
        "newest": told.contents.newest,
        "tables": documents(told.contents),
    }


def _text(told: BackupTold) -> str:
    contents = told.contents
    rows = [(each.name, each.rows, each.sha256[:SHOWN]) for each in contents.tables]
    last = instant(contents.newest)
    return "\n".join(
        (
            f"Backed up to {told.file}, and checked "
            f"({told.size} bytes, schema {contents.schema}"
            + (f", last entry {last})." if last else ")."),
            "",
            table(("table", "rows", "checksum"), rows, right=" r"),
        )
    )
