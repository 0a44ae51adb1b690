"""The least price for what a piece asks of it, over and over in the same channel.

Which prices meet a policy depends on the piece only through a few amounts, and
what each price brings in does not depend on the piece at all: so it is worked
out once a price and kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from typing import NamedTuple

from pricing.money import ONE, ZERO, Currency, half_up
from pricing.price import HIGHEST_PRICE, LEAST_SHARE
from pricing.price_book import Channel, Policy
from pricing.price_grid import grid_of
from pricing.price_rules import Rule, rules_of, trend_of
from pricing.sale import CostFigures, Order, SaleTerms, Taken, order_of

_MOST_KEPT = 4096
_NOTHING = CostFigures(
    per_piece=ZERO, labour=ZERO, attended_minutes=ZERO, by_kind={"coin": ZERO}
)


class Ask(NamedTuple):
    """What one good piece asks of its price [currency].

    Attributes:
        cost: its presented cost.
        weighted: its presented cost lines, each times its kind's multiplier.
        earning: the least hourly earning for its attended time, less its labour.
    """

    cost: Decimal
    weighted: Decimal = ZERO
    earning: Decimal = ZERO


class _Demand(NamedTuple):
    """A rule with its amount in terms of what a piece asks.

    The amount is fixed + cost × the piece's + weighted × … + earning × ….

    Attributes:
        share, allowance: the line under its sum, slack included, at no cost.
        fixed: amount that no piece changes [currency].
        cost, weighted, earning: weights of what is asked [fraction].
        rule: the rule.
    """

    share: Decimal
    allowance: Decimal
    fixed: Decimal
    cost: Decimal
    weighted: Decimal
    earning: Decimal
    rule: Rule

    def reached(self, taken: Taken) -> Decimal:
        rule = self.rule
        return (
            rule.on_margin * taken.margin
            + rule.on_net * taken.net
            + rule.on_goods * taken.goods
        )


class _Rung(NamedTuple):
    """One price: what it brings in, and what each rule's sum reaches [currency]."""

    taken: Taken
    reached: tuple[Decimal, ...]


class PriceLadder:
    """The allowed prices of one policy in one channel, for one piece an order.

    What each price brings in is kept, a few thousand prices at most; nothing of
    it can change what is answered.
    """

    __slots__ = ("_demands", "_grid", "_kept", "_order", "_refused")

    def __init__(self, policy: Policy, channel: Channel, currency: Currency) -> None:
        """Sell one piece an order in ``channel``, by the rules of ``policy``."""
        terms = SaleTerms(channel=channel, currency=currency)
        self._grid = grid_of(policy.rounding, currency)
        self._order: Order = order_of(terms, _NOTHING)
        self._demands = _demands_of(policy, self._order)
        self._refused = any(each.share < LEAST_SHARE for each in self._demands)
        self._kept: dict[str, _Rung] = {}

    def taken(self, unit: Decimal) -> Taken:
        """What ``unit`` [currency] brings in; its margin is before any cost."""
        return (self._kept.get(str(unit)) or self._rung(unit)).taken

    def least(self, ask: Ask) -> Decimal | None:
        """The lowest allowed price that meets every rule [currency].

        The lowest that ``decide_price`` finds for the same figures, by the same
        steps; and if ``ask`` asks no less than another in every respect, its
        price is no lower, because every price that meets it meets the other.

        Returns:
            The price, or None where ``decide_price`` may refuse: that says why.
        """
        if self._refused:
            return None
        cost, weighted, earning = ask
        amounts, unit = [], ZERO
        for demand in self._demands:
            share, allowance, fixed, by_cost, by_weighted, by_earning, _ = demand
            amount = fixed + by_cost * cost
            if by_weighted:
                amount += by_weighted * weighted
            if by_earning:
                amount += by_earning * earning
            amounts.append(amount)
            unit = max(unit, (amount - allowance) / share)
        return self._climb(self._grid.at_least(unit), amounts)

    def _climb(self, unit: Decimal, amounts: Sequence[Decimal]) -> Decimal | None:
        """The lowest allowed price from ``unit`` up that reaches every amount."""
        while unit <= HIGHEST_PRICE:
            _, reaches = self._kept.get(str(unit)) or self._rung(unit)
            for place, reached in enumerate(reaches):
                if amounts[place] > reached:
                    missing = amounts[place] - reached
                    steepest = self._demands[place].rule.steepest
                    unit = self._grid.at_least(unit + missing / steepest)
                    break
            else:
                return unit
        return None

    def _rung(self, unit: Decimal) -> _Rung:
        """Work one price out and keep it."""
        # However a price is written, its rung has the digits of the currency.
        taken = self._order.taken(half_up(unit, self._order.minor))
        rung = _Rung(taken, tuple(each.reached(taken) for each in self._demands))
        if len(self._kept) >= _MOST_KEPT:
            self._kept.clear()
        # By its text, since to hash a new Decimal takes longer than all the rest.
        self._kept[str(unit)] = rung
        return rung


def _demands_of(policy: Policy, order: Order) -> tuple[_Demand, ...]:
    trend = trend_of(order)
    made = []
    for rule in rules_of(policy, order):
        bare = replace(rule, amount=ZERO)
        share, start, slack = bare.line(trend)
        weights = _weights(rule.name, policy)
        made.append(_Demand(share, start + slack, rule.amount, *weights, bare))
    return tuple(made)


def _weights(name: str, policy: Policy) -> Ask:
    """How a rule's amount follows what a piece asks; margins are before its cost."""
    return {
        "target_margin": Ask(cost=ONE),
        "markup": Ask(cost=ONE + (policy.markup or ZERO)),
        "multipliers": Ask(cost=ZERO, weighted=ONE),
        "min_hourly": Ask(cost=ONE, earning=ONE),
        "min_price": Ask(cost=ZERO),
    }[name]
