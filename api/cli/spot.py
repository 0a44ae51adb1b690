"""`fineweight spot`: the price of silver that estimates use."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import click

from api.cli.context import Desk, with_desk
from api.cli.output import facts, instant, note, table
from api.ports import SpotEntry
from pricing.money import exact_decimal
from pricing.spot import Spot

METAL = "XAG"


@click.group()
def spot() -> None:
    """Enter and show the price of silver."""


@spot.command("set")
@click.argument("price")
@click.option("--currency", metavar="CODE", help="Else the price book's.")
@click.option("--note", "remark", default="", help="Where the price is from.")
@click.option(
    "--expires",
    type=click.DateTime(["%Y-%m-%dT%H:%M:%S%z", "%Y-%m-%dT%H:%M%z"]),
    metavar="TIME",
    help="Not to be used after, such as 2026-12-24T18:00+01:00.",
)
@with_desk
def set_spot(desk: Desk, price: str, currency: str | None, **more: Any) -> None:
    """Enter the PRICE of one troy ounce of silver."""
    entered = desk.services.spot_prices.enter(
        METAL,
        exact_decimal(price, path=("price",)),
        currency or desk.services.price_books.current().currency.code,
        note=more["remark"],
        expires_at=more["expires"],
        by="command line",
    )
    desk.show_as(
        "spot_prices:SpotPriceDocument",
        entered,
        lambda: f"Silver is {_price(entered)} from now on.",
    )


@spot.command("show")
@click.option(
    "--history", type=click.IntRange(1, 100), metavar="N", help="The last N entries."
)
@with_desk
def show_spot(desk: Desk, history: int | None) -> None:
    """Show the price that estimates use now."""
    if history:
        entries = desk.services.spot_prices.history(METAL, limit=history, before=None)
        document = {"spot_prices": entries}
        desk.show_as(
            "spot_prices:SpotHistoryDocument", document, lambda: _history(entries)
        )
        return
    current = desk.services.spot_prices.current(METAL)
    desk.show_as("spot_prices:CurrentSpotDocument", current, lambda: _current(current))


def _current(current: Spot) -> str:
    return facts(
        {
            "silver": _price(current),
            "as of": instant(current.as_of),
            "age": current.age_hours and f"{current.age_hours:f} hours",
            "source": current.source,
        }
    )


def _price(priced: Spot | SpotEntry) -> str:
    return f"{_figure(priced.price)} {priced.currency} a troy ounce"


def _figure(price: Decimal) -> str:
    """With two decimals at least, and no zeros beyond them."""
    whole, _, rest = f"{price:f}".partition(".")
    return f"{whole}.{rest.rstrip('0').ljust(2, '0')}"


def _history(entries: tuple[SpotEntry, ...]) -> str:
    if not entries:
        note(
            "No spot price has been entered yet; begin with: fineweight spot set 27.50"
        )
    rows = [
        (
            instant(e.as_of),
            _figure(e.price),
            e.currency,
            e.source,
            instant(e.expires_at),
            e.note,
        )
        for e in entries
    ]
    headings = ("as of", "per ozt", "in", "source", "expires", "note")
    return table(headings, rows, right=" r")
