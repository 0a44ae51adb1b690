"""The spot price: what one troy ounce of silver costs at a moment.

Feeds quote it by the troy ounce, gram or kilogram, in whole units or hundredths,
the right way round or as the metal one unit of money buys, and in a currency
that need not be the price book's. Everything here ends in one form: the price
of one troy ounce.

References:
    [1] ISO 4217: XAG is one troy ounce of silver.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from types import MappingProxyType

from pricing.errors import InvalidInput, Path
from pricing.money import ONE, ZERO, arithmetic, converted
from pricing.units import GRAMS_PER_TROY_OUNCE, grams

FEED_UNITS = ("troy_ounce", "gram", "kilogram")
"""Units of mass that feeds quote metal by, in words."""

_IN_SHORT: Mapping[str, str] = MappingProxyType({"gram": "g", "kilogram": "kg"})
_HUNDREDTHS = Decimal(100)
_MOST_DIGITS = 30  # before or after the point; beyond, arithmetic could overflow


@dataclass(frozen=True, slots=True, kw_only=True)
class FxRate:
    """What one unit of a currency costs in another, and where that comes from.

    Attributes:
        base: ISO 4217 code of the currency that is priced.
        quote: ISO 4217 code of the currency it is priced in.
        rate: of one unit of ``base`` [quote/base].
        as_of: the moment it was the rate, or None where nobody said.
        source: the feed's key, ``manual``, or ``given`` with the request.
        age_hours: how old it was when it was used [h], or None.

    Raises:
        InvalidInput: a rate that is not above zero, or of a currency in itself.
    """

    base: str
    quote: str
    rate: Decimal
    as_of: datetime | None = None
    source: str = "given"
    age_hours: Decimal | None = None

    def __post_init__(self) -> None:
        _check_above_zero(self.rate, ("fx", "rate"), "an exchange rate")
        if self.base == self.quote:
            raise InvalidInput(
                f"a rate from {self.base} to {self.quote} changes nothing; "
                "give one between two currencies",
                path=("fx", "quote"),
            )

    def exchanged(self, amount: Decimal, *, of: str, to: str) -> Decimal:
        """``amount`` [of] in another currency [to], by this rate.

        Amount × rate, or amount ÷ rate in the other direction. Not rounded.

        Args:
            amount: in the currency there is [of].
            of: ISO 4217 code of the currency there is.
            to: ISO 4217 code of the currency wanted.

        Raises:
            InvalidInput: the rate is not between these two.

        >>> FxRate(base="EUR", quote="USD", rate=Decimal("1.25")).exchanged(
        ...     Decimal(30), of="USD", to="EUR"
        ... )
        Decimal('24')
        """
        with arithmetic():
            if (of, to) == (self.base, self.quote):
                return amount * self.rate
            if (of, to) == (self.quote, self.base):
                return amount / self.rate
        raise InvalidInput(
            f"the rate is of {self.base} in {self.quote}; "
            f"one between {of} and {to} is needed",
            path=("fx",),
        )


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
        fx: the rate that brought it into ``currency``, or None where none did.
        original_price: before that [original_currency/ozt], or None.
        original_currency: ISO 4217 code of the price before that, or None.

    Raises:
        InvalidInput: a price that is not above zero.
    """

    metal: str = "XAG"
    price: Decimal
    currency: str
    as_of: datetime | None = None
    source: str = "given"
    age_hours: Decimal | None = None
    fx: FxRate | None = None
    original_price: Decimal | None = None
    original_currency: str | None = None

    def __post_init__(self) -> None:
        _check_above_zero(self.price, ("spot", "price"), "a spot price")


def convert(spot: Spot, rate: FxRate, *, to: str) -> Spot:
    """The same spot in another currency; itself where it is in that one already.

    Price × rate, or price ÷ rate where the rate is of the other direction, at
    1e-6 so that it can be shown whole. The price as it was stays with it, and
    the rate.

    Args:
        spot: as entered or fetched.
        rate: between its currency and ``to``, in either direction.
        to: ISO 4217 code of the currency wanted.

    Raises:
        InvalidInput: the rate is not between these two, or the spot has been
            converted before: a second rate would hide the first.

    >>> rate = FxRate(base="EUR", quote="USD", rate=Decimal("1.25"))
    >>> convert(Spot(price=Decimal("30"), currency="USD"), rate, to="EUR").price
    Decimal('24.00')
    """
    if spot.currency == to:
        return spot
    if spot.fx is not None:
        raise InvalidInput(
            f"the spot was converted from {spot.original_currency} to "
            f"{spot.currency} already; convert the original to {to}",
            path=("fx",),
        )
    return replace(
        spot,
        price=converted(rate.exchanged(spot.price, of=spot.currency, to=to)),
        currency=to,
        fx=rate,
        original_price=spot.price,
        original_currency=spot.currency,
    )


def invert(quantity: Decimal) -> Decimal:
    """Price of one unit [currency/unit], where money buys ``quantity`` [unit/currency].

    1 ÷ quantity. Not rounded.

    Raises:
        InvalidInput: the quantity is not above zero.

    >>> invert(Decimal("0.04"))
    Decimal('25')
    """
    _check_above_zero(quantity, ("spot", "price"), "an inverse spot price")
    with arithmetic():
        return ONE / quantity


def price_per_troy_ounce(
    price: Decimal,
    *,
    unit: str = "troy_ounce",
    hundredths: bool = False,
    inverse: bool = False,
) -> Decimal:
    """Price of a troy ounce [currency/ozt] from a price by another measure.

    Price × grams in a troy ounce ÷ grams in the unit, ÷ 100 for hundredths; an
    inverse one is turned round first. Not rounded.

    Args:
        price: of one unit [currency/unit, or its hundredths/unit], or how much
            one of those buys where ``inverse`` [unit/currency].
        unit: the unit of mass it is quoted by, one of ``FEED_UNITS`` or of
            ``units.MASS_UNITS_G``.
        hundredths: the price is in cents or pence rather than whole units.
        inverse: the figure is metal for one unit of money, not money for metal.

    Raises:
        InvalidInput: the unit is not known, or the price is not above zero.

    >>> price_per_troy_ounce(Decimal("0.88"), unit="gram")
    Decimal('27.3710595840')
    >>> price_per_troy_ounce(Decimal("2737.5"), hundredths=True)
    Decimal('27.375')
    """
    _check_above_zero(price, ("spot", "price"), "a spot price")
    turned = invert(price) if inverse else price
    with arithmetic():
        whole = turned / _HUNDREDTHS if hundredths else turned
        if unit == "troy_ounce":
            return whole
        measure = grams(ONE, unit=_IN_SHORT.get(unit, unit))
        return whole * GRAMS_PER_TROY_OUNCE / measure


def _check_above_zero(price: Decimal, path: Path, what: str) -> None:
    above_zero = price.is_finite() and price > ZERO
    if not (above_zero and abs(price.adjusted()) < _MOST_DIGITS):
        raise InvalidInput(
            f"{what} of {str(price)[:_MOST_DIGITS]} is no price; "
            f"give one above 0 with at most {_MOST_DIGITS} digits",
            path=path,
        )
