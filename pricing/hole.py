"""Which hole to punch: as asked, by band width, by the coin's table, or in general.

References:
    [1] A 38.1 mm dollar is punched 15.875 mm (5/8 in) for size 10 and up and
        19.05 mm (3/4 in) for 9.5 and down: common practice, no published source.
        The general rule scales these two holes with the coin's diameter.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from pricing import money
from pricing.coin import Coin
from pricing.errors import InvalidInput
from pricing.price_book import Forming

SMALL_SIZE_SHARE = Decimal("0.5")
LARGE_SIZE_SHARE = Decimal("15.875") / Decimal("38.1")
LARGEST_SMALL_SIZE = Decimal("9.5")
_GRID_MM = Decimal("0.5")


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """The hole and the reason for it.

    Attributes:
        diameter_mm: hole diameter [mm].
        why: the rule that chose it, in words.
    """

    diameter_mm: Decimal
    why: str


def choose_hole(
    coin: Coin,
    *,
    size_us: Decimal,
    hole_mm: Decimal | None,
    band_width_mm: Decimal | None,
    limits: Forming,
) -> Hole:
    """The hole for a coin and a finger size.

    Args:
        coin: the coin; its own hole table comes before the general rule [1].
        size_us: finger size [US number].
        hole_mm: hole asked for [mm], or None.
        band_width_mm: band width asked for [mm], or None.
        limits: the punches owned; a hole that is not asked for is snapped to them.

    Returns:
        The hole [mm] with its reason.

    Raises:
        InvalidInput: both a hole and a band width are asked for, or a width that
            leaves no hole.
    """
    if hole_mm is not None and band_width_mm is not None:
        raise InvalidInput(
            f"a hole of {hole_mm} mm and a band width of {band_width_mm} mm are both "
            "given; give one of them",
            path=("band_width_mm",),
        )
    if hole_mm is not None:
        return Hole(diameter_mm=hole_mm, why="hole as asked for")
    if band_width_mm is not None:
        return _by_band_width(coin, band_width_mm, limits)
    return _by_table(coin, size_us) or _in_general(coin, size_us, limits)


def _by_band_width(coin: Coin, width: Decimal, limits: Forming) -> Hole:
    wanted = coin.diameter_mm - 2 * width
    if wanted <= 0:
        raise InvalidInput(
            f"a band {width} mm wide leaves no hole in a {coin.diameter_mm} mm coin; "
            f"ask for less than {coin.diameter_mm / 2} mm",
            path=("band_width_mm",),
        )
    return _snapped(wanted, limits, f"for a band {money.trimmed(width)} mm wide")


def _by_table(coin: Coin, size_us: Decimal) -> Hole | None:
    for step in coin.holes:
        if step.up_to is None:
            return Hole(
                diameter_mm=step.hole_mm, why="the coin's hole table, all above"
            )
        if size_us <= step.up_to:
            why = f"the coin's hole table, up to US {money.trimmed(step.up_to)}"
            return Hole(diameter_mm=step.hole_mm, why=why)
    return None


def _in_general(coin: Coin, size_us: Decimal, limits: Forming) -> Hole:
    small = size_us <= LARGEST_SMALL_SIZE
    share = SMALL_SIZE_SHARE if small else LARGE_SIZE_SHARE
    wanted = money.length_mm(coin.diameter_mm * share)
    return _snapped(wanted, limits, f"general rule, {money.percent(share)} of the coin")


def _snapped(wanted: Decimal, limits: Forming, why: str) -> Hole:
    if not limits.punches_mm:
        return Hole(diameter_mm=wanted, why=why)
    nearest = min(limits.punches_mm, key=lambda punch: (abs(punch - wanted), punch))
    return Hole(
        diameter_mm=nearest,
        why=f"{why} ({money.trimmed(wanted)} mm), nearest punch owned",
    )


def holes_to_try(coin: Coin, limits: Forming) -> tuple[Decimal, ...]:
    """Holes to offer instead [mm]: the punches owned, else every 0.5 mm."""
    if limits.punches_mm:
        return limits.punches_mm
    return tuple(_GRID_MM * n for n in range(8, int(coin.diameter_mm / _GRID_MM)))
