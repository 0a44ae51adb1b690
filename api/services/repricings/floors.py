"""Which price falls to its floor next when silver rises."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import NamedTuple

from api.ports import CaseInUse, Place, SpotUnavailable, UnitOfWork
from api.services.paging import check_limit
from api.services.repricings.judged_cases import CaseJudge, JudgedCases
from api.services.repricings.preview import floor_of
from api.services.repricings.price_ground import PriceGround, PriceGrounds
from api.services.snapshots import Snapshots
from pricing import money
from pricing.price_book import Policy
from pricing.reprice import BandPrice, Judged
from pricing.repricing_rules import Shown
from pricing.spot import Spot


class FloorMark(NamedTuple):
    """Where a band stands on the board.

    Attributes:
        above: 0 where the price is under its floor already, else 1.
        spot: at which it falls to it [currency/ozt]; 0 for under it.
        spec, price: of its case.
        band: its id.
    """

    above: int
    spot: Decimal
    spec: int
    price: Decimal
    band: int = 0

    @property
    def case(self) -> tuple[int, Decimal, int, Decimal]:
        """Where its case stands."""
        return self[:4]


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorBand:
    """A band on the board.

    Attributes:
        price: the one in force [currency].
        under: whether its margin is under the floor at the spot in force.
        spot_at_floor: at which spot it falls to the floor [currency/ozt]; None
            where it is under it.
        rise: by which share the spot may rise until then; None likewise.
        margin: share of the net price at the spot in force.
        floor: what the policy lets it fall to, as such a share.
    """

    mark: FloorMark
    sku: str
    size_from: Decimal
    size_to: Decimal
    price: Decimal
    under: bool
    spot_at_floor: Decimal | None
    rise: Decimal | None
    margin: Decimal | None
    floor: Decimal
    policy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorPage:
    """Part of the board, and whether there is more."""

    ground: PriceGround
    bands: tuple[FloorBand, ...]
    more: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Entry:
    """A case on the board."""

    mark: FloorMark
    size_to: Decimal
    margin: Decimal | None
    policy: Policy


class _Wanted(NamedTuple):
    """At most so many bands [count], past a mark."""

    most: int
    past: FloorMark | None


class Floors:
    """The board of what falls to its floor, the nearest first."""

    def __init__(
        self, snapshots: Snapshots, *, grounds: PriceGrounds, judge: CaseJudge
    ) -> None:
        self._snapshots = snapshots
        self._grounds = grounds
        self._judge = judge

    def page(self, *, limit: int, past: FloorMark | None = None) -> FloorPage:
        """The bands past a mark, as `Repricings.floors` says."""
        check_limit(limit)
        with self._snapshots.held():
            ground = self._grounds.at(None)
            spot = ground.spot
            if spot is None:
                raise SpotUnavailable(ground.missing)
            judged = self._judge.judged(ground)
            board = _after(past, _board(judged))
            bands = self._snapshots.storage.read(
                lambda unit: _some(unit, board, spot, _Wanted(limit + 1, past))
            )
        return FloorPage(ground=ground, bands=bands[:limit], more=len(bands) > limit)


def _board(judged: JudgedCases) -> list[_Entry]:
    """Every case that has a floor ahead of it or above it, in order."""
    return sorted(
        (
            entry
            for each in judged.cases
            if each.judged is not None and each.priced is not None
            for entry in _entries(each.case, each.judged, each.priced)
        ),
        key=lambda entry: entry.mark.case,
    )


def _entries(case: CaseInUse, judged: Judged, priced: BandPrice) -> Iterator[_Entry]:
    spot = floor_of(judged)
    if spot is not None:
        mark = FloorMark(1, spot, case.spec.id, case.price)
    elif keeps_its_floor(priced, case.price):
        return
    else:
        mark = FloorMark(0, money.ZERO, case.spec.id, case.price)
    yield _Entry(
        mark=mark,
        size_to=case.spec.size_to,
        margin=judged.old_margin,
        policy=priced.band.policy,
    )


def keeps_its_floor(priced: BandPrice, price: Decimal) -> bool:
    """Whether a price that never falls to its floor is above it, rather than under."""
    with money.arithmetic():
        now = Shown.of(priced.band.sizes.ladder.taken(price), priced.cost)
        return now.keeps(priced.band.policy.floor_margin)


def _after(past: FloorMark | None, board: list[_Entry]) -> list[_Entry]:
    if past is None:
        return board
    return [entry for entry in board if entry.mark.case >= past.case]


def _some(
    unit: UnitOfWork, board: list[_Entry], spot: Spot, wanted: _Wanted
) -> tuple[FloorBand, ...]:
    past, found = wanted.past, list[FloorBand]()
    for entry in board:
        mark = entry.mark
        places = unit.listings.places(
            mark.spec,
            mark.price,
            limit=wanted.most - len(found),
            past=past.band if past is not None and past.case == mark.case else 0,
        )
        found += [
            _band(entry, mark._replace(band=number), place, spot)
            for number, place in places
        ]
        if len(found) >= wanted.most:
            break
    return tuple(found)


def _band(entry: _Entry, mark: FloorMark, place: Place, now: Spot) -> FloorBand:
    spot = mark.spot if mark.above else None
    return FloorBand(
        mark=mark,
        sku=place.sku,
        size_from=place.size_from,
        size_to=entry.size_to,
        price=mark.price,
        under=not mark.above,
        spot_at_floor=spot,
        rise=None if spot is None else _rise(now.price, spot),
        margin=entry.margin,
        floor=entry.policy.floor_margin,
        policy=entry.policy.key,
    )


def _rise(now: Decimal, then: Decimal) -> Decimal:
    with money.arithmetic():
        return money.down(then / now - 1, money.RATE_STEP)
