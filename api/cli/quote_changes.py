"""What a decision did to a quote, in words for the maker."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from api.cli.output import facts, table
from api.cli.quote_words import Document, Quote, coins_to_start, name, silver
from pricing import money

SHARE_STEP = Decimal("0.001")
"""A change is told to the tenth of a per cent."""

Row = tuple[str, str, str, str]


def accepted(document: Document) -> str:
    """That a quote is accepted, and what to do now."""
    code, due = document["currency"], document["deposit"]
    total = f"{document['total']} {code}"
    told = {
        "due now": None if due is None else f"{due} {code}",
        "coins to start": coins_to_start(document),
        "bench hours": document["bench_hours"],
        "ready by": document["make_by"],
        "the customer's sheet": document["sheet"],
    }
    return f"Quote {document['number']} is accepted: {total}.\n{facts(told)}"


def renewed(old: Quote, new: Quote) -> str:
    """Both prices of a quote that was renewed, and by how much they differ."""
    before, after = old[0], new[0]
    first = f"Quote {after['number']} takes the place of {before['number']}."
    headings = ("price", "before", "now", "difference")
    return f"{first}\n\n{table(headings, list(_rows(old, new)), right=' rrr')}"


def _rows(old: Quote, new: Quote) -> Iterator[Row]:
    (before, was), (after, now) = old, new
    same = was.currency == now.currency
    for piece, earlier in zip(now.pieces, was.pieces, strict=True):
        yield _row(name(piece), earlier.unit, piece.unit, same=same)
    yield _row("total", was.total, now.total, same=same)
    if not same:
        yield ("in", was.currency, now.currency, "")
    spots = silver(before), silver(after)
    if spots[0] is not None and spots[1] is not None:
        ounce = [money.tidy(spot) for spot in spots if spot is not None]
        yield _row("silver, a troy ounce", *ounce, same=same)


def _row(what: str, before: Decimal, now: Decimal, *, same: bool) -> Row:
    change = _difference(before, now) if same else ""
    return what, f"{before:f}", f"{now:f}", change


def _difference(before: Decimal, now: Decimal) -> str:
    with money.arithmetic():
        if now == before:
            return "none"
        change = now - before
        share = money.half_up(change / before, SHARE_STEP) if before else None
        told = "" if share is None else f" ({money.percent(share)})"
        return f"{change:+f}{told}"
