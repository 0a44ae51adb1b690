"""The sizes of a band side by side: which costs most and which asks the most.

Most sizes are ruled out by their lines, so that pricing a band costs little more
than pricing one ring.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cache
from typing import NamedTuple

from pricing import money
from pricing.band_size import BandSize, sheet_of
from pricing.coin import Coin
from pricing.errors import NoPossiblePrice
from pricing.estimate import prepare
from pricing.metal_line import MetalLine
from pricing.near_highest import NearHighest
from pricing.price_book import PriceBook
from pricing.price_ladder import Ask, PriceLadder
from pricing.ring_size import us_size
from pricing.spot import Spot
from pricing.wish import Wish

_SURELY = Decimal("1e-20")
"""Far above what the 34th digit of a sum can be off by, far under a minor unit."""


class Costliest(NamedTuple):
    """The size of the highest cost at one spot: place, presented cost [currency]."""

    place: int
    cost: Decimal


class MinorUnit(NamedTuple):
    """The minor unit of a currency, and what follows from it [currency].

    Attributes:
        step: the minor unit.
        surely: an amount nearer than this to a whole one is rounded to it, whatever
            its 34th digit is.
        wide: the minor unit in floating point.
    """

    step: Decimal
    surely: Decimal
    wide: float


@cache
def minor_unit(currency: money.Currency) -> MinorUnit:
    """That of ``currency``."""
    step = currency.step
    with money.arithmetic():
        return MinorUnit(step, step / 2 - _SURELY, float(step))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BandSizes:
    """All the sizes of a band, made of one coin and sold in one way.

    Attributes:
        wish: the ring of one of them.
        minor: the minor unit of the book's currency.
        ladder: the prices it can have.
        sizes: what is kept of each, from the smallest on.
        lines: the cost of each against spot, unrounded [currency].
        costs: the same, to find the highest quickly.
        hourly: all their cost lines, each with its ``earning``; None without such
            a rule.
        weighted: their weighted sums at the most they can be presented as; None
            without multipliers.
    """

    book: PriceBook
    coin: Coin
    wish: Wish
    minor: MinorUnit
    ladder: PriceLadder
    sizes: tuple[BandSize, ...]
    lines: tuple[MetalLine, ...]
    costs: NearHighest
    hourly: NearHighest | None
    weighted: NearHighest | None

    def costliest(self, spot: Spot | None) -> Costliest:
        """The size of the highest cost; among equals the smallest."""
        price = price_of(spot)
        near = self.costs.at(price)
        if len(near) == 1:
            return Costliest(near[0], self._presented(near[0], spot))
        cost, _, back = max(
            (self._presented(i, spot), self.lines[i].at(price), -i) for i in near
        )
        return Costliest(-back, cost)

    def _presented(self, place: int, spot: Spot | None) -> Decimal:
        """The presented cost of one size, as on its cost sheet [currency].

        A cost sheet adds its lines up at the spot, while ``line`` adds them up
        before: they differ in the 34th digit at most, which can only matter next
        to half a minor unit. There the cost sheet itself is asked.
        """
        exact = self.lines[place].at(price_of(spot))
        shown = money.half_up(exact, self.minor.step)
        if abs(exact - shown) < self.minor.surely:
            return shown
        return sheet_of(self.book, self.coin, self.wish_of(place)).at(spot).per_piece

    def wish_of(self, place: int) -> Wish:
        """The wish for the size at ``place`` [count from 0]."""
        return sized(self.wish, self.sizes[place].size_us)

    def dearest(self, costliest: Costliest, spot: Spot | None) -> tuple[Decimal, int]:
        """The highest price, and the place of its size.

        No size asks for more than ``most`` in any respect, so none has a higher
        price than ``most`` has. The costliest size mostly reaches it alone.
        """
        most = self._most(costliest, spot)
        highest = self.ladder.least(most)
        if highest is None:
            return self._one_by_one(spot)
        least = self._least(costliest, spot)
        if least == most or self.ladder.least(least) == highest:
            return highest, costliest.place
        return self._search(spot, highest)

    def _most(self, costliest: Costliest, spot: Spot | None) -> Ask:
        """At least what any size asks, in every respect."""
        price, weighted, earning = price_of(spot), money.ZERO, money.ZERO
        if self.weighted is not None:
            tops = [self.sizes[i].weighted for i in self.weighted.at(price)]
            weighted = max(top.highest.at(price) for top in tops if top is not None)
        if self.hourly is not None:
            earning = self.sizes[costliest.place].earning
            for place in self.hourly.at(price, within=self.minor.wide):
                if place != costliest.place:
                    asked = self._presented(place, spot) + self.sizes[place].earning
                    earning = max(earning, asked - costliest.cost)
        return Ask(costliest.cost, weighted, earning)

    def _least(self, costliest: Costliest, spot: Spot | None) -> Ask:
        """At most what the costliest size asks, in every respect."""
        size = self.sizes[costliest.place]
        lines = size.weighted
        weighted = money.ZERO if lines is None else lines.lowest(price_of(spot))
        return Ask(costliest.cost, weighted, size.earning)

    def _search(self, spot: Spot | None, highest: Decimal) -> tuple[Decimal, int]:
        """Price the sizes from the costliest on, until one reaches ``highest``."""
        found = (money.ZERO, 0)
        for place in self._by_cost(spot):
            least = self._least_of(place, spot, over=found[0])
            if least > found[0]:
                found = (least, place)
            if least == highest:
                break
        return found

    def _least_of(self, place: int, spot: Spot | None, *, over: Decimal) -> Decimal:
        """The price of one size alone, or something not ``over`` [currency]."""
        size, price = self.sizes[place], price_of(spot)
        ask = Ask(self._presented(place, spot), earning=size.earning)
        if size.weighted is not None:
            most = ask._replace(weighted=size.weighted.highest.at(price))
            if (self.ladder.least(most) or money.ZERO) <= over:
                return over
            weighted = size.weighted.at(price, self.book.currency)
            ask = ask._replace(weighted=weighted)
        return self.ladder.least(ask) or money.ZERO

    def _one_by_one(self, spot: Spot | None) -> tuple[Decimal, int]:
        """The long way, which refuses in the words of an estimate."""
        found = (money.ZERO, 0)
        for place in self._by_cost(spot):
            wish = self.wish_of(place)
            try:
                made = prepare.__wrapped__(self.book, self.coin, wish).price_at(spot)
            except NoPossiblePrice as error:
                error.begin(f"{wish.size.label}: ")
                raise
            if made.sale.unit > found[0]:
                found = (made.sale.unit, place)
        return found

    def _by_cost(self, spot: Spot | None) -> list[int]:
        """Places of the sizes, the costliest first, the smaller first among equals."""
        price = price_of(spot)
        costs = [
            (self._presented(place, spot), size.line.at(price), -place)
            for place, size in enumerate(self.sizes)
        ]
        return [-back for _, _, back in sorted(costs, reverse=True)]


def hourly_of(sizes: Sequence[BandSize]) -> NearHighest:
    """All the cost lines, each with its ``earning``."""
    return NearHighest([x.line + MetalLine.constant(x.earning) for x in sizes])


def weighted_of(sizes: Sequence[BandSize]) -> NearHighest | None:
    """The weighted sums at their most; None without multipliers."""
    tops = [x.weighted.highest for x in sizes if x.weighted is not None]
    return NearHighest(tops) if tops else None


def sized(wish: Wish, us: Decimal) -> Wish:
    """The same wish for the size ``us`` [US number]."""
    return replace(wish, size=us_size(us))


def price_of(spot: Spot | None) -> Decimal:
    """The spot price [currency/ozt]; 0 for no spot, where nothing depends on it."""
    return spot.price if spot else money.ZERO
