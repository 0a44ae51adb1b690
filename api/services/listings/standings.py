"""How the prices of listings stand at the spot in force; nothing is changed by it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from api.ports import Band, Clock, Listing, Place
from api.services.price_book import PriceBooks
from api.services.repricings.compiled_bands import CompiledBands
from api.services.repricings.floors import keeps_its_floor
from api.services.repricings.preview import floor_of
from api.services.repricings.price_ground import PriceGround, PriceGrounds
from api.services.snapshots import Snapshots
from api.services.spot.spot_prices import SpotPrices
from pricing.errors import PricingError
from pricing.reprice import BandPrice


@dataclass(frozen=True, slots=True, kw_only=True)
class BandStanding:
    """How the price of a band stands.

    Attributes:
        margin: share of the net price at the spot in force, of its costliest size;
            None where it cannot be priced, or nothing is left of the price.
        floor: what the policy lets it fall to, as such a share; None where it
            cannot be priced.
        under: whether its margin is under the floor now.
        spot_at_floor: the spot at which it falls to it [currency/ozt]; None where it
            is under it, or never falls to it.
        asked: the price that the rules ask for now [currency], or None.
        dearest_size: the size that asks for that price [US number], or None.
        trouble: why it cannot be priced, in plain words; or ''.
    """

    margin: Decimal | None = None
    floor: Decimal | None = None
    under: bool = False
    spot_at_floor: Decimal | None = None
    asked: Decimal | None = None
    dearest_size: Decimal | None = None
    trouble: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standings:
    """The bands of some listings, by sku and smallest size.

    Attributes:
        ground: the price book and the spot that they stand on.
    """

    ground: PriceGround
    bands: Mapping[Place, BandStanding]

    def of(self, listing: Listing, band: Band) -> BandStanding:
        """How a band of one of the listings stands."""
        return self.bands[Place(listing.sku, band.size_from)]


class BandStandings:
    """Tells how prices stand."""

    def __init__(
        self,
        snapshots: Snapshots,
        clock: Clock,
        *,
        books: PriceBooks,
        spots: SpotPrices,
        compiled: CompiledBands,
    ) -> None:
        self._snapshots = snapshots
        self._grounds = PriceGrounds(clock, books=books, spots=spots)
        self._compiled = compiled

    def of(self, listings: Sequence[Listing]) -> Standings:
        """How every band of some listings stands, also at a spot that is stale.

        Raises:
            NotFound: there is no price book yet.
        """
        with self._snapshots.held():
            ground = self._grounds.at(None)
            bands = {
                Place(each.sku, band.size_from): self._of_band(ground, each, band)
                for each in listings
                for band in each.bands
            }
        return Standings(ground=ground, bands=bands)

    def _of_band(
        self, ground: PriceGround, listing: Listing, band: Band
    ) -> BandStanding:
        try:
            compiled = self._compiled.of(ground.book, listing.spec(band))
            return _standing(ground.priced(compiled), band.price)
        except PricingError as error:
            return BandStanding(trouble=error.message)


def _standing(priced: BandPrice, price: Decimal) -> BandStanding:
    judged = priced.judge(price)
    return BandStanding(
        margin=judged.old_margin,
        floor=priced.band.policy.floor_margin,
        under=not keeps_its_floor(priced, price),
        spot_at_floor=floor_of(judged),
        asked=priced.unit,
        dearest_size=priced.dearest_size,
    )
