"""What the silver in a coin is worth, before it is bought or punched."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from pricing.coin import Coin
from pricing.coin_cost import coin_cost
from pricing.money import arithmetic, mass_g
from pricing.price_book import CoinBuying
from pricing.spot import Spot


@dataclass(frozen=True, slots=True, kw_only=True)
class MeltValue:
    """The silver in a worn coin.

    Attributes:
        fine_ozt: fine weight after wear [ozt].
        value: that × spot [the spot's currency]; None where there is no spot.
        how: the arithmetic in a line.
    """

    fine_ozt: Decimal
    value: Decimal | None
    how: str


def melt_value(coin: Coin, buying: CoinBuying, spot: Spot | None) -> MeltValue | None:
    """The melt value of a coin, None for one of base metal.

    fine weight = gross mass × (1 − wear) × fineness; melt value = fine weight × spot.

    Args:
        coin: the coin; its own wear goes before the book's.
        buying: the price book's terms, of which only the wear counts.
        spot: the price of an ounce [currency/ozt].
    """
    if coin.metal == "base":
        return None
    wear = buying.wear if coin.wear is None else coin.wear
    with arithmetic():
        mass = mass_g(coin.gross_mass_g * (1 - wear))
        cost = coin_cost(coin, CoinBuying(paid=Decimal(0)), mass_g=mass)
        value = None if spot is None else cost.fine_ozt * spot.price
    return MeltValue(fine_ozt=cost.fine_ozt, value=value, how=cost.melt_words)
