"""`fineweight quote`: prices promised until a time, and what becomes of them."""

from __future__ import annotations

from typing import Any

import click

from api.cli.context import Desk, with_desk
from api.cli.output import note
from api.cli.page_options import newest
from api.cli.quote_decisions import accept, decline, renew
from api.cli.quote_new import new
from api.cli.quote_sheet import sheet
from api.cli.quote_words import quote_list, whole
from api.cli.written import WRITTEN
from api.ports import QUOTE_STATUSES, QuoteFilter


@click.group()
def quote() -> None:
    """Promise prices, and accept, decline or renew what was promised.

    A quote is named by its number. Its id does as well, after -- where it begins
    with a hyphen.

    \b
    Examples:
      fineweight quote new at_50s_1959_1973 10 --deposit 0.5
      fineweight quote new --from pair.toml
      fineweight quote list --status open
      fineweight quote accept 2026-0001
    """  # noqa: D301 - Click keeps the lines together at its own mark


@quote.command("list")
@click.option("--status", type=click.Choice(QUOTE_STATUSES), help="Only such quotes.")
@click.option(
    "--text",
    type=WRITTEN,
    default="",
    help="Only with this in the number or the customer's note.",
)
@newest()
@with_desk
def list_quotes(desk: Desk, *, limit: int, **chosen: Any) -> None:
    """List quotes, newest first. An open quote is expired as soon as its time is over.

    \b
    Examples:
      fineweight quote list --status open
      fineweight quote list --text engraving --limit 5 --json
    """  # noqa: D301 - Click keeps the lines together at its own mark
    quotes = desk.services.quotes
    wanted = QuoteFilter(now=desk.services.clock.now(), **chosen)
    page = quotes.page(wanted, limit=limit)
    found = quotes.summaries(page.quotes)
    desk.show({"quotes": found}, lambda: quote_list(found, page.quotes))
    if not found:
        note("There is no such quote; make one: fineweight quote new --help")
    if page.older:
        note("There are older ones; see more with --limit, or narrow it down.")


@quote.command()
@click.argument("name", metavar="NUMBER", type=WRITTEN)
@click.option("--lines", is_flag=True, help="List what makes the cost of each piece.")
@with_desk
def show(desk: Desk, name: str, *, lines: bool) -> None:
    """Show the quote of this NUMBER or id, as it was promised.

    Nothing is priced again: every figure is the one of the day it was made.

    \b
    Examples:
      fineweight quote show 2026-0001
      fineweight quote show 2026-0001 --lines
    """  # noqa: D301 - Click keeps the lines together at its own mark
    quotes = desk.services.quotes
    found = quotes.find(name)
    document = quotes.document(found)
    desk.show(document, lambda: whole(document, quotes.sheet(found), lines=lines))


for _command in (new, accept, decline, renew, sheet):
    quote.add_command(_command)
