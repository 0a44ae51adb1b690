"""`fineweight book`: the workshop's price book."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click
import tomli_w

from api.cli.book_file import read_document
from api.cli.context import Desk, with_desk
from api.cli.exit_codes import ExitCode
from api.cli.output import note, table
from api.ports import NotFound
from pricing.price_book import Change, PriceBook, diff, document, read_price_book

FILE = click.Path(exists=True, dir_okay=False, allow_dash=True)


@click.group()
def book() -> None:
    """Load, show and compare the price book."""


@book.command()
@click.argument("file", type=FILE)
@click.option("--note", "remark", default="", help="Why, for the list of versions.")
@click.option(
    "--expect",
    type=click.IntRange(min=0),
    metavar="N",
    help="Load only if version N is still the current one (0: there is none yet).",
)
@click.option("--dry-run", is_flag=True, help="Check the file and store nothing.")
@with_desk
def load(
    desk: Desk, file: str, remark: str, *, expect: int | None, dry_run: bool
) -> None:
    """Make FILE (TOML or JSON, - for standard input) the new version.

    A book with a fault is refused whole, and every fault is listed.
    """
    wanted = read_document(file)
    new, old = read_price_book(wanted), _current(desk)
    changes = diff(old, new) if old else ()
    if not dry_run:
        expected = _expected(old) if expect is None else expect or None
        new = desk.services.price_books.replace(wanted, expected=expected, note=remark)
    told = {
        "version": None if dry_run else new.version,
        "title": new.title,
        "changes": _documents(changes),
    }
    desk.show(told, lambda: _loaded(new, changes, dry_run=dry_run))


@book.command("show")
@click.option(
    "--version", type=click.IntRange(min=1), metavar="N", help="Else current."
)
@with_desk
def show_book(desk: Desk, version: int | None) -> None:
    """Print the price book as the document it can be loaded from."""
    shown = _version(desk, version)
    note(f"Version {shown.version} of {shown.title}")
    told = document(shown)
    desk.show(told, lambda: tomli_w.dumps(told).rstrip())


@book.command("diff")
@click.argument("old")
@click.argument("new", required=False)
@click.option("--check", is_flag=True, help="End with code 3 if anything differs.")
@with_desk
def compare(desk: Desk, old: str, new: str | None, *, check: bool) -> None:
    """List what changes from OLD to NEW.

    Each is the number of a version or a file. Without NEW it is the current one.
    """
    changes = diff(_named(desk, old), _named(desk, new) if new else _version(desk))
    desk.show(_documents(changes), lambda: _table(changes))
    if check and changes:
        raise click.exceptions.Exit(ExitCode.FOUND)


def _current(desk: Desk) -> PriceBook | None:
    try:
        return desk.services.price_books.current()
    except NotFound:
        return None


def _expected(old: PriceBook | None) -> int | None:
    return old.version if old else None


def _version(desk: Desk, number: int | None = None) -> PriceBook:
    books = desk.services.price_books
    return books.current() if number is None else books.version(number)


def _named(desk: Desk, name: str) -> PriceBook:
    if name.isdecimal() and not Path(name).exists():
        return _version(desk, int(name))
    return read_price_book(read_document(name))


def _loaded(new: PriceBook, changes: tuple[Change, ...], *, dry_run: bool) -> str:
    done = "would be loaded" if dry_run else f"is now version {new.version}"
    first = f"{new.title} {done}."
    return f"{first}\n\n{_table(changes)}" if changes else first


def _table(changes: tuple[Change, ...]) -> str:
    if not changes:
        return "Nothing differs."
    rows = [(each.path, each.before, each.after) for each in changes]
    return table(("where", "before", "after"), rows)


def _documents(changes: tuple[Change, ...]) -> list[dict[str, Any]]:
    return [
        {"path": each.path, "before": each.before, "after": each.after}
        for each in changes
    ]
