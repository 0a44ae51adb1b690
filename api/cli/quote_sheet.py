"""`fineweight quote sheet`: what the customer is shown, without a single cost."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator
from importlib import import_module

import click

from api.cli.context import Desk, with_desk
from api.cli.output import note, one_line, table
from api.cli.quote_words import local, name
from api.cli.written import WRITTEN
from api.services.quotes.customer_sheet import CustomerSheet
from pricing import money

_JOINERS = "\u200c\u200d"
_AT_JOINERS = re.compile(f"([{_JOINERS}])")
WIDTH = 72
"""What a letter is read at without a line being broken again."""
STANDING = {
    "open": "valid until {until}",
    "accepted": "accepted on {decided}",
    "declined": "declined on {decided}; it can no longer be accepted",
    "expired": "expired on {until}; these prices no longer hold",
    "renewed": "replaced on {decided}; these prices no longer hold",
}


@click.command()
@click.argument("number", metavar="NUMBER", type=WRITTEN)
@click.option(
    "--output",
    type=click.Path(dir_okay=False, allow_dash=True),
    metavar="FILE",
    help="Write it as one HTML file, to print or to save as a PDF (- for output).",
)
@with_desk
def sheet(desk: Desk, number: str, *, output: str | None) -> None:
    """Show the customer's sheet of the quote of this NUMBER or id.

    It is plain text to put into a letter, unless --output makes it a file that a
    browser prints on paper. While the API is served, the same sheet is a page at an
    address that nobody can guess.

    \b
    Examples:
      fineweight quote sheet 2026-0001
      fineweight quote sheet 2026-0001 --output quote.html
    """  # noqa: D301 - Click keeps the lines together at its own mark
    if output == "-" and desk.as_json:
        raise click.UsageError("--json and --output - would both be the output")
    quotes = desk.services.quotes
    found = quotes.find(number)
    shown = quotes.sheet(found)
    if output is not None:
        _write(output, import_module("api.app").sheet_html(shown))
    if output is None or desk.as_json:
        desk.show_as(
            "customer_sheet:CustomerSheetDocument", shown, lambda: letter(shown)
        )
    note(f"Its page, under the address you serve at: /quotes/{found.sheet_token}")


def _write(file: str, text: str) -> None:
    try:
        with click.open_file(file, "w", encoding="utf-8") as opened:
            opened.write(text)
    except OSError as error:
        raise click.UsageError(f"{file} cannot be written: {error.strerror}") from error
    if file != "-":
        note(f"Written to {file}; a browser prints it, or saves it as a PDF.")


def letter(shown: CustomerSheet) -> str:
    """The sheet as plain text."""
    blocks = (
        _head(shown),
        _pieces(shown),
        _sums(shown),
        _also(shown),
        map(_plain, shown.customer_note.split("\n")),
        _cautions(shown),
    )
    return "\n\n".join(filter(None, ("\n".join(block) for block in blocks)))


def _head(shown: CustomerSheet) -> Iterator[str]:
    ended = shown.decided_at or shown.valid_until
    standing = STANDING[shown.status].format(
        until=local(shown.valid_until, shown.timezone),
        decided=local(ended, shown.timezone),
    )
    yield _plain(shown.workshop)
    yield f"Quote {shown.number} of {_day(shown)},"
    yield from _wrapped(standing, "", "")
    if shown.renewed_by is not None:
        yield f"Quote {shown.renewed_by} took its place."
    if shown.make_by is not None and shown.status in {"open", "accepted"}:
        yield f"Ready by {shown.make_by.isoformat()}"


def _day(shown: CustomerSheet) -> str:
    return local(shown.created_at, shown.timezone).partition(" ")[0]


def _pieces(shown: CustomerSheet) -> Iterator[str]:
    for piece in shown.pieces:
        yield from _wrapped(f"{piece.quantity} × {name(piece)}", "", "    ")
        each = f"{piece.unit:f} each, " if piece.quantity > 1 else ""
        yield f"    {each}{piece.total:f} {shown.currency}"
        if piece.own_coin:
            yield from _wrapped(f"Your own coin. {piece.own_coin_text}", "    ", "    ")


def _sums(shown: CustomerSheet) -> Iterator[str]:
    rate = money.percent(shown.tax_rate)
    tax = f"tax of {rate}, included" if shown.tax_inclusive else f"tax of {rate}, added"
    rows = [("pieces", shown.goods), ("shipping", shown.shipping)]
    total = ("total to pay", shown.total)
    if not shown.tax_rate:
        rows += [total]
    elif shown.tax_inclusive:
        rows += [total, (tax, shown.tax)]
    else:
        rows += [(tax, shown.tax), total]
    if shown.deposit is not None:
        rows += [("deposit, due on acceptance", shown.deposit)]
        rows += [("balance after that", shown.balance)]
    yield table(("", shown.currency), rows, right=" r")


def _also(shown: CustomerSheet) -> Iterator[str]:
    if shown.renews is not None:
        old = f"{shown.renews.total:f} {shown.currency}"
        yield f"It takes the place of {shown.renews.number}, whose total was {old}."
    if shown.spot is not None:
        price = f"{money.tidy(shown.spot.price):f} {shown.currency}"
        of = shown.spot.as_of
        when = f", the price of {local(of, shown.timezone)}" if of else ""
        yield from _wrapped(
            f"Reckoned with silver at {price} a troy ounce{when}.", "", ""
        )


def _cautions(shown: CustomerSheet) -> Iterator[str]:
    for caution in shown.cautions:
        yield from _wrapped(caution.text, "- ", "  ")


def _wrapped(text: str, first: str, rest: str) -> list[str]:
    return textwrap.wrap(
        _plain(text), WIDTH, initial_indent=first, subsequent_indent=rest
    )


def _plain(text: str) -> str:
    """A line of text that any letter can hold: blanks of every width become one.

    What joins letters or emoji is part of the writing, and stays as it is.
    """
    line = "".join(" " if sign.isspace() else sign for sign in text)
    return "".join(
        part if part in _JOINERS else one_line(part) for part in _AT_JOINERS.split(line)
    )
