"""`fineweight quote new`: a price promised until a time."""

from __future__ import annotations

from importlib import import_module
from typing import Any

import click
from click.core import ParameterSource

from api.cli.book_file import read_document
from api.cli.context import Desk, with_desk
from api.cli.quote_words import whole
from api.cli.wish_options import EXACT, with_wish
from api.services.quotes.terms import LONGEST_HOURS, LineAsk, QuoteTerms
from pricing.ring_size import ring_size
from pricing.wish import OwnCoin, Wish

FILE = click.Path(exists=True, dir_okay=False, allow_dash=True)
BESIDE_A_FILE = {"file", "database", "as_json"}

Asked = tuple[list[LineAsk], QuoteTerms]


@click.command()
@click.argument("coin", required=False)
@click.argument("size", required=False)
@click.option(
    "--from",
    "file",
    type=FILE,
    metavar="FILE",
    help="Take everything from FILE (TOML or JSON, - for standard input).",
)
@with_wish
@click.option("--spot", type=EXACT, metavar="PRICE", help="Else the current one.")
@click.option(
    "--note", "customer_note", default="", help="Plain text for the customer's sheet."
)
@click.option(
    "--deposit",
    "deposit_share",
    type=EXACT,
    metavar="SHARE",
    help="Of the total, due when it is accepted: 0.5 is half.",
)
@click.option(
    "--valid-hours",
    type=click.IntRange(1, LONGEST_HOURS),
    metavar="N",
    help="How long it holds; else as the policy has it.",
)
@click.option("--show-spot", is_flag=True, help="Show the customer the silver price.")
@with_desk
@click.pass_context
def new(ctx: click.Context, desk: Desk, /, *, file: str | None, **given: Any) -> None:
    """Promise a price for a ring of finger SIZE made from COIN.

    \b
    Examples:
      fineweight quote new at_50s_1959_1973 10
      fineweight quote new at_50s_1959_1973 "T 1/2" --system uk --quantity 2
      fineweight quote new ch_5fr_1931_1969 8 --own-coin 40 --deposit 0.5 \\
        --valid-hours 48 --note "Engraving as agreed."
    \b
    Several kinds of ring are promised together from a FILE, written as the body of
    POST /v1/quotes is:
      deposit_share = "0.50"
      [[lines]]
      coin = "at_50s_1959_1973"
      size = { system = "us", size = "10" }
      [[lines]]
      coin = "at_50s_1959_1973"
      size = { system = "us", size = "6.5" }
    """  # noqa: D301 - Click keeps the lines together at its own mark
    asks, terms = _one_ring(given) if file is None else _from_file(file, ctx)
    quotes = desk.services.quotes
    made = quotes.create(asks, terms)
    document = quotes.document(made)
    desk.show(document, lambda: whole(document, quotes.sheet(made)))


def _one_ring(given: dict[str, Any]) -> Asked:
    coin, size = given.pop("coin"), given.pop("size")
    if size is None:
        raise click.UsageError("say COIN and SIZE, or --from FILE")
    names = ("customer_note", "deposit_share", "valid_hours", "show_spot")
    terms = QuoteTerms(**{name: given.pop(name) for name in names})
    spot, own = given.pop("spot"), given.pop("own_coin")
    wish = Wish(
        size=ring_size(given.pop("system"), size),
        own_coin=None if own is None else OwnCoin(compensation=own),
        **given,
    )
    return [LineAsk(coin=coin, wish=wish, spot_price=spot)], terms


def _from_file(file: str, ctx: click.Context) -> Asked:
    also = [
        param.opts[0] if isinstance(param, click.Option) else param.human_readable_name
        for param in ctx.command.params
        if param.name not in BESIDE_A_FILE
        and ctx.get_parameter_source(str(param.name)) is ParameterSource.COMMANDLINE
    ]
    if also:
        raise click.UsageError(
            f"{', '.join(also)} cannot stand beside --from; write it into the file"
        )
    document = read_document(file, kind="description of a quote")
    body = import_module("api.schemas.quotes").QuoteBody()
    asked = import_module("api.schemas.reading").read(body, document)
    asks = [LineAsk(**line) for line in asked.pop("lines")]
    return asks, QuoteTerms(**asked)
