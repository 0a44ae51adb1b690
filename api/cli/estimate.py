"""`fineweight estimate`: a price for a coin and a finger size, and all behind it."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import click

from api.cli.context import Desk, with_desk
from api.cli.estimate_sheet import sheet
from pricing.errors import InvalidInput
from pricing.money import exact_decimal
from pricing.ring_size import SYSTEMS, ring_size
from pricing.wish import MOST_PIECES, OwnCoin, Wish


class Exact(click.ParamType[Decimal]):
    """A plain decimal number, never a float."""

    name = "number"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Decimal:
        """The number. Fails with what is allowed."""
        try:
            return exact_decimal(value)
        except InvalidInput as refused:
            self.fail(refused.message, param, ctx)


EXACT = Exact()


def _wished(command: Callable[..., Any]) -> Callable[..., Any]:
    """Options that describe the ring and how it is sold."""
    options = (
        click.option(
            "--system",
            type=click.Choice(SYSTEMS),
            default="us",
            show_default=True,
            help="What SIZE is counted in.",
        ),
        click.option(
            "--quantity",
            type=click.IntRange(1, MOST_PIECES),
            default=1,
            show_default=True,
            help="Pieces of this ring in the order.",
        ),
        click.option("--channel", metavar="KEY", help="Else the book's first."),
        click.option("--policy", metavar="KEY", help="Else the book's first."),
        click.option(
            "--extra",
            "extras",
            metavar="KEY",
            multiple=True,
            help="An extra of the price book; may be given again.",
        ),
        click.option(
            "--hole", "hole_mm", type=EXACT, metavar="MM", help="Punch this hole."
        ),
        click.option(
            "--width",
            "band_width_mm",
            type=EXACT,
            metavar="MM",
            help="Make a band about this wide, with the nearest punch owned.",
        ),
        click.option(
            "--own-coin",
            type=EXACT,
            metavar="AMOUNT",
            help="The customer brings the coin; AMOUNT is agreed if it is lost.",
        ),
        click.option(
            "--coin-paid",
            type=EXACT,
            metavar="AMOUNT",
            help="What was really paid for the coin of a finished ring.",
        ),
        click.option(
            "--confidence",
            type=EXACT,
            default="0.95",
            show_default=True,
            help="For the number of coins to start.",
        ),
    )
    for option in reversed(options):
        command = option(command)
    return command


@click.command()
@click.argument("coin")
@click.argument("size")
@_wished
@click.option("--spot", type=EXACT, metavar="PRICE", help="Else the current one.")
@click.option("--risk", is_flag=True, help="Simulate the order too.")
@click.option("--every-line", is_flag=True, help="List each material and tool.")
@with_desk
def estimate(desk: Desk, coin: str, size: str, **given: Any) -> None:
    """Price a ring of finger SIZE made from COIN, and show all that makes the price.

    \b
    Examples:
      fineweight estimate at_50s_1959_1973 10
      fineweight estimate us_dollar_1878_1921 "T 1/2" --system uk --spot 27.50
      fineweight estimate ch_5fr_1931_1969 8 --own-coin 40 --json
    """  # noqa: D301 - Click keeps the lines together at its own mark
    spot, every_line = given.pop("spot"), given.pop("every_line")
    own, risk = given.pop("own_coin"), given.pop("risk")
    wish = Wish(
        size=ring_size(given.pop("system"), size),
        own_coin=None if own is None else OwnCoin(compensation=own),
        include=frozenset({"risk"} if risk else ()),
        **given,
    )
    found = desk.services.estimates.estimate(coin, wish, spot_price=spot)
    desk.show(_document(found), lambda: sheet(found, every_line=every_line))


def _document(found: Any) -> dict[str, Any]:
    from api.schemas.estimate_document import estimate_document  # noqa: PLC0415

    return estimate_document(found)
