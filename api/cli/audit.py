"""`fineweight audit`: who changed what, when.

An entry is one line, whatever is written in it: names and values with blanks in
them are quoted, and signs that do not print are shown escaped.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime

import click

from api.cli.context import Desk, with_desk
from api.cli.output import json_text, note, one_line, table
from api.cli.page_options import newest
from api.ports import AuditEntry, AuditFilter
from api.services.audit import MOST_ENTRIES

LONGEST_NAME = 64
LONGEST_CHANGE = 200
THE_PROGRAM = "the program"
NOTHING = "–"
_MOMENT = re.compile(r"(\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d)\.\d+Z", re.ASCII)
_WORD = re.compile(r"[^\s\"';→–]+")


@click.command()
@click.option(
    "--action", default="", help="Only this (coin.added), or all of a kind (coin)."
)
@click.option(
    "--subject",
    default="",
    help="Only what was done to this id, key or version, or quote of this number.",
)
@click.option("--by", default="", help="Only by this user, or the key of this id.")
@click.option(
    "--since",
    type=click.DateTime(["%Y-%m-%d", "%Y-%m-%dT%H:%M%z", "%Y-%m-%dT%H:%M:%S%z"]),
    metavar="TIME",
    help="Only from then on: 2026-12-24 (UTC), or 2026-12-24T18:00+01:00.",
)
@newest(most=MOST_ENTRIES)
@with_desk
def audit(desk: Desk, *, since: datetime | None, limit: int, **chosen: str) -> None:
    """Show who changed what and when, newest first.

    It tells every change of quotes, prices, feeds, coins, keys and the price book,
    made over the API or here. Whole values and ids of requests: --json.
    """
    wanted = AuditFilter(
        since=since.replace(tzinfo=since.tzinfo or UTC) if since else None,
        # Escaped, as names are kept.
        **{name: one_line(text) for name, text in chosen.items()},
    )
    page = desk.services.audit.page(wanted, limit=limit)
    desk.show_as(
        "audit:AuditListDocument",
        {"audit_entries": page.entries},
        lambda: trail(page.entries),
    )
    if not page.entries:
        note("No change was written down that fits.")
    if page.older:
        note("There are older ones; see more with --limit, or narrow it down.")


def trail(entries: Iterable[AuditEntry]) -> str:
    """The entries in a table, each in one line."""
    rows = [
        (
            entry.id,
            f"{entry.at.astimezone(UTC):%Y-%m-%d %H:%M:%S}",
            _who(entry),
            entry.via,
            entry.action,
            _name(entry.subject),
            _cut("; ".join(_changes(entry.before, entry.after)), LONGEST_CHANGE),
        )
        for entry in entries
    ]
    headings = ("id", "when (UTC)", "who", "how", "what", "of", "change")
    return table(headings, rows, right="r")


def _changes(
    before: Mapping[str, object] | None, after: Mapping[str, object] | None
) -> Iterator[str]:
    if before is None or after is None:
        for name, value in (before or after or {}).items():
            yield f"{_word(name)}: {_word(value)}"
        return
    for name in {**before, **after}:
        words = [_word(each[name]) for each in (before, after) if name in each]
        gone = [] if name in after else [NOTHING]
        yield f"{_word(name)}: {' → '.join([*words, *gone])}"


def _who(entry: AuditEntry) -> str:
    """A name, or the id of a key with its label; a label is always in quotes."""
    if not entry.by:
        return THE_PROGRAM
    label = entry.by_label
    named = "" if label is None else f" {json_text(_cut(label, LONGEST_NAME))}"
    return f"{_name(entry.by)}{named}"


def _name(text: str) -> str:
    return _word(_cut(text, LONGEST_NAME))


def _word(value: object) -> str:
    """A value as JSON, but a plain word without its quotes, a time to the second."""
    if isinstance(value, str) and (moment := _MOMENT.fullmatch(value)):
        return f"{moment[1]}Z"
    if isinstance(value, str) and value.isprintable() and _WORD.fullmatch(value):
        return value
    return json_text(value)


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else f"{text[: most - 1]}…"
