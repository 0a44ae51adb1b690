"""What would become of the listings at another spot; nothing is stored."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import islice

from api.ports import Band, CaseInUse, Listing, RepricingBand, UnitOfWork
from api.services.repricings.compiled_bands import shape_of
from api.services.repricings.judged_cases import MOVES, CaseJudge, JudgedCases
from api.services.repricings.preview import decision_of, floor_of
from api.services.repricings.price_ground import PriceGrounds
from api.services.snapshots import Snapshots
from pricing import money
from pricing.errors import InvalidInput
from pricing.reprice import Judged

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
    asked = [
        (each.case, each.judged)
        for each in judged.cases
        if each.judged is not None and each.decision in SHOWN
    ]
    asked.sort(key=_share, reverse=True)
    there = None if judged.skus is None else unit.listings.find(judged.skus)
    for case, becomes in asked:
        found = _of_case(unit, case) if there is None else _in_listings(case, there)
        for sku, band in found:
            yield _band(becomes, sku, band)


def _share(asked: tuple[CaseInUse, Judged]) -> Decimal:
    """How much of the price changes, up or down."""
    case, becomes = asked
    with money.arithmetic():
        return abs(becomes.new_price - case.price) / case.price


def _of_case(unit: UnitOfWork, case: CaseInUse) -> Iterator[tuple[str, Band]]:
    """Its bands in all listings, some at a time."""
    past = 0
    while places := unit.listings.places(
        case.spec.id, case.price, limit=MOST_BANDS, past=past
    ):
        ids, past = {number for number, _ in places}, places[-1][0]
        there = unit.listings.find(dict.fromkeys(place.sku for _, place in places))
        for sku, band in _in_listings(case, there):
            if band.id in ids:
                yield sku, band


def _in_listings(
    case: CaseInUse, listings: Mapping[str, Listing]
) -> Iterator[tuple[str, Band]]:
    """Its bands in some listings, but for locked ones."""
    for listing in listings.values():
        for band in () if listing.locked else listing.bands:
            same = shape_of(listing.spec(band)) == shape_of(case.spec)
            if same and band.price == case.price:
                yield listing.sku, band


def _band(judged: Judged, sku: str, band: Band) -> RepricingBand:
    return RepricingBand(
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
