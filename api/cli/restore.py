"""`fineweight restore`: a backup put in the place of what is there."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from api.cli.backup import backups, documents
from api.cli.context import Desk, with_desk
from api.cli.exit_codes import ExitCode
from api.cli.output import instant, note, table
from api.ports.backups import By, Contents, ReadyRestore, Restored
from api.services.actor import actor


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--yes", is_flag=True, help="Do not ask.")
@click.option("--dry-run", is_flag=True, help="Check FILE and change nothing.")
@with_desk
def restore(desk: Desk, file: Path, *, yes: bool, dry_run: bool) -> None:
    """Put the backup FILE in the place of everything that is there.

    \b
    FILE is checked first. What is there now is kept in a file of its own, which
    can be restored in the same way:
      fineweight restore fineweight.backup.20261125T131500Z.db
    """  # noqa: D301 - Click keeps the lines together at its own mark
    with backups(desk).opened(file) as ready:
        told = _document(file, ready)
        if dry_run:
            desk.show(told, lambda: f"{_overview(file, ready)}\n\nNothing was changed.")
            return
        if not yes:
            _ask(file, ready)
        restored = ready.run(By(name=actor().by, via=actor().via))
    kept = None if restored.kept is None else str(restored.kept)
    desk.show(
        told | {"restored": True, "kept": kept, "overtaken": restored.overtaken},
        lambda: _done(file, restored),
    )
    if restored.overtaken:
        note(
            "Something was changed at the very moment of the restore and is lost; "
            "stop the servers before a restore to be sure that nothing is."
        )


def _at_terminal() -> bool:
    return sys.stdin.isatty()


def _ask(file: Path, ready: ReadyRestore) -> None:
    if not _at_terminal():
        raise click.UsageError(
            "nobody can be asked here and nothing was changed; give --yes to restore, "
            "or --dry-run to see what it would do"
        )
    note(_overview(file, ready))
    if not click.confirm("\nPut the backup in its place?", err=True):
        note("Nothing was changed.")
        raise click.exceptions.Exit(ExitCode.FAILED)


def _document(file: Path, ready: ReadyRestore) -> dict[str, Any]:
    now = _now(ready)
    present = ready.present
    return {
        "file": str(file),
        "schema": ready.schema,
        "newest": ready.contents.newest,
        "tables": [
            each | {"rows_now": now.get(each["name"])}
            for each in documents(ready.contents)
        ],
        "damage": present.damage or None if present else None,
        "restored": False,
        "kept": None,
        "overtaken": False,
    }


def _now(ready: ReadyRestore) -> dict[str, int]:
    present = ready.present
    if present is None or present.contents is None:
        return {}
    return {each.name: each.rows for each in present.contents.tables}


def _overview(file: Path, ready: ReadyRestore) -> str:
    now = _now(ready)
    rows = [
        (each.name, each.rows, now.get(each.name, "")) for each in ready.contents.tables
    ]
    return "\n".join(
        (
            f"{file} is a sound backup ({_about(ready.contents, ready.schema)}).",
            _there(ready),
            "",
            table(("table", "rows in the backup", "rows now"), rows, right=" rr"),
        )
    )


def _there(ready: ReadyRestore) -> str:
    present = ready.present
    if present is None:
        return "There is no database yet; it will be made."
    if present.contents is None:
        return f"What is there now: {present.damage}."
    about = _about(present.contents, present.contents.schema)
    return f"What is there now ({about}) will be kept aside."


def _about(contents: Contents, schema: str) -> str:
    last = instant(contents.newest)
    said = f"schema {schema}" if schema else "older tables"
    return f"{said}, last entry {last}" if last else said


def _done(file: Path, restored: Restored) -> str:
    first = f"{file} is restored."
    if restored.kept is None:
        return first
    return f"{first}\nWhat was there before is kept in {restored.kept}"
