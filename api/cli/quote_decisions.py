"""`fineweight quote accept`, `decline` and `renew`: what becomes of a quote.

A decision is made on the quote as it was read when the command began, or on the
version that is named: whatever another has decided meanwhile is never overruled.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import click

from api.cli.context import Desk, with_desk
from api.cli.output import one_line
from api.cli.quote_changes import accepted, renewed
from api.cli.quote_words import whole
from api.cli.wish_options import EXACT
from api.cli.written import WRITTEN
from api.ports import StoredQuote
from api.services.quotes.terms import LONGEST_HOURS

_NAME = click.argument("name", metavar="NUMBER", type=WRITTEN)
_IF_VERSION = click.option(
    "--if-version",
    type=click.IntRange(min=1),
    metavar="N",
    help="Only if this is still its version; else whichever it has now.",
)


@click.command()
@_NAME
@_IF_VERSION
@with_desk
def accept(desk: Desk, name: str, *, if_version: int | None) -> None:
    """Take the open quote of this NUMBER or id at its word.

    Ends with code 5 if it was decided before or its time is over.

    \b
    Examples:
      fineweight quote accept 2026-0001
      fineweight quote accept 2026-0001 --if-version 1
    """  # noqa: D301 - Click keeps the lines together at its own mark
    seen = desk.services.quotes.find(name)
    decided = desk.services.quotes.accept(seen.id, expected=_version(seen, if_version))
    document = desk.services.quotes.document(decided)
    desk.show(document, lambda: accepted(document))


@click.command()
@_NAME
@click.option("--reason", default="", metavar="TEXT", help="Why, in a line.")
@_IF_VERSION
@with_desk
def decline(desk: Desk, name: str, *, reason: str, if_version: int | None) -> None:
    """Put the open quote of this NUMBER or id aside.

    Ends with code 5 if it was decided before or its time is over.

    \b
    Examples:
      fineweight quote decline 2026-0001 --reason "Too dear, says the customer."
    """  # noqa: D301 - Click keeps the lines together at its own mark
    seen = desk.services.quotes.find(name)
    decided = desk.services.quotes.decline(
        seen.id, expected=_version(seen, if_version), reason=reason
    )
    document = desk.services.quotes.document(decided)
    why = f": {one_line(decided.reason)}" if decided.reason else "."
    desk.show(document, lambda: f"Quote {decided.number} is declined{why}")


@click.command()
@_NAME
@click.option("--spot", type=EXACT, metavar="PRICE", help="Else the current one.")
@click.option(
    "--valid-hours",
    type=click.IntRange(1, LONGEST_HOURS),
    metavar="N",
    help="How long the new one holds; else as the policy has it.",
)
@_IF_VERSION
@with_desk
def renew(desk: Desk, name: str, *, spot: Decimal | None, **given: Any) -> None:
    """Promise the rings of a quote anew, by today's book, coins and silver.

    The new quote takes the place of the one of this NUMBER or id, which may be
    open, expired or declined. Both prices are shown.

    \b
    Examples:
      fineweight quote renew 2026-0001
      fineweight quote renew 2026-0001 --spot 28.10 --valid-hours 48
    """  # noqa: D301 - Click keeps the lines together at its own mark
    quotes = desk.services.quotes
    seen = quotes.find(name)
    made = quotes.renew(
        seen.id,
        expected=_version(seen, given["if_version"]),
        spot_price=spot,
        valid_hours=given["valid_hours"],
    )
    before, after = quotes.document(seen), quotes.document(made)

    def text() -> str:
        both = renewed((before, quotes.sheet(seen)), (after, quotes.sheet(made)))
        return f"{both}\n\n{whole(after, quotes.sheet(made))}"

    desk.show(after, text)


def _version(seen: StoredQuote, named: int | None) -> int:
    return seen.version if named is None else named
