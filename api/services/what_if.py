"""What would become of the listings at another spot; nothing is stored."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import islice

from api.ports import Band, CaseInUse, Listing, RepricingBand, UnitOfWork
from api.services.compiled_bands import shape_of
from api.services.judged_cases import MOVES, CaseJudge, JudgedCase, JudgedCases
from api.services.price_ground import PriceGrounds
from api.services.repricing_preview import decision_of, floor_of
from api.services.snapshots import Snapshots
from pricing import money
from pricing.errors import InvalidInput

MOST_BANDS = 100
SHOWN = (*MOVES, "review")
"""Decisions that ask for another price."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """What would be decided.

    Attributes:
        judged: everything that was worked out.
        bands: those that would have another price, the largest changes first, at
            most 100.
    """

    judged: JudgedCases
    bands: tuple[RepricingBand, ...]

    @property
    def left_out(self) -> int:
        """How many more would have another price [count]."""
        counts = self.judged.counts()
        every = sum(n for decision, n in counts.items() if decision in SHOWN)
        return max(every - len(self.bands), 0)


class WhatIfs:
    """Tries other spots out."""

    def __init__(
        self, snapshots: Snapshots, *, grounds: PriceGrounds, judge: CaseJudge
    ) -> None:
        self._snapshots = snapshots
        self._grounds = grounds
        self._judge = judge

    def ask(
        self,
        *,
        spot_price: Decimal | None = None,
        change_percent: Decimal | None = None,
        skus: Sequence[str] | None = None,
    ) -> WhatIf:
        """What would be decided, as `Repricings.what_if` says."""
        if (spot_price is None) == (change_percent is None):
            raise InvalidInput(
                "give either a spot price or by how many per cent it changes",
                path=("spot",),
            )
        with self._snapshots.held():
            if change_percent is None:
                ground = self._grounds.at(spot_price)
            else:
                ground = self._grounds.moved(change_percent)
            judged = self._judge.judged(ground, skus)
            bands = self._snapshots.storage.read(
                lambda unit: tuple(islice(_bands(unit, judged), MOST_BANDS))
            )
        return WhatIf(judged=judged, bands=bands)


def _bands(unit: UnitOfWork, judged: JudgedCases) -> Iterator[RepricingBand]:
    """Bands that would have another price, the largest changes first."""
    asked = [each for each in judged.cases if each.decision in SHOWN]
    asked.sort(key=_share, reverse=True)
    if judged.skus is None:
        for each in asked:
            yield from _of_case(unit, each)
    else:
        found = unit.listings.find(judged.skus)
        for each in asked:
            yield from _of_listings(each, found)


def _share(each: JudgedCase) -> Decimal:
    """How much of the price changes, up or down."""
    if each.judged is None:
        return money.ZERO
    with money.arithmetic():
        return abs(each.judged.new_price - each.case.price) / each.case.price


def _of_case(unit: UnitOfWork, each: JudgedCase) -> Iterator[RepricingBand]:
    """Its bands in all listings, some at a time."""
    case, past = each.case, 0
    while places := unit.listings.places(
        case.spec.id, case.price, limit=MOST_BANDS, past=past
    ):
        past = places[-1][0]
        skus = dict.fromkeys(place.sku for _, place in places)
        there = unit.listings.find(skus)
        ids = {band for band, _ in places}
        for band in _of_listings(each, {k: there[k] for k in skus if k in there}):
            if band.band in ids:
                yield band


def _of_listings(
    each: JudgedCase, listings: Mapping[str, Listing]
) -> Iterator[RepricingBand]:
    """Its bands in some listings, but for locked ones."""
    for listing in listings.values():
        for band in () if listing.locked else listing.bands:
            if _is_of(each.case, listing, band):
                yield from _band(each, listing.sku, band)


def _is_of(case: CaseInUse, listing: Listing, band: Band) -> bool:
    same = shape_of(listing.spec(band)) == shape_of(case.spec)
    return same and band.price == case.price


def _band(each: JudgedCase, sku: str, band: Band) -> Iterator[RepricingBand]:
    judged = each.judged
    if judged is not None:
        yield RepricingBand(
            band=band.id,
            sku=sku,
            size_from=band.size_from,
            size_to=band.size_to,
            old_price=band.price,
            new_price=judged.new_price,
            old_margin=judged.old_margin,
            new_margin=judged.new_margin,
            decision=decision_of(judged),
            reason=judged.reason,
            spot_at_floor=floor_of(judged),
            moves=judged.decision in MOVES,
        )
