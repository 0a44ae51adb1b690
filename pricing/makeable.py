"""Which rings can be made, and the nearest one that can when this one cannot."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

from pricing import money
from pricing.band import bore_allowance, fold, mean_thickness_mm
from pricing.coin import Coin
from pricing.errors import NotMakeable
from pricing.hole import holes_to_try
from pricing.price_book import Forming
from pricing.ring_size import RingSize, us_size

_SIZES_TO_TRY = tuple(Decimal(n) / 2 for n in range(49))


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """A ring to be tried against the limits of the bench.

    Attributes:
        coin: what it is made of.
        size: finger size.
        hole_mm: hole [mm].
        mass_g: mass of the coin after wear [g].
        limits: thinnest wall and shortest land [mm].
    """

    coin: Coin
    size: RingSize
    hole_mm: Decimal
    mass_g: Decimal
    limits: Forming

    @property
    def limit_met(self) -> tuple[str, str] | None:
        """The first limit this ring meets, as (code, sentence); None if makeable."""
        return self._land_limit() or self._size_limit() or self._wall_limit()

    def _land_limit(self) -> tuple[str, str] | None:
        land = (self.coin.diameter_mm - self.hole_mm) / 2
        hole = f"a {self.hole_mm} mm hole"
        if land <= 0:
            return "hole_too_large", (
                f"{hole} leaves nothing of a {self.coin.diameter_mm} mm coin"
            )
        least = self.limits.min_land_mm
        if land < least:
            return "land_too_short", (
                f"{hole} leaves a land of {land} mm; the price book asks for {least} mm"
            )
        return None

    def _size_limit(self) -> tuple[str, str] | None:
        bore = bore_allowance(self.coin, mean_thickness_mm(self.coin, self.mass_g))
        if self.size.us >= bore:
            return None
        return "size_too_small", (
            f"size US {money.trimmed(self.size.us)} less {bore} sizes of bore "
            "allowance is below US 0, the smallest size there is"
        )

    def _wall_limit(self) -> tuple[str, str] | None:
        band = fold(
            self.coin,
            size_us=self.size.us,
            hole_mm=self.hole_mm,
            mass_g=self.mass_g,
        )
        wall = money.length_mm(min(band.wall_coin_edge, band.wall_hole_edge))
        least = self.limits.min_wall_mm
        if wall >= least:
            return None
        return "wall_too_thin", (
            f"the wall would be {wall} mm; the price book asks for {least} mm"
        )

    def nearest_size(self) -> Decimal | None:
        """Nearest makeable half size with the same hole [US number], or None."""
        for us in sorted(_SIZES_TO_TRY, key=lambda n: (abs(n - self.size.us), n)):
            if replace(self, size=us_size(us)).limit_met is None:
                return us
        return None

    def nearest_hole(self) -> Decimal | None:
        """Nearest makeable hole for the same size [mm], or None."""
        holes = holes_to_try(self.coin, self.limits)
        for hole in sorted(holes, key=lambda d: (abs(d - self.hole_mm), d)):
            if replace(self, hole_mm=hole).limit_met is None:
                return hole
        return None


def refuse_unmakeable(trial: Trial) -> None:
    """Let a makeable ring pass.

    Raises:
        NotMakeable: with the reason and the nearest size [US number] and hole [mm].
    """
    met = trial.limit_met
    if met is None:
        return
    reason, sentence = met
    size, hole = trial.nearest_size(), trial.nearest_hole()
    offers = []
    if size is not None:
        offers.append(f"size US {money.trimmed(size)} with this hole")
    if hole is not None:
        offers.append(f"a {money.trimmed(hole)} mm hole for this size")
    advice = f"try {' or '.join(offers)}" if offers else "choose another coin"
    raise NotMakeable(
        f"{trial.coin.label} cannot become a ring of {trial.size.label}: "
        f"{sentence}; {advice}",
        reason=reason,
        nearest_size_us=size,
        nearest_hole_mm=hole,
    )
