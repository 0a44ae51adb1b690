"""The least price for what a piece asks of it, over and over in the same channel.

Which prices meet a policy depends on the piece only through a few amounts, and
what each price brings in does not depend on the piece at all: so it is worked
out once a price and kept.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
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


@dataclass(frozen=True, slots=True)
class _Demand:
    """A rule with its amount in terms of what a piece asks.

    Attributes:
        share, allowance: the line under its sum, slack included, at no cost.
        fixed: amount that no piece changes [currency].
        weights: of cost, weighted and earning in its amount [fraction].
    """

    rule: Rule
    share: Decimal
    allowance: Decimal
    fixed: Decimal
    weights: Ask

    def amount(self, ask: Ask) -> Decimal:
        cost, weighted, earning = self.weights
        amount = self.fixed + cost * ask.cost
        if weighted:
            amount += weighted * ask.weighted
        return amount + earning * ask.earning if earning else amount

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
        self._kept: dict[Decimal, _Rung] = {}

    def taken(self, unit: Decimal) -> Taken:
        """What ``unit`` [currency] brings in; its margin is before any cost."""
        return self._rung(unit).taken

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
        wanted = [(each, each.amount(ask)) for each in self._demands]
        lowest = [(amount - x.allowance) / x.share for x, amount in wanted]
        unit = self._grid.at_least(max(lowest, default=ZERO))
        while unit <= HIGHEST_PRICE:
            got = zip(wanted, self._rung(unit).reached, strict=True)
            for (demand, amount), reached in got:
                if amount > reached:
                    missing = (amount - reached) / demand.rule.steepest
                    unit = self._grid.at_least(unit + missing)
                    break
            else:
                return unit
        return None

    def _rung(self, unit: Decimal) -> _Rung:
        rung = self._kept.get(unit)
        if rung is None:
            # Equal prices share a rung, so it has the digits of none of them.
            taken = self._order.taken(half_up(unit, self._order.minor))
            rung = _Rung(taken, tuple(each.reached(taken) for each in self._demands))
            if len(self._kept) >= _MOST_KEPT:
                self._kept.clear()
            self._kept[unit] = rung
        return rung


def _demands_of(policy: Policy, order: Order) -> tuple[_Demand, ...]:
    trend = trend_of(order)
    made = []
    for rule in rules_of(policy, order):
        bare = replace(rule, amount=ZERO)
        share, start, slack = bare.line(trend)
        made.append(
            _Demand(
                rule=bare,
                share=share,
                allowance=start + slack,
                fixed=rule.amount,
                weights=_weights(rule.name, policy),
            )
        )
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
