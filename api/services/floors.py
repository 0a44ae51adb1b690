"""Which price falls to its floor next when silver rises."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import NamedTuple

from api.ports import Place, SpotUnavailable, UnitOfWork
from api.services.judged_cases import CaseJudge, JudgedCase, JudgedCases
from api.services.price_ground import PriceGround, PriceGrounds
from api.services.repricing_pages import check_limit
from api.services.repricing_preview import floor_of
from api.services.snapshots import Snapshots
from pricing import money
from pricing.repricing_rules import Shown


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
            if ground.spot is None:
                raise SpotUnavailable(ground.missing)
            judged = self._judge.judged(ground)
            board = _after(past, _board(judged))
            bands = self._snapshots.storage.read(
                lambda unit: _some(unit, board, ground, (limit + 1, past))
            )
        return FloorPage(ground=ground, bands=bands[:limit], more=len(bands) > limit)


def _board(judged: JudgedCases) -> list[tuple[FloorMark, JudgedCase]]:
    """Every case that has a floor ahead of it or above it, in order."""
    marked = ((_mark(each), each) for each in judged.cases)
    found = [(mark, each) for mark, each in marked if mark is not None]
    return sorted(found, key=lambda pair: pair[0].case)


def _mark(each: JudgedCase) -> FloorMark | None:
    judged, priced = each.judged, each.priced
    if judged is None or priced is None:
        return None
    case, spot = each.case, floor_of(judged)
    if spot is not None:
        return FloorMark(1, spot, case.spec.id, case.price)
    with money.arithmetic():
        band = priced.band
        now = Shown.of(band.sizes.ladder.taken(case.price), priced.cost)
        if now.keeps(band.policy.floor_margin):
            return None
    return FloorMark(0, money.ZERO, case.spec.id, case.price)


def _after(
    past: FloorMark | None, board: list[tuple[FloorMark, JudgedCase]]
) -> list[tuple[FloorMark, JudgedCase]]:
    if past is None:
        return board
    return [pair for pair in board if pair[0].case >= past.case]


def _some(
    unit: UnitOfWork,
    board: list[tuple[FloorMark, JudgedCase]],
    ground: PriceGround,
    wanted: tuple[int, FloorMark | None],
) -> tuple[FloorBand, ...]:
    most, past = wanted
    found: list[FloorBand] = []
    for mark, each in board:
        begin = past.band if past is not None and past.case == mark.case else 0
        places = unit.listings.places(
            mark.spec, mark.price, limit=most - len(found), past=begin
        )
        for number, place in places:
            found.extend(_band(mark._replace(band=number), each, place, ground))
        if len(found) >= most:
            break
    return tuple(found)


def _band(
    mark: FloorMark, each: JudgedCase, place: Place, ground: PriceGround
) -> Iterator[FloorBand]:
    judged, priced = each.judged, each.priced
    if judged is None or priced is None or ground.spot is None:
        return  # such a case has no mark
    policy, spot = priced.band.policy, mark.spot if mark.above else None
    yield FloorBand(
        mark=mark,
        sku=place.sku,
        size_from=place.size_from,
        size_to=each.case.spec.size_to,
        price=mark.price,
        under=not mark.above,
        spot_at_floor=spot,
        rise=None if spot is None else _rise(ground.spot.price, spot),
        margin=judged.old_margin,
        floor=policy.floor_margin,
        policy=policy.key,
    )


def _rise(now: Decimal, then: Decimal) -> Decimal:
    with money.arithmetic():
        return money.down(then / now - 1, money.RATE_STEP)
