"""One finger size of a listing's band: its cost against spot and what it asks.

Little is kept of each size, because a shop has many bands of many sizes.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from pricing import money
from pricing.coin import Coin
from pricing.cost_line import ExactLine
from pricing.cost_sheet import SpotFreeSheet, open_sheet
from pricing.errors import InvalidInput, NotMakeable
from pricing.estimate import worked_out
from pricing.metal_line import MetalLine
from pricing.price_book import Policy, PriceBook
from pricing.wish import Wish

SIZE_STEP_US = Decimal("0.25")
"""Sizes of a band are this far apart [US sizes]."""
LARGEST_US = Decimal(16)
"""Bands reach to this size at most [US number]."""

KeptLine = MetalLine | Decimal
"""A cost line against spot; one that no spot moves by its amount alone [currency]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighted:
    """The cost lines of one size, each with its kind's multiplier [fraction].

    Presenting moves the weighted sum a little: the lines add up to the presented
    cost, which is within half a minor unit of the exact one, and a line with
    another factor than 1 is presented within a minor unit of what it is.

    Attributes:
        lines: every line; the fixed ones by their amount alone [currency].
        highest: their weighted sum against spot at the most that presenting can
            make of it [currency].
        slack: the presented sum is at most twice this under ``highest`` [currency].
    """

    lines: tuple[KeptLine, ...]
    factors: tuple[Decimal, ...]
    highest: MetalLine
    slack: Decimal

    def at(self, price: Decimal, unit: money.Currency) -> Decimal:
        """The presented sum [currency] at ``price`` [currency/ozt]."""
        exact = [x if isinstance(x, Decimal) else x.at(price) for x in self.lines]
        shown = money.share_out(exact, unit)
        parts = zip(self.factors, shown, strict=True)
        return sum((factor * part for factor, part in parts), money.ZERO)

    def lowest(self, price: Decimal) -> Decimal:
        """The least the presented sum can be [currency] at ``price`` [currency/ozt]."""
        return self.highest.at(price) - 2 * self.slack


@dataclass(frozen=True, slots=True, kw_only=True)
class BandSize:
    """What is kept of one size.

    Attributes:
        size_us: the finger size [US number].
        line: cost of one good piece against spot, unrounded [currency].
        earning: the policy's least earning for its time, less its labour
            [currency]; zero without such a rule.
        weighted: its lines where the policy has multipliers, else None.
    """

    size_us: Decimal
    line: MetalLine
    earning: Decimal
    weighted: Weighted | None


def sizes_between(size_from: Decimal, size_to: Decimal) -> tuple[Decimal, ...]:
    """The sizes of a band, both ends included.

    Args:
        size_from: the smallest [US number].
        size_to: the largest [US number].

    Returns:
        The sizes in steps of a quarter [US numbers].

    Raises:
        InvalidInput: ends that are no quarter sizes from 0 to 16 in order.

    >>> [str(size) for size in sizes_between(Decimal(5), Decimal("5.5"))]
    ['5.00', '5.25', '5.50']
    """
    for name, size in (("from", size_from), ("to", size_to)):
        if size < 0 or size > LARGEST_US or size % SIZE_STEP_US:
            raise InvalidInput(
                f"{size} is no size that a band can end at; give a quarter size "
                f"from 0 to {LARGEST_US}, such as 9.25",
                path=(name,),
            )
    if size_to < size_from:
        raise InvalidInput(
            f"a band from {size_from} to {size_to} has no size in it; "
            "give the smaller size first",
            path=("to",),
        )
    count = int((size_to - size_from) / SIZE_STEP_US)
    return tuple(size_from + step * SIZE_STEP_US for step in range(count + 1))


def sheet_of(book: PriceBook, coin: Coin, wish: Wish) -> SpotFreeSheet:
    """The cost sheet of one size, the spot left open; kept nowhere.

    Raises:
        UnknownKey: a channel, policy or extra the book does not have.
        NotMakeable, InvalidInput: the message names the size.
    """
    try:
        return open_sheet(worked_out(book, coin, wish)[1])
    except (NotMakeable, InvalidInput) as error:
        error.begin(f"{wish.size.label}: ")
        raise


def band_size(
    book: PriceBook, coin: Coin, wish: Wish, *, shared: dict[KeptLine, KeptLine]
) -> BandSize:
    """Work one size out as far as it goes without a spot. Raises as ``sheet_of``.

    Args:
        book: the price book.
        coin: what the ring is made of.
        wish: the ring, and how it is sold.
        shared: lines of the sizes before it; those that are equal are kept once.
    """
    sheet = sheet_of(book, coin, wish)
    policy = book.policy(wish.policy)
    return BandSize(
        size_us=wish.size.us,
        line=sheet.exact,
        earning=_earning(policy, sheet, book.currency),
        weighted=_weighted(policy, sheet, shared=shared),
    )


def _earning(policy: Policy, sheet: SpotFreeSheet, unit: money.Currency) -> Decimal:
    if policy.min_hourly is None:
        return money.ZERO
    minutes = money.minutes(sheet.yielded.attended_minutes)
    labour = money.amount(sheet.yielded.labour, unit)
    return policy.min_hourly * minutes / 60 - labour


def _weighted(
    policy: Policy, sheet: SpotFreeSheet, *, shared: dict[KeptLine, KeptLine]
) -> Weighted | None:
    if policy.multipliers is None:
        return None
    factors = [policy.multipliers.get(x.kind, money.ONE) for x in sheet.lines]
    parts = zip(sheet.lines, factors, strict=True)
    total = MetalLine.total(x.line.scaled(factor) for x, factor in parts)
    apart = sum((abs(factor - 1) for factor in factors), money.ZERO)
    slack = (apart + 1) * sheet.ingredients.book.currency.step
    return Weighted(
        lines=tuple(shared.setdefault(x, x) for x in map(_amount, sheet.lines)),
        factors=tuple(factors),
        highest=total + MetalLine.constant(slack),
        slack=slack,
    )


def _amount(line: ExactLine) -> KeptLine:
    fixed = line.line
    return fixed if fixed.slope or fixed.slope_above else fixed.base
