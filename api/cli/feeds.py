"""`fineweight feeds`: where prices are fetched from."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from typing import Any

import click

from api.cli.book_file import read_document
from api.cli.context import Desk, with_desk
from api.cli.output import instant, note, table
from api.cli.spot import end_as
from api.cli.spot_words import reasons, result
from api.cli.written import WRITTEN
from api.ports import FetchRecord, NotFound, StoredFeed
from api.services.feeds.document import read_feed_document

FILE = click.Path(exists=True, dir_okay=False, allow_dash=True)


@click.group()
def feeds() -> None:
    """Set up where prices are fetched from."""


@feeds.command("list")
@with_desk
def list_feeds(desk: Desk) -> None:
    """List the feeds and what came of asking them last."""
    found = desk.services.feeds.list()
    if not found:
        note("No feed is set up; see: fineweight feeds load --help")
    desk.show_as("feeds:FeedListDocument", {"feeds": found}, lambda: _list(desk, found))


def _list(desk: Desk, found: tuple[StoredFeed, ...]) -> str:
    rows = [
        (
            stored.feed.key,
            stored.feed.title,
            f"{stored.feed.metal} in {stored.feed.currency or 'all currencies'}",
            _state(stored),
            *_last(desk.services.feeds.fetches(stored.feed.key, limit=1)),
        )
        for stored in found
    ]
    headings = ("key", "title", "prices", "state", "asked last", "and then")
    return table(headings, rows)


def _state(stored: StoredFeed) -> str:
    if not stored.feed.enabled:
        return "off"
    missing = _missing(stored)
    return f"needs {', '.join(missing)}" if missing else "on"


def _missing(stored: StoredFeed) -> list[str]:
    names = stored.feed.secret_headers
    return [name for name in names if name not in stored.secrets_set]


def _last(fetches: tuple[FetchRecord, ...]) -> tuple[str, str]:
    if not fetches:
        return "never", ""
    return instant(fetches[0].at), fetches[0].outcome


@feeds.command()
@click.argument("file", type=FILE)
@click.option("--key", metavar="KEY", help="Else the file's own 'key'.")
@click.option("--dry-run", is_flag=True, help="Check the file and store nothing.")
@with_desk
def load(desk: Desk, file: str, *, key: str | None, dry_run: bool) -> None:
    """Set up or change a feed from FILE (TOML or JSON, - for standard input).

    \b
    A feed with a fault is refused whole, and every fault is listed. For example:
      key = "assay_office"
      title = "An assay office that publishes its own price"
      url = "https://prices.example.com/silver.json"
      format = "json"
      currency = "EUR"
      price = "/silver/per_kilogram"
      unit = "kilogram"
      time = { path = "/at" }
    """  # noqa: D301 - Click keeps the lines together at its own mark
    name, document = _named(read_document(file, kind="description of a feed"), key)
    if dry_run:
        feed = read_feed_document(document, key=name)
        desk.show({"key": name}, lambda: f"{feed.title} ({name}) could be loaded.")
        return
    old = _stored(desk, name)
    stored = desk.services.feeds.put(
        name, document, expected=None if old is None else old.revision
    )
    desk.show_as("feeds:FeedDocument", stored, lambda: _loaded(stored, old))


def _named(
    document: Mapping[str, Any], key: str | None
) -> tuple[str, Mapping[str, Any]]:
    rest = {name: value for name, value in document.items() if name != "key"}
    name = key or document.get("key")
    if not isinstance(name, str):
        raise click.UsageError(
            'nothing says what the feed is called; write key = "…" into the file, '
            "or give --key"
        )
    return name, rest


def _stored(desk: Desk, key: str) -> StoredFeed | None:
    try:
        return desk.services.feeds.get(key)
    except NotFound:
        return None


def _loaded(stored: StoredFeed, old: StoredFeed | None) -> str:
    feed = stored.feed
    lines = [f"{feed.title} is {'changed' if old else 'set up'} as {feed.key}."]
    missing = _missing(stored)
    if missing:
        names = " ".join(missing)
        lines += [f"Set its secrets next: fineweight feeds secret {feed.key} {names}"]
    if not feed.licence_note:
        lines += ["Note what its licence allows in 'licence_note'."]
    lines += [f"Try it without recording anything: fineweight feeds try {feed.key}"]
    return "\n".join(lines)


@feeds.command()
@click.argument("key", type=WRITTEN)
@click.argument("names", metavar="NAME...", nargs=-1, required=True)
@with_desk
def secret(desk: Desk, key: str, names: tuple[str, ...]) -> None:
    """Set the secret header NAME of the feed KEY; the value is read from stdin.

    With several names, one value a line. It is sent to the feed and never shown.
    """
    others = set(desk.services.feeds.get(key).secrets_set) - set(names)
    if others:
        raise click.UsageError(
            f"{', '.join(sorted(others))} would be forgotten; name all of the feed's "
            "secret headers at once"
        )
    stored = desk.services.feeds.set_secrets(key, {one: _value(one) for one in names})
    desk.show_as(
        "feeds:FeedDocument",
        stored,
        lambda: f"{key} has its {', '.join(stored.secrets_set)}.",
    )


def _at_terminal() -> bool:
    return sys.stdin.isatty()


def _value(name: str) -> str:
    if _at_terminal():
        return str(click.prompt(name, hide_input=True, err=True))
    return sys.stdin.readline().rstrip("\r\n")


@feeds.command("try")
@click.argument("key", type=WRITTEN)
@with_desk
def try_feed(desk: Desk, key: str) -> None:
    """Ask the feed KEY and say what would become of its price; record nothing."""
    results = desk.services.fetching.attempt(key)
    desk.show_as(
        "spot_prices:FetchDocument",
        {"results": results},
        lambda: "\n".join(map(result, results)),
    )
    end_as(results)


@feeds.command()
@click.argument("key", type=WRITTEN)
@click.option(
    "--limit",
    type=click.IntRange(1, 100),
    default=10,
    show_default=True,
    help="At most so many.",
)
@with_desk
def fetches(desk: Desk, key: str, *, limit: int) -> None:
    """Show the last times the feed KEY was asked, and why its price counts or not."""
    found = desk.services.feeds.fetches(key, limit=limit)
    if not found:
        note(f"'{key}' was never asked; do: fineweight spot fetch {key}")
    document = {"feed": key, "fetches": found}
    desk.show_as("feeds:FetchLogDocument", document, lambda: _log(found))


def _log(found: tuple[FetchRecord, ...]) -> str:
    return "\n".join(
        line
        for each in found
        for line in (
            f"{instant(each.at)}  {each.outcome}, {each.duration_ms} ms"
            + (f", entry {each.entry_id}" if each.entry_id else ""),
            *reasons(each.findings),
        )
    )
