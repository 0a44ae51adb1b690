"""From a flat coin to a band: what is punched, bored and lost, and the finished ring.

The model is an estimate. Scale readings from the bench calibrate it (a factor
for each coin and removal).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType

from pricing import money
from pricing.band import Band, bore_allowance, fold, natural_size_us
from pricing.coin import Coin, density_g_cm3
from pricing.errors import InvalidInput
from pricing.hole import Hole, choose_hole
from pricing.makeable import Trial, refuse_unmakeable
from pricing.price_book import Calibration, Forming
from pricing.ring_size import RingSize
from pricing.units import troy_ounces


@dataclass(frozen=True, slots=True, kw_only=True)
class Shaping:
    """What the wish and the workshop ask of one ring.

    Attributes:
        size: finger size.
        hole_mm: hole asked for [mm], or None.
        band_width_mm: band width asked for [mm], or None.
        limits: what this bench can do.
        wear: share of the coin's mass lost in circulation.
        finish_loss: share of the bored ring lost in finishing.
        calibration: measured over modelled removals.
    """

    size: RingSize
    hole_mm: Decimal | None = None
    band_width_mm: Decimal | None = None
    limits: Forming = Forming()
    wear: Decimal = money.ZERO
    finish_loss: Decimal = money.ZERO
    calibration: Calibration = Calibration(coin="")


@dataclass(frozen=True, slots=True, kw_only=True)
class FormingPlan:
    """One coin on its way to one ring; the masses add up to the coin's exactly.

    Lengths [mm], masses [g], sizes [US sizes]; ``fine_ozt`` [ozt].
    """

    size_us: Decimal
    hole: Hole
    land_mm: Decimal
    thickness_mm: Decimal
    density_g_cm3: Decimal
    mass_g: Decimal
    slug_g: Decimal
    bored_g: Decimal
    finish_loss_g: Decimal
    finished_g: Decimal
    fine_g: Decimal
    fine_ozt: Decimal
    outside_diameter_mm: Decimal
    wall_coin_edge_mm: Decimal
    wall_hole_edge_mm: Decimal
    opening_size_us: Decimal
    natural_size_us: Decimal
    wrap_sizes: Decimal
    stretch_sizes: Decimal
    press_sizes: Decimal
    dome_sizes: Decimal

    @property
    def drivers(self) -> Mapping[str, Decimal]:
        """The figures that minutes and consumables may depend on, by name."""
        return MappingProxyType(
            {
                "wrap_sizes": self.wrap_sizes,
                "stretch_sizes": self.stretch_sizes,
                "press_sizes": self.press_sizes,
                "dome_sizes": self.dome_sizes,
                "bored_g": self.bored_g,
                "land_mm": self.land_mm,
            }
        )

    @property
    def removed_g(self) -> Mapping[str, Decimal]:
        """Mass gone at each removal [g], by the name a stage gives it."""
        return MappingProxyType(
            {
                "slug": self.slug_g,
                "bore": self.bored_g,
                "finish": self.finish_loss_g,
            }
        )


def plan_forming(coin: Coin, shaping: Shaping) -> FormingPlan:
    """Plan the ring: hole, land, masses, walls, and the sizes to wrap and stretch.

    Args:
        coin: the coin; diameter [mm], gross mass [g].
        shaping: size, hole or band width wanted [mm], limits and losses.

    Returns:
        The plan, masses at 0.0001 g and closing exactly, lengths at 0.001 mm.

    Raises:
        NotMakeable: a limit is met; carries the nearest makeable size and hole.
        InvalidInput: a base-metal coin without a density.
    """
    mass = money.mass_g(coin.gross_mass_g * (1 - shaping.wear))
    hole = choose_hole(
        coin,
        size_us=shaping.size.us,
        hole_mm=shaping.hole_mm,
        band_width_mm=shaping.band_width_mm,
        limits=shaping.limits,
    )
    refuse_unmakeable(
        Trial(
            coin=coin,
            size=shaping.size,
            hole_mm=hole.diameter_mm,
            mass_g=mass,
            limits=shaping.limits,
        )
    )
    band = fold(coin, size_us=shaping.size.us, hole_mm=hole.diameter_mm, mass_g=mass)
    return _plan(coin, shaping, hole, mass=mass, band=band)


@dataclass(frozen=True, slots=True)
class _Masses:
    """The coin's mass and where it goes [g]; closes exactly."""

    coin: Decimal
    slug: Decimal
    bored: Decimal
    finish_loss: Decimal

    @property
    def finished(self) -> Decimal:
        return self.coin - self.slug - self.bored - self.finish_loss


def _masses(
    coin: Coin, shaping: Shaping, hole: Hole, *, mass: Decimal, band: Band
) -> _Masses:
    slug_share = (hole.diameter_mm / coin.diameter_mm) ** 2
    slug = money.mass_g(mass * slug_share * shaping.calibration.slug)
    modelled = money.mass_g(density_g_cm3(coin) / 1000 * band.bored_volume)
    bored = money.mass_g(modelled * shaping.calibration.bored)
    loss = money.mass_g((mass - slug - bored) * shaping.finish_loss)
    masses = _Masses(mass, slug, bored, loss)
    if masses.finished <= 0:
        raise InvalidInput(
            f"the calibration of {coin.label} removes {slug + bored} g of a {mass} g "
            "coin; check its slug and bored factors in the price book",
            path=("calibrations",),
        )
    return masses


def _plan(
    coin: Coin, shaping: Shaping, hole: Hole, *, mass: Decimal, band: Band
) -> FormingPlan:
    masses = _masses(coin, shaping, hole, mass=mass, band=band)
    opening = shaping.size.us + shaping.limits.opening_allowance
    natural = natural_size_us(coin)
    return FormingPlan(
        size_us=shaping.size.us,
        hole=hole,
        land_mm=money.length_mm((coin.diameter_mm - hole.diameter_mm) / 2),
        thickness_mm=money.length_mm(band.thickness),
        density_g_cm3=money.half_up(Decimal(density_g_cm3(coin)), money.DENSITY_STEP),
        mass_g=mass,
        slug_g=masses.slug,
        bored_g=masses.bored,
        finish_loss_g=masses.finish_loss,
        finished_g=masses.finished,
        fine_g=money.mass_g(mass * coin.fineness),
        fine_ozt=money.mass_g(troy_ounces(mass * coin.fineness)),
        outside_diameter_mm=money.length_mm(2 * band.outside_radius),
        wall_coin_edge_mm=money.length_mm(band.wall_coin_edge),
        wall_hole_edge_mm=money.length_mm(band.wall_hole_edge),
        opening_size_us=money.sizes(opening),
        natural_size_us=money.sizes(natural),
        wrap_sizes=money.sizes(max(money.ZERO, natural - opening)),
        stretch_sizes=money.sizes(max(money.ZERO, opening - natural)),
        press_sizes=money.sizes(shaping.limits.opening_allowance),
        dome_sizes=money.sizes(bore_allowance(coin, band.thickness)),
    )
