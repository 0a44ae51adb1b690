"""Quotes in words, for the maker at a terminal: costs are seen here.

Amounts are shown as they were written down when the quote was made. What a customer
or another program wrote is shown with every sign escaped that does not print.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

import click

from api.cli.output import facts, one_line, table
from api.ports import StoredQuote
from api.services.quotes.customer_sheet import CustomerSheet, SheetPiece
from api.services.quotes.formats import kept
from pricing import money

WIDTH = 79
LONGEST_NOTE = 40

Document = Mapping[str, Any]
Quote = tuple[Document, CustomerSheet]
"""A quote as it is written on the wire, and as its customer sees it."""


def quote_list(found: Sequence[Document], quotes: Sequence[StoredQuote]) -> str:
    """One line a quote; times are the workshop's, as the quote shows them."""
    rows = [
        (
            each["number"],
            each["status"],
            _in_short(quote.created_at, zone),
            _in_short(quote.valid_until, zone),
            each["total"],
            each["currency"],
            each["margin"],
            _start(each["customer_note"]),
        )
        for each, quote in zip(found, quotes, strict=True)
        for zone in (kept(quote)["workshop"]["timezone"],)
    ]
    headings = ("number", "status", "made", "valid until", "total", "in", "margin")
    return table((*headings, "note"), rows, right="    r r")


def whole(document: Document, sheet: CustomerSheet, *, lines: bool = False) -> str:
    """All that is to be said of a quote; with ``lines`` each piece's cost lines too."""
    blocks = (
        [_title(f"Quote {sheet.number}: {sheet.status}"), _dates(document, sheet)],
        _pieces(document, sheet),
        [_title(f"The customer pays [{sheet.currency}]"), _to_pay(document, sheet)],
        [_title(f"For the bench [{sheet.currency}]"), _bench(document)],
        _cost_lines(document, sheet) if lines else (),
        _note(sheet),
        [f"The customer's sheet: {document['sheet']}"],
    )
    return "\n\n".join(filter(None, ("\n".join(block) for block in blocks)))


def _title(text: str) -> str:
    return click.style(one_line(text), bold=True)


def _start(text: str) -> str:
    """The beginning of a note, in a line."""
    line = " ".join(text.split())
    return line if len(line) <= LONGEST_NOTE else f"{line[: LONGEST_NOTE - 1]}…"


def local(when: datetime, zone: str) -> str:
    """A moment in the workshop's zone, to the minute.

    >>> local(datetime.fromisoformat("2026-12-01T12:00:59Z"), "Europe/Vienna")
    '2026-12-01 13:00 (Europe/Vienna)'
    """
    return f"{when.astimezone(ZoneInfo(zone)):%Y-%m-%d %H:%M} ({zone})"


def _in_short(when: datetime, zone: str) -> str:
    """The same with the letters of the zone, where many stand below each other.

    >>> _in_short(datetime.fromisoformat("2026-12-01T12:00:59Z"), "Europe/Vienna")
    '2026-12-01 13:00 CET'
    """
    return f"{when.astimezone(ZoneInfo(zone)):%Y-%m-%d %H:%M %Z}"


def _dates(document: Document, sheet: CustomerSheet) -> str:
    holds = sheet.status in {"open", "accepted"}
    told: dict[str, object] = {
        "valid until" if holds else "was valid until": local(
            sheet.valid_until, sheet.timezone
        ),
        "made": _by(local(sheet.created_at, sheet.timezone), document["created_by"]),
    }
    if sheet.decided_at is not None:
        when = local(sheet.decided_at, sheet.timezone)
        told[sheet.status] = _by(when, document["decided_by"])
    return facts(
        told
        | {
            "because": document["reason"],
            "in the place of": _named(document["renews"], sheet.currency),
            "replaced by": _named(document["renewed_by"], sheet.currency),
            "version": document["version"],
        }
    )


def _by(when: str, who: str) -> str:
    return f"{when} by {who}" if who else when


def _named(other: Mapping[str, str] | None, currency: str) -> str:
    return f"{other['number']}, {other['total']} {currency}" if other else ""


def _pieces(document: Document, sheet: CustomerSheet) -> Iterator[str]:
    rows = [
        (
            name(piece),
            piece.quantity,
            line["price"]["unit"],
            line["price"]["total"],
            line["cost"]["per_piece"],
        )
        for piece, line in zip(sheet.pieces, document["lines"], strict=True)
    ]
    yield table(
        ("piece", "count", "each", "together", "cost each"), rows, right=" rrrr"
    )
    for piece in sheet.pieces:
        if piece.own_coin:
            yield from _wrapped(f"{piece.size}, own coin. {piece.own_coin_text}", "  ")


def name(piece: SheetPiece) -> str:
    """A piece in a line: its coin, size and extras."""
    extras = f", with {', '.join(piece.extras)}" if piece.extras else ""
    return f"{piece.coin}, size {piece.size}{extras}"


def _wrapped(text: str, lead: str) -> list[str]:
    return textwrap.wrap(
        one_line(text), WIDTH, initial_indent=lead, subsequent_indent=" " * len(lead)
    )


def _to_pay(document: Document, sheet: CustomerSheet) -> str:
    tax = "included in the total" if sheet.tax_inclusive else "on top, in the total"
    due = f"{document['deposit']}, due when it is accepted"
    return facts(
        {
            "pieces": document["goods"],
            "shipping": document["shipping"],
            "tax": f"{document['tax']}, {money.percent(sheet.tax_rate)} {tax}",
            "total": document["total"],
            "deposit": None if document["deposit"] is None else due,
        }
    )


def _bench(document: Document) -> str:
    rate = document["margin_rate"]
    share = "" if rate is None else f", {money.percent(Decimal(rate))} of net"
    return facts(
        {
            "net": document["net"],
            "cost": document["cost"],
            "fees": document["fees"],
            "margin": f"{document['margin']}{share}",
            "bench hours": document["bench_hours"],
            "coins to start": coins_to_start(document),
            "ready by": document["make_by"],
            "silver": _silver(document),
            "price book": f"version {document['book_version']}",
        }
    )


def coins_to_start(document: Document) -> str:
    """How many coins of each type to put on the bench."""
    return ", ".join(
        f"{each['coin_name']}: {each['coins']}" for each in document["coins_to_start"]
    )


def silver(document: Document) -> Decimal | None:
    """The spot price a quote stands on [currency/ozt]; None for none."""
    spots = (line["spot"] for line in document["lines"] if line["spot"] is not None)
    return next((Decimal(spot["price"]) for spot in spots), None)


def _silver(document: Document) -> str:
    price = silver(document)
    return "" if price is None else f"{money.tidy(price):f} a troy ounce"


def _cost_lines(document: Document, sheet: CustomerSheet) -> Iterator[str]:
    for place, (piece, line) in enumerate(
        zip(sheet.pieces, document["lines"], strict=True)
    ):
        yield f"{'' if place == 0 else chr(10)}{_title(f'Cost of one {name(piece)}')}"
        rows = [
            (each["label"], each["amount"], each["how"])
            for each in line["cost"]["lines"]
        ]
        total = ("cost", line["cost"]["per_piece"], "")
        yield table(("what", sheet.currency, "how"), [*rows, total], right=" r")


def _note(sheet: CustomerSheet) -> Iterator[str]:
    if sheet.customer_note:
        yield _title("Note to the customer")
        for line in sheet.customer_note.split("\n"):
            yield f"  {one_line(line.expandtabs())}".rstrip()
