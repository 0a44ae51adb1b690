"""Prices that are off by just the factor between two units that feeds use.

Metal is quoted by the troy ounce, gram or kilogram, in whole units of money or
hundredths, and the wrong way round. A figure read by the wrong one of these is
far from the usual price by a factor that gives the mistake away.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from pricing.money import ONE
from pricing.units import GRAMS_PER_TROY_OUNCE

UNIT_TOLERANCE = Decimal("1.10")
"""How far, as a factor, the price itself may have moved meanwhile (our choice)."""

_THOUSAND = Decimal(1000)
_HUNDRED = Decimal(100)
_FAR = 2  # an inverse nearer to the price than this factor tells nothing
_OUNCE, _GRAM, _KILOGRAM = "per troy ounce", "per gram", "per kilogram"
_PAIRS = (
    (GRAMS_PER_TROY_OUNCE, _OUNCE, _GRAM),
    (_THOUSAND / GRAMS_PER_TROY_OUNCE, _KILOGRAM, _OUNCE),
    (_THOUSAND, _KILOGRAM, _GRAM),
    (_HUNDRED, "in hundredths (cents, pence)", "in whole units"),
)
_FACTORS = tuple(
    slip
    for factor, dear, cheap in _PAIRS
    for slip in (
        (factor, f"a price {dear} read as one {cheap}"),
        (ONE / factor, f"a price {cheap} read as one {dear}"),
    )
)
_INVERSE = "metal for one unit of money read as money for metal"


def unit_slips(price: Decimal, *, usual: Decimal) -> tuple[str, ...]:
    """What mistakes of unit would explain ``price``, the likeliest first.

    A mistake explains it when price ÷ usual is its factor, within
    ``UNIT_TOLERANCE`` either way.

    Args:
        price: as it was read, above 0 [currency/unit].
        usual: what it may be expected near, above 0 [currency/unit].

    >>> unit_slips(Decimal("0.88"), usual=Decimal("27.50"))[0]
    'a price per gram read as one per troy ounce'
    >>> unit_slips(Decimal("28.10"), usual=Decimal("27.50"))
    ()
    """
    ratio = price / usual
    explained = sorted(
        (_distance(ratio, factor), mistake) for factor, mistake in _candidates(usual)
    )
    if _distance(ratio, ONE) <= _FAR:
        return ()
    return tuple(mistake for off, mistake in explained if off <= UNIT_TOLERANCE)


def _candidates(usual: Decimal) -> Iterator[tuple[Decimal, str]]:
    yield from _FACTORS
    yield ONE / (usual * usual), _INVERSE


def _distance(ratio: Decimal, factor: Decimal) -> Decimal:
    """How many times the one is the other, the larger by the smaller."""
    return max(ratio / factor, factor / ratio)
