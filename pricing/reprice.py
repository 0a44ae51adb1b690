"""A band of sizes under one price: what it has to cost, and what to do about it.

A listing shows one price for a range of sizes, so the range is priced at its
dearest size. Everything that does not depend on the spot is worked out once for
a price book; after that a new spot costs little.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import NamedTuple

from pricing import money
from pricing.band_floor import spot_at_level
from pricing.band_size import KeptLine, band_size, sizes_between
from pricing.band_sizes import (
    BandSizes,
    Costliest,
    hourly_of,
    minor_unit,
    sized,
    weighted_of,
)
from pricing.coin import Coin
from pricing.errors import InvalidInput
from pricing.metal_line import MetalLine
from pricing.near_highest import NearHighest
from pricing.price_book import Policy, PriceBook
from pricing.price_ladder import PriceLadder
from pricing.repricing_rules import Decision, Judged, RepricingRules, Shown
from pricing.ring_size import us_size
from pricing.spot import Spot
from pricing.spot_needed import check_spot
from pricing.wish import Wish

__all__ = ["BandPrice", "CompiledBand", "Decision", "Judged", "compile_band"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CompiledBand:
    """A band of one listing worked out as far as it goes without a spot.

    Attributes:
        rules: what decides about its price.
        sizes: its sizes.
        needs_spot: whether anything of the cost moves with the spot.
    """

    rules: RepricingRules
    sizes: BandSizes
    needs_spot: bool

    @property
    def policy(self) -> Policy:
        """The rules it is priced and repriced by."""
        return self.rules.policy

    @property
    def book(self) -> PriceBook:
        """The price book it is worked out by."""
        return self.sizes.book

    @property
    def coin(self) -> Coin:
        """The coin its rings are made of."""
        return self.sizes.coin

    def price_at(self, spot: Spot | None) -> BandPrice:
        """The price of the band: the highest of the prices of its sizes.

        Args:
            spot: in the book's currency [currency/ozt]; None where none is needed.

        Raises:
            InvalidInput: no spot where the coin needs one, or another currency.
            NoPossiblePrice: a rule that cannot be met; the message names the size.
        """
        with money.arithmetic():
            check_spot(spot, self)
            sizes = self.sizes
            costliest = sizes.costliest(spot)
            found, dearest = sizes.dearest(costliest, spot)
            unit = money.half_up(found, sizes.minor.step)
            return BandPrice(
                band=self,
                spot=spot,
                unit=unit,
                dearest_size=sizes.sizes[dearest].size_us,
                costliest=costliest,
                shown=Shown.of(sizes.ladder.taken(unit), costliest.cost),
            )

    def judge(self, spot: Spot | None, current: Decimal) -> Judged:
        """What to do about a ``current`` price [currency]; see ``BandPrice.judge``."""
        return self.price_at(spot).judge(current)


class BandPrice(NamedTuple):
    """What a band has to cost at one spot; a tuple, since there are thousands.

    Attributes:
        unit: price of one piece of any of its sizes [currency].
        dearest_size: the size that asks for it; among equals the costliest, then
            the smallest [US number].
        costliest: place and cost of the costliest size.
        shown: the margin at ``unit`` of the costliest size.
    """

    band: CompiledBand
    spot: Spot | None
    unit: Decimal
    dearest_size: Decimal
    costliest: Costliest
    shown: Shown

    @property
    def costliest_size(self) -> Decimal:
        """The size of the highest cost, so of the worst margin [US number].

        The worst at any price the band may have; mostly the dearest size too.
        """
        return self.band.sizes.sizes[self.costliest.place].size_us

    @property
    def cost(self) -> Decimal:
        """The presented cost of the costliest size [currency]."""
        return self.costliest.cost

    @property
    def margin(self) -> Decimal:
        """The worst margin of the band at ``unit`` [currency]."""
        return self.shown.margin

    @property
    def margin_rate(self) -> Decimal | None:
        """The same over net [fraction], at 0.0001; None for a net of zero."""
        return self.shown.rate

    def judge(self, current: Decimal) -> Judged:
        """What to do about the price the band has now.

        Margins are those of the costliest size of the band at this spot, which
        are the worst of all its sizes.

        Args:
            current: the price it has now [currency], above 0.

        Raises:
            InvalidInput: a current price that is no price in this currency.
        """
        with money.arithmetic():
            sizes = self.band.sizes
            price = money.half_up(current, sizes.minor.step)
            if price != current or price <= money.ZERO:
                raise self._no_price(current)
            now = Shown.of(sizes.ladder.taken(price), self.costliest.cost)
            floor = self._spot_at_floor(now)
            return self.band.rules.judged(now, self.shown, spot_at_floor=floor)

    def _no_price(self, current: Decimal) -> InvalidInput:
        unit = self.band.book.currency
        return InvalidInput(
            f"{current} is no price in {unit.code}; give an amount above 0 "
            f"in whole steps of {unit.step:f}",
            path=("price",),
        )

    def _spot_at_floor(self, now: Shown) -> Decimal | None:
        band = self.band
        if self.spot is None or not band.needs_spot:
            return None
        bearable = now.bearable_cost(band.rules.policy.floor_margin)
        sizes = band.sizes
        return spot_at_level(
            sizes.lines,
            bearable,
            highest=sizes.lines[self.costliest.place],
            near=sizes.costs,
            spot=self.spot.price,
        )


def compile_band(  # noqa: PLR0913 - what makes a band, all of it by keyword
    book: PriceBook,
    coin: Coin,
    *,
    size_from: Decimal,
    size_to: Decimal,
    channel: str | None = None,
    policy: str | None = None,
    extras: tuple[str, ...] = (),
) -> CompiledBand:
    """Work every size of a band out as far as it goes without a spot.

    Args:
        book: the workshop's price book, amounts in its currency.
        coin: the coin the rings are made of.
        size_from: the smallest size, a quarter size [US number].
        size_to: the largest, both included, in steps of a quarter [US number].
        channel: key of the channel; None takes the book's first.
        policy: key of the policy; None takes the book's first.
        extras: keys of extras for each piece.

    Raises:
        UnknownKey: a channel, policy or extra the book does not have.
        NotMakeable: a size the coin cannot become; the message names it.
        InvalidInput: ends that are no sizes, or figures that do not fit together.
    """
    with money.arithmetic():
        numbers = sizes_between(size_from, size_to)
        wish = Wish(
            size=us_size(numbers[0]), channel=channel, policy=policy, extras=extras
        )
        sizes = _sizes_of(book, coin, wish, numbers)
        return CompiledBand(
            rules=_rules(book, policy),
            sizes=sizes,
            needs_spot=any(x != MetalLine.constant(x.base) for x in sizes.lines),
        )


def _sizes_of(
    book: PriceBook, coin: Coin, wish: Wish, numbers: Sequence[Decimal]
) -> BandSizes:
    shared: dict[KeptLine, KeptLine] = {}
    sizes = tuple(
        band_size(book, coin, sized(wish, us), shared=shared) for us in numbers
    )
    lines = tuple(size.line for size in sizes)
    by_the_hour = book.policy(wish.policy).min_hourly is not None
    return BandSizes(
        book=book,
        coin=coin,
        wish=wish,
        minor=minor_unit(book.currency),
        ladder=_ladder(book, wish.channel, wish.policy),
        sizes=sizes,
        lines=lines,
        costs=NearHighest(lines),
        hourly=hourly_of(sizes) if by_the_hour else None,
        weighted=weighted_of(sizes),
    )


@lru_cache(maxsize=64)
def _ladder(book: PriceBook, channel: str | None, policy: str | None) -> PriceLadder:
    """One for all the bands sold so; books are compared by identity."""
    return PriceLadder(book.policy(policy), book.channel(channel), book.currency)


@lru_cache(maxsize=64)
def _rules(book: PriceBook, policy: str | None) -> RepricingRules:
    """One for all the bands repriced so; books are compared by identity."""
    return RepricingRules(book.policy(policy))
