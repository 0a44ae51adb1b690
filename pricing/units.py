"""Units of mass and length, and the troy system the metal trade counts in.

References:
    [1] A troy ounce is 480 grains and a grain is exactly 64.79891 mg
        (international yard and pound agreement, 1959), so a troy ounce is
        exactly 31.1034768 g. Checked against scipy.constants in tests/reference.
    [2] ISO 4217 defines XAG as one troy ounce of silver.
"""

from __future__ import annotations

from decimal import Decimal
from types import MappingProxyType

from pricing.errors import InvalidInput

MM_PER_INCH = Decimal("25.4")
GRAMS_PER_GRAIN = Decimal("0.06479891")
GRAINS_PER_TROY_OUNCE = 480
GRAMS_PER_TROY_OUNCE = GRAMS_PER_GRAIN * GRAINS_PER_TROY_OUNCE

MASS_UNITS_G = MappingProxyType(
    {
        "g": Decimal(1),
        "kg": Decimal(1000),
        "grain": GRAMS_PER_GRAIN,
        "pennyweight": GRAMS_PER_GRAIN * 24,
        "troy_ounce": GRAMS_PER_TROY_OUNCE,
        "troy_pound": GRAMS_PER_TROY_OUNCE * 12,
        "ounce": Decimal("28.349523125"),
        "pound": Decimal("453.59237"),
        "tola": GRAMS_PER_GRAIN * 180,
    }
)
"""Grams in one of each unit [g]; all exact."""


def troy_ounces(mass_g: Decimal) -> Decimal:
    """Mass in troy ounces [ozt] of ``mass_g`` [g].

    >>> troy_ounces(Decimal("31.1034768"))
    Decimal('1')
    """
    return mass_g / GRAMS_PER_TROY_OUNCE


def grams(amount: Decimal, *, unit: str) -> Decimal:
    """Mass [g] of ``amount`` [the unit named], one of ``MASS_UNITS_G``.

    Raises:
        InvalidInput: the unit is not known.

    >>> grams(Decimal("412.5"), unit="grain")
    Decimal('26.729550375')
    """
    try:
        return amount * MASS_UNITS_G[unit]
    except KeyError:
        allowed = ", ".join(MASS_UNITS_G)
        raise InvalidInput(
            f"unit '{unit}' is not known; use one of {allowed}", path=("unit",)
        ) from None
