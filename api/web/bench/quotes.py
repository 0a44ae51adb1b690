"""Quotes that were made: the list, and each with all it stands on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, cast

from flask import request

from api.ports import QuoteFilter, QuoteStatus, StoredQuote
from api.ports.jobs import JobFilter
from api.schemas.quotes import STATUSES
from api.services.quotes.customer_sheet import CustomerSheet
from api.services.quotes.document import FIGURES
from api.services.quotes.formats import kept
from api.web.bench.quote_lines import line_rows, line_shown, order_shown
from api.web.bench.quote_words import KINDS, RULES, STATES
from api.web.pages import File, Page, Pages
from api.web.paging import place, ways
from api.web.sheet_file import sheet_file
from api.web.typed_numbers import whole_number
from api.web.visit import Visit

ADDRESS = "/bench/quotes"
ONE = f"{ADDRESS}/<quote_id>"
SHOWN = 20
_LONGEST_TEXT = 100

pages = Pages(
    "quotes",
    title="Quotes",
    tab="quote",
    done={
        "promised": "It is promised. Now hand over the sheet.",
        "accepted": "It is accepted.",
        "declined": "It is put aside.",
        "renewed": "It takes the place of the old one. Hand over the new sheet.",
    },
)


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteRow:
    """A quote in a list; ``held`` says that the shop holds its price for a buyer."""

    id: str
    sheet: CustomerSheet
    note: str
    held: bool


@pages.get(ADDRESS)
def all_quotes(visit: Visit) -> Page:
    """Quotes, newest first, page by page."""
    asked = visit.query
    status, text = asked.get("status", ""), asked.get("text", "")[:_LONGEST_TEXT]
    wanted = QuoteFilter(
        now=visit.services.clock.now(),
        status=cast("QuoteStatus", status) if status in STATUSES else None,
        text=text,
    )
    past, newer = place(asked)
    found = visit.services.quotes.page(wanted, limit=SHOWN, past=past, newer=newer)
    values = {
        "rows": [_row(visit, quote) for quote in found.quotes],
        "states": STATES,
        "status": wanted.status or "",
        "text": text,
    }
    chosen = {name: asked[name] for name in ("status", "text") if asked.get(name)}
    seqs = [quote.seq for quote in found.quotes]
    return Page("bench/quotes.html", values | ways(ADDRESS, found, seqs, chosen=chosen))


@pages.get(ONE)
def one_quote(visit: Visit) -> Page:
    """A quote as it was promised, and what has become of it."""
    quote = visit.services.quotes.get(visit.path["quote_id"])
    return Page("bench/quote.html", quote_values(visit, quote))


@pages.get(f"{ONE}/sheet")
def sheet_to_send(visit: Visit) -> File:
    """The customer's sheet as one file, for whoever cannot reach this machine."""
    quote = visit.services.quotes.get(visit.path["quote_id"])
    return File(
        name=f"quote-{quote.number}.html",
        body=sheet_file(visit.services.quotes.sheet(quote)).encode(),
        media_type="text/html; charset=utf-8",
    )


def quote_values(visit: Visit, quote: StoredQuote) -> dict[str, Any]:
    """What a quote is drawn with; of its lines one in full."""
    document = visit.services.quotes.document(quote)
    lines, coins = document["lines"], document["coins"]
    asked = whole_number(visit.query.get("line", "")) or 0
    open_line = min(asked, len(lines) - 1)
    return {
        "quote": quote,
        "sheet": visit.services.quotes.sheet(quote),
        "sheet_path": document["sheet"],
        "sheet_address": request.host_url.rstrip("/") + document["sheet"],
        "states": STATES,
        "held": kept(quote)["held"],
        "renews": document["renews"],
        "renewed_by": document["renewed_by"],
        "job": _job(visit, quote),
        "currency": quote.currency,
        "book_version": quote.book_version,
        "order": order_shown({name: document[name] for name in FIGURES}),
        "valid_until": quote.valid_until,
        "make_by": quote.make_by,
        "rows": line_rows(lines),
        "line": line_shown(open_line, lines[open_line], coins[open_line], visit.locale),
        "rules": RULES,
        "kinds": KINDS,
    }


def _job(visit: Visit, quote: StoredQuote) -> Any:
    """The job that was opened for it, or None."""
    if quote.status != "accepted":
        return None
    wanted = JobFilter(quote_id=quote.id)
    found = visit.services.bench.jobs.page(wanted, limit=1)
    return found.jobs[0] if found.jobs else None


def _row(visit: Visit, quote: StoredQuote) -> QuoteRow:
    lines = quote.customer_note.strip().splitlines()
    return QuoteRow(
        id=quote.id,
        sheet=visit.services.quotes.sheet(quote),
        note=lines[0] if lines else "",
        held=kept(quote)["held"] is not None,
    )
