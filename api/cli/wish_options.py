"""Options that describe a ring and how it is sold."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import click

from pricing.errors import InvalidInput
from pricing.money import exact_decimal
from pricing.ring_size import SYSTEMS
from pricing.wish import MOST_PIECES


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

_OPTIONS = (
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


def with_wish(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options to a command, under the names of a `Wish`."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command
