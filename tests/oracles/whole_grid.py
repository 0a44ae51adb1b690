"""Every price on a grid at once, in whole minor units, so that none is skipped.

All amounts are integers; a rate is a fraction n/d and half-up of x·n/d is
(2·x·n + d) // 2d. Shares no code with what it checks.
"""

from fractions import Fraction

import numpy as np


def half_up(values, rate, fixed=Fraction(0)):
    """Nearest whole number to values × rate + fixed, halves up; none is negative."""
    below = rate.denominator * fixed.denominator
    above = values * (rate.numerator * fixed.denominator)
    above = above + fixed.numerator * rate.denominator
    return (2 * above + below) // (2 * below)


class WholeGrid:
    """Margin and net of an order at every grid price under a limit [minor units]."""

    def __init__(self, policy, terms, cost):
        self.policy, self.terms, self.cost = policy, terms, cost
        self.scale = 10**terms.currency.minor_units
        self.pieces = terms.quantity

    def whole(self, amount):
        found = Fraction(amount) * self.scale
        if found.denominator != 1:
            raise ValueError(amount)
        return found.numerator

    def prices_under(self, unit):
        """All k·step + offset above zero and under ``unit``."""
        step, offset = 1, 0
        if self.policy.rounding is not None:
            step = self.whole(self.policy.rounding.step)
            offset = self.whole(self.policy.rounding.offset)
        return np.arange(offset % step or step, self.whole(unit), step, dtype=np.int64)

    def split(self, prices):
        tax = Fraction(self.terms.channel.tax.rate)
        if self.terms.channel.tax.inclusive:
            taken = half_up(prices, tax / (1 + tax))
            return prices - taken, taken
        return prices, half_up(prices, tax)

    def margins(self, prices):
        """Margin and net of the whole order at each price of one piece."""
        channel = self.terms.channel
        goods = prices * self.pieces
        net, tax = self.split(goods)
        shipping, shipping_tax = self.split(self.whole(channel.shipping.charged))
        bases = {"charged": net + tax + shipping + shipping_tax, "goods": goods}
        bases["net"] = net
        fees = sum(
            half_up(bases[f.on], Fraction(f.rate), Fraction(f.fixed) * self.scale)
            for f in channel.fees
        )
        spent = self.pieces * self.whole(self.cost.per_piece)
        return net + shipping - fees - spent - self.whole(channel.shipping.paid), net

    def meeting(self, unit):
        """The prices under ``unit`` that meet every rule [minor units]."""
        prices = self.prices_under(unit)
        margin, net = self.margins(prices)
        fits = np.ones(len(prices), dtype=bool)
        for on_margin, on_net, on_price, least in self.demands():
            below = np.lcm.reduce([x.denominator for x in (on_net, least)])
            reached = margin * int(on_margin * below) + net * int(on_net * below)
            fits &= reached + prices * int(on_price * below) >= int(least * below)
        return prices[fits]

    def demands(self):
        """(on margin, on net, on price, least) of every rule, all exact."""
        policy, cost, pieces = self.policy, self.cost, self.pieces
        target = policy.target_margin
        for step in policy.quantity_breaks:
            target = step.target_margin if pieces >= step.from_quantity else target
        if target is not None:
            yield 1, -Fraction(target), 0, Fraction(0)
        total = Fraction(cost.per_piece) * pieces * self.scale
        if policy.markup is not None:
            yield 0, Fraction(1), 0, total * (1 + Fraction(policy.markup))
        if policy.multipliers is not None:
            weighed = sum(
                Fraction(part) * Fraction(policy.multipliers.get(kind, 1))
                for kind, part in cost.by_kind.items()
            )
            yield 0, Fraction(1), 0, weighed * pieces * self.scale
        if policy.min_hourly is not None:
            hours = Fraction(cost.attended_minutes) / 60 * pieces
            least = Fraction(policy.min_hourly) * hours
            least -= Fraction(cost.labour) * pieces
            yield 1, Fraction(0), 0, least * self.scale
        if policy.min_price is not None:
            yield 0, Fraction(0), 1, Fraction(policy.min_price) * self.scale
