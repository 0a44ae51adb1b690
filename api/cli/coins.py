"""`fineweight coins`: the coin types and their figures."""

from __future__ import annotations

from decimal import Decimal

import click

from api.cli.context import Desk, with_desk
from api.cli.output import facts, table
from api.ports import StoredCoin
from pricing import money
from pricing.coin import Coin
from pricing.units import troy_ounces

FIGURES = {
    "gross_mass_g": "mass",
    "fineness_permille": "fineness",
    "diameter_mm": "diameter",
    "rim_thickness_mm": "thickness",
}
"""Figures of a coin → the names by which their provenance is kept."""


@click.group()
def coins() -> None:
    """List coin types and their figures."""


@coins.command("list")
@click.argument("words", nargs=-1)
@with_desk
def list_coins(desk: Desk, words: tuple[str, ...]) -> None:
    """List coin types; WORDS keeps those that contain them all."""
    wanted = [word.casefold() for word in words]
    found = [
        stored
        for stored in desk.services.coins.list()
        if all(word in _searched(stored.coin) for word in wanted)
    ]
    desk.show_as("coins:CoinListDocument", {"coins": found}, lambda: _list(found))


@coins.command("show")
@click.argument("key")
@with_desk
def show_coin(desk: Desk, key: str) -> None:
    """Show every figure of the coin with this KEY, and where each comes from."""
    stored = desk.services.coins.get(key)
    desk.show_as("coins:CoinDocument", stored, lambda: _sheet(stored))


def _searched(coin: Coin) -> str:
    return f"{coin.key} {coin.name} {coin.country} {coin.years}".casefold()


def fine_ozt(coin: Coin) -> Decimal | None:
    """Pure silver in an unworn coin, to 0.0001 ozt [ozt]; None for base metal."""
    if coin.metal == "base":
        return None
    exact = troy_ounces(coin.gross_mass_g * coin.fineness)
    return money.half_up(exact, money.SPOT_STEP)


def _list(found: list[StoredCoin]) -> str:
    if not found:
        return "No coin type has all of these words."
    rows = [
        (c.key, c.label, c.years, c.gross_mass_g, c.fineness_permille, c.diameter_mm,
         fine_ozt(c), stored.origin)
        for stored in found
        for c in (stored.coin,)
    ]  # fmt: skip
    headings = ("key", "coin", "years", "g", "‰", "mm", "fine ozt", "from")
    return table(headings, rows, right="   rrrr")


def _ounces(mass: Decimal | None) -> str:
    return "" if mass is None else f"{mass:f} ozt"


def _marked(coin: Coin, name: str, unit: str) -> str:
    value = getattr(coin, name)
    mark = coin.provenance.mark(FIGURES[name])
    return "" if value is None else f"{value.normalize():f} {unit}  ({mark})"


def _sheet(stored: StoredCoin) -> str:
    coin = stored.coin
    nickel = "" if coin.nickel == "none" else f"{coin.nickel}: see the cautions"
    return facts(
        {
            coin.key: coin.label,
            "country": coin.country,
            "years": coin.years,
            "mass": _marked(coin, "gross_mass_g", "g"),
            "fineness": _marked(coin, "fineness_permille", "‰"),
            "diameter": _marked(coin, "diameter_mm", "mm"),
            "rim": _marked(coin, "rim_thickness_mm", "mm"),
            "fine silver": _ounces(fine_ozt(coin)),
            "published": _ounces(coin.published_fine_ozt),
            "alloy": coin.composition,
            "nickel": nickel,
            "source": coin.provenance.source,
            "notes": coin.provenance.notes,
            "from": stored.origin,
        }
    )
