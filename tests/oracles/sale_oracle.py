"""A second, naive price calculator, sharing no code with the first.

It counts in whole minor units with integers and fractions, spells the price
model out at one price, and tries every price on the grid from the lowest.
"""

from collections.abc import Callable, Iterator
from decimal import Decimal
from fractions import Fraction
from math import ceil
from typing import NamedTuple

from pricing.price_book import Policy
from pricing.sale import CostFigures, SaleTerms

DECIMALS = {"EUR": 2, "JPY": 0, "KWD": 3}


class Outcome(NamedTuple):
    """All in minor units."""

    goods: int
    net: int
    tax: int
    shipping_net: int
    shipping_tax: int
    fees: tuple[int, ...]
    margin: int


def half_up(over: int, under: int) -> int:
    """over ÷ under to the nearest whole number, a half away from zero."""
    if over < 0:
        return -half_up(-over, under)
    return (2 * over + under) // (2 * under)


class Oracle:
    def __init__(self, terms: SaleTerms, cost: CostFigures) -> None:
        self.scale = 10 ** DECIMALS[terms.currency.code]
        self.pieces = terms.quantity
        channel = terms.channel
        self.inclusive = channel.tax.inclusive
        self.tax = channel.tax.rate.as_integer_ratio()
        self.shipping = self.split(self.whole(channel.shipping.charged))
        self.paid = self.whole(channel.shipping.paid)
        self.cost = self.pieces * self.whole(cost.per_piece)
        self.labour = self.pieces * self.whole(cost.labour)
        self.fees = [
            (fee.on, Fraction(fee.rate), Fraction(fee.fixed) * self.scale)
            for fee in channel.fees
        ]
        self.figures = cost

    def whole(self, value: Decimal) -> int:
        return half_up(*(Fraction(value) * self.scale).as_integer_ratio())

    def split(self, price: int) -> tuple[int, int]:
        """Net and tax of a displayed price."""
        over, under = self.tax
        if self.inclusive:
            tax = half_up(price * over, under + over)
            return price - tax, tax
        return price, half_up(price * over, under)

    def at(self, unit: int) -> Outcome:
        goods = self.pieces * unit
        net, tax = self.split(goods)
        charged = net + tax + sum(self.shipping)
        bases = {"charged": charged, "goods": goods, "net": net}
        fees = tuple(
            half_up(*(rate * bases[on] + fixed).as_integer_ratio())
            for on, rate, fixed in self.fees
        )
        margin = net + self.shipping[0] - sum(fees) - self.cost - self.paid
        return Outcome(goods, net, tax, *self.shipping, fees, margin)

    def keeps(self, unit: int, rate: Decimal) -> bool:
        got = self.at(unit)
        over, under = rate.as_integer_ratio()
        return got.margin * under >= got.net * over

    def lowest_kept(self, unit: int, rate: Decimal) -> int:
        """The lowest price with no failing one between it and ``unit``."""
        while unit > 0 and self.keeps(unit - 1, rate):
            unit -= 1
        return unit

    def rules(self, policy: Policy) -> dict[str, Callable[[int, Outcome], bool]]:
        """Whether each rule of the policy holds, by name, in order."""
        target = policy.target_margin
        for step in policy.quantity_breaks:
            target = step.target_margin if self.pieces >= step.from_quantity else target
        rules: dict[str, Callable[[int, Outcome], bool]] = {}
        if target is not None:
            over, under = target.as_integer_ratio()
            rules["target_margin"] = lambda _, got: got.margin * under >= over * got.net
        if policy.markup is not None:
            marked = ceil(self.cost * (1 + Fraction(policy.markup)))
            rules["markup"] = lambda _, got: got.net >= marked
        if policy.multipliers is not None:
            weighted = self.weighted(policy.multipliers)
            rules["multipliers"] = lambda _, got: got.net >= weighted
        if policy.min_hourly is not None:
            earned = self.earning(policy.min_hourly)
            rules["min_hourly"] = lambda _, got: got.margin + self.labour >= earned
        if policy.min_price is not None:
            least = ceil(Fraction(policy.min_price) * self.scale)
            rules["min_price"] = lambda unit, _: unit >= least
        return rules

    def weighted(self, multipliers: dict[str, Decimal]) -> int:
        parts = (
            Fraction(part) * Fraction(multipliers.get(kind, 1))
            for kind, part in self.figures.by_kind.items()
        )
        return ceil(sum(parts) * self.scale * self.pieces)

    def earning(self, hourly: Decimal) -> int:
        hours = self.pieces * Fraction(self.figures.attended_minutes) / 60
        return ceil(Fraction(hourly) * self.scale * hours)

    def grid(self, policy: Policy) -> Iterator[int]:
        """Every price on the grid above zero, from the lowest."""
        step, offset = 1, 0
        if policy.rounding is not None:
            step = self.whole(policy.rounding.step)
            offset = self.whole(policy.rounding.offset)
        price = offset % step or step
        while True:
            yield price
            price += step

    def cheapest(self, policy: Policy) -> tuple[int, list[str]]:
        """The first price that fails no rule, and what failed one step under it."""
        failed: list[str] = []
        rules = self.rules(policy)
        for price in self.grid(policy):
            got = self.at(price)
            now = [name for name, holds in rules.items() if not holds(price, got)]
            if not now:
                break
            failed = now
        return price, failed

    def least_alone(self, policy: Policy, name: str) -> int:
        """The first price that meets one rule."""
        holds = self.rules(policy)[name]
        return next(p for p in self.grid(policy) if holds(p, self.at(p)))
