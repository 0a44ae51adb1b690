"""Every spec at every price it has: what becomes of that price at one spot.

Bands that share spec and price share the answer, so a million of them are a matter of
some thousand. What was worked out last is kept as long as nothing can have changed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import groupby
from operator import attrgetter
from typing import NamedTuple

from api.ports import BAND_DECISIONS, BandDecision, CaseInUse, UnitOfWork
from api.services.ground import refuse_stale
from api.services.repricings.compiled_bands import CompiledBands
from api.services.repricings.price_ground import PriceGround
from api.services.snapshots import Snapshots
from pricing import money
from pricing.errors import PricingError, UnknownKey
from pricing.price_book import Policy
from pricing.reprice import BandPrice, Judged

_SPEC_ID = attrgetter("spec.id")
MOVES: tuple[BandDecision, ...] = ("raise", "lower")
"""Decisions that change a price unless somebody has to say so first."""


class JudgedCase(NamedTuple):
    """What becomes of one price of one spec; a tuple, since there are thousands.

    Attributes:
        priced, judged: None where it is blocked; ``blocked`` then says why.
    """

    case: CaseInUse
    priced: BandPrice | None = None
    judged: Judged | None = None
    blocked: str = ""

    @property
    def decision(self) -> BandDecision:
        """What becomes of its bands, but for locked listings."""
        return "blocked" if self.judged is None else self.judged.decision

    @property
    def change(self) -> Decimal:
        """How much a band that moves gains [currency]; 0 where it stays."""
        if self.judged is None or self.judged.decision not in MOVES:
            return money.ZERO
        return self.judged.new_price - self.case.price


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JudgedCases:
    """All cases of some listings, worked out.

    Attributes:
        ground: what they stand on.
        skus: the listings; None for all.
        rev: what the counter ``listings`` was as they were read.
        coins_rev: what the counter ``coins`` was.
    """

    ground: PriceGround
    skus: tuple[str, ...] | None
    rev: int
    coins_rev: int
    cases: tuple[JudgedCase, ...]

    @property
    def bands(self) -> int:
        """How many bands there are [count]."""
        return sum(each.case.bands for each in self.cases)

    def counts(self) -> Mapping[str, int]:
        """Bands by decision, each decision named [count]."""
        found = Counter[BandDecision]()
        for each in self.cases:
            found["locked"] += each.case.locked
            found[each.decision] += each.case.bands - each.case.locked
        return {decision: found[decision] for decision in BAND_DECISIONS}

    def value_change(self) -> Decimal:
        """What all bands that move without a word gain together [currency]."""
        with money.arithmetic():
            gains = (
                each.change * (each.case.bands - each.case.locked)
                for each in self.cases
                if each.decision in MOVES
            )
            return money.amount(sum(gains, money.ZERO), self.ground.book.currency)


class CaseJudge:
    """Works cases out."""

    def __init__(self, snapshots: Snapshots, compiled: CompiledBands) -> None:
        self._snapshots = snapshots
        self._compiled = compiled
        self._last: tuple[object, JudgedCases] | None = None

    def judged(
        self, ground: PriceGround, skus: Sequence[str] | None = None
    ) -> JudgedCases:
        """Everything in use, as it stands now, or some listings of it.

        Raises:
            UnknownKey: a sku that names no listing, with its place.
            StaleSpot: the spot in force is too old for a policy that needs it.
        """
        with self._snapshots.held():
            wanted = None if skus is None else tuple(dict.fromkeys(skus))
            found = self._known(ground, wanted) or self._new(ground, wanted)
        _refuse_stale(found)
        return found

    def _known(
        self, ground: PriceGround, skus: tuple[str, ...] | None
    ) -> JudgedCases | None:
        """What was worked out last, if that is still all true."""
        rev, last = self._snapshots.storage.revisions().listings, self._last
        if last is None or last[0] != self._stands_on(ground, skus, rev):
            return None
        # The spot has become older, and other coins may have come and gone.
        return replace(last[1], ground=ground, coins_rev=self._coins_rev())

    def _new(self, ground: PriceGround, skus: tuple[str, ...] | None) -> JudgedCases:
        rev, in_use = self._in_use(skus)
        cases = tuple(self._each(ground, in_use))
        self._compiled.settle()
        found = JudgedCases(
            ground=ground, skus=skus, rev=rev, coins_rev=self._coins_rev(), cases=cases
        )
        self._last = (self._stands_on(ground, skus, rev), found)
        return found

    def _stands_on(
        self, ground: PriceGround, skus: tuple[str, ...] | None, rev: int
    ) -> tuple[object, ...]:
        spot, coins = ground.spot, self._snapshots.take().coins
        price = ground.missing if spot is None else (spot.price, spot.currency)
        return (rev, skus, ground.book, price, coins)

    def _coins_rev(self) -> int:
        return self._snapshots.take().revisions.coins

    def _in_use(
        self, skus: tuple[str, ...] | None
    ) -> tuple[int, tuple[CaseInUse, ...]]:
        def read(unit: UnitOfWork) -> tuple[int, tuple[CaseInUse, ...]]:
            if skus is not None:
                _check_there(skus, unit.listings.find(skus))
            return unit.revisions.all().listings, unit.listings.cases_in_use(skus)

        return self._snapshots.storage.read(read)

    def _each(
        self, ground: PriceGround, in_use: Iterable[CaseInUse]
    ) -> Iterator[JudgedCase]:
        find = self._compiled.finder(ground.book)
        for _, same in groupby(in_use, key=_SPEC_ID):
            cases = tuple(same)
            try:
                priced = ground.priced(find(cases[0].spec))
            except PricingError as error:
                for case in cases:
                    yield JudgedCase(case=case, blocked=error.message)
                continue
            for case in cases:
                yield _judged(case, priced)


def _judged(case: CaseInUse, priced: BandPrice) -> JudgedCase:
    try:
        return JudgedCase(case=case, priced=priced, judged=priced.judge(case.price))
    except PricingError as error:
        return JudgedCase(case=case, blocked=error.message)


def _refuse_stale(found: JudgedCases) -> None:
    ground = found.ground
    if ground.spot is None:
        return
    for policy in _policies(found.cases):
        refuse_stale(policy, ground.spot, ground.market)


def _policies(cases: Iterable[JudgedCase]) -> Iterable[Policy]:
    """The policies of bands that need a spot, by key."""
    bands = (each.priced.band for each in cases if each.priced is not None)
    rules = {band.rules for band in bands if band.needs_spot}
    return sorted((each.policy for each in rules), key=attrgetter("key"))


def _check_there(skus: Sequence[str], there: Collection[str]) -> None:
    for place, sku in enumerate(skus):
        if sku not in there:
            raise UnknownKey(
                f"there is no listing '{sku[:64]}'; check its sku, in capital or "
                "small letters as it was given",
                path=("skus", place),
            )
