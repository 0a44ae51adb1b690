"""The spot price: what one troy ounce of silver costs at a moment.

References:
    [1] ISO 4217: XAG is one troy ounce of silver.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from pricing.errors import InvalidInput
from pricing.money import ONE, ZERO
from pricing.units import GRAMS_PER_TROY_OUNCE, grams


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A price of silver, and where it comes from.

    Attributes:
        metal: ``XAG``, one troy ounce of silver [1].
        price: of one troy ounce [currency/ozt].
        currency: ISO 4217 code of the price.
        as_of: the moment it was the price, or None where nobody said.
        source: the feed's key, ``manual``, or ``given`` with the request.
        age_hours: how old it was when it was used [h], or None.

    Raises:
        InvalidInput: a price that is not above zero.
    """

    metal: str = "XAG"
    price: Decimal
    currency: str
    as_of: datetime | None = None
    source: str = "given"
    age_hours: Decimal | None = None

    def __post_init__(self) -> None:
        _check_above_zero(self.price)


def _check_above_zero(price: Decimal) -> None:
    if not (price.is_finite() and price > ZERO):
        raise InvalidInput(
            f"a spot price of {price} is no price; give one above 0",
            path=("spot", "price"),
        )


def price_per_troy_ounce(
    price: Decimal, *, unit: str = "troy_ounce", hundredths: bool = False
) -> Decimal:
    """Price of a troy ounce [currency/ozt] from a price by another measure.

    Price × grams in a troy ounce ÷ grams in the unit, ÷ 100 for hundredths.
    Not rounded.

    Args:
        price: of one unit [currency/unit, or its hundredths/unit].
        unit: the unit of mass it is quoted by, one of ``units.MASS_UNITS_G``.
        hundredths: the price is in cents or pence rather than whole units.

    Raises:
        InvalidInput: the unit is not known, or the price is not above zero.

    >>> price_per_troy_ounce(Decimal("0.88"), unit="g")
    Decimal('27.3710595840')
    >>> price_per_troy_ounce(Decimal("2737.5"), hundredths=True)
    Decimal('27.375')
    """
    _check_above_zero(price)
    whole = price / 100 if hundredths else price
    if unit == "troy_ounce":
        return whole
    return whole * GRAMS_PER_TROY_OUNCE / grams(ONE, unit=unit)
