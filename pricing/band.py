"""The geometry of the band that a punched coin is folded into.

The coin is an annulus of mean thickness t once the hole is punched. Radial lines
keep their length when the land is folded, so the metal between two radii of the
coin becomes a slice of the band with the same volume, and at distance r from the
coin's centre the inside radius is R_in(r)² = R_o² − 2·t·r. The coin's edge ends
innermost and thickest. The ring is brought down to a size below the target and
bored out, which cuts the innermost metal first.

References:
    [1] Volume of the bored metal: V = ∫ π·(R_f² − R_in(r)²) dr where positive;
        the closed form is checked against numeric integration in the tests.
    [2] Natural size at 0.70 of the coin's diameter; opened 2.5 sizes over the
        finger size; a thick dollar bored out by two sizes: common practice, no
        published source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from pricing import money
from pricing.coin import Coin, density_g_cm3
from pricing.ring_size import inside_diameter_mm, us_number

NATURAL_SHARE_OF_DIAMETER = Decimal("0.70")
BORE_BY_THICKNESS_MM = (
    (2.0, Decimal(2)),
    (1.6, Decimal("1.5")),
    (1.2, Decimal(1)),
    (0.0, Decimal("0.5")),
)
"""(from this mean thickness [mm], sizes bored [US sizes]); see [2]."""


@dataclass(frozen=True, slots=True)
class Band:
    """The folded land in radii, before and after boring; all [mm], mm² or mm³."""

    land: float
    thickness: float
    hole: float
    pre_radius: float
    final_radius: float

    @property
    def outside_radius(self) -> float:
        """R_o from R_o² = R_pre² + t·D [mm]."""
        diameter = self.hole + 2 * self.land
        return math.sqrt(self.pre_radius**2 + self.thickness * diameter)

    @property
    def wall_coin_edge(self) -> float:
        """Finished wall where the coin's edge ended [mm]."""
        return self.outside_radius - self.final_radius

    @property
    def wall_hole_edge(self) -> float:
        """Finished wall where the hole's edge ended [mm]."""
        outside = self.outside_radius
        inside = math.sqrt(outside**2 - self.thickness * self.hole)
        return outside - max(inside, self.final_radius)

    @property
    def bored_volume(self) -> float:
        """Volume cut by boring from the pre radius to the final one [mm³]; see [1]."""
        gain = self.final_radius**2 - self.pre_radius**2
        if gain <= 2 * self.thickness * self.land:
            return math.pi * gain**2 / (4 * self.thickness)
        return math.pi * (gain * self.land - self.thickness * self.land**2)


def bore_allowance(coin: Coin, thickness_mm: float) -> Decimal:
    """Sizes the ring is made too small and then bored out [US sizes].

    The coin's own figure, else by ``thickness_mm``, the mean [mm]; see [2].
    """
    if coin.bore_allowance is not None:
        return coin.bore_allowance
    return next(b for least, b in BORE_BY_THICKNESS_MM if thickness_mm >= least)


def natural_size_us(coin: Coin) -> Decimal:
    """Size at which the coin's edge stands unforced [US number]; see [2].

    The coin's own figure, else the size whose inside diameter is 0.70 of the
    coin's: 18.5 for a 38.1 mm dollar.
    """
    if coin.natural_size is not None:
        return coin.natural_size
    return money.sizes(us_number(coin.diameter_mm * NATURAL_SHARE_OF_DIAMETER))


def mean_thickness_mm(coin: Coin, mass_g: Decimal) -> float:
    """Mean thickness of ``mass_g`` [g] over the coin's face [mm]; never the rim's.

    t = m / (ρ·π·D²/4) with the mass after wear.
    """
    area_mm2 = math.pi * float(coin.diameter_mm) ** 2 / 4
    return float(mass_g) / (density_g_cm3(coin) / 1000 * area_mm2)


@lru_cache(maxsize=64)
def fold(coin: Coin, *, size_us: Decimal, hole_mm: Decimal, mass_g: Decimal) -> Band:
    """The band a coin becomes.

    Args:
        coin: diameter and alloy; its bore allowance.
        size_us: finger size [US number], not under the bore allowance.
        hole_mm: hole [mm].
        mass_g: mass after wear [g].
    """
    thickness = mean_thickness_mm(coin, mass_g)
    return Band(
        land=float(coin.diameter_mm - hole_mm) / 2,
        thickness=thickness,
        hole=float(hole_mm),
        pre_radius=_radius(size_us - bore_allowance(coin, thickness)),
        final_radius=_radius(size_us),
    )


def _radius(us: Decimal) -> float:
    return float(inside_diameter_mm(us)) / 2
