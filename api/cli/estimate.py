"""`fineweight estimate`: a price for a coin and a finger size, and all behind it."""

from __future__ import annotations

from typing import Any

import click

from api.cli.context import Desk, with_desk
from api.cli.estimate_sheet import sheet
from api.cli.wish_options import EXACT, with_wish
from pricing.ring_size import ring_size
from pricing.wish import OwnCoin, Wish


@click.command()
@click.argument("coin")
@click.argument("size")
@with_wish
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
