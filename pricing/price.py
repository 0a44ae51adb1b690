"""From cost to price: the smallest price on the grid that meets every rule.

Every rule asks that a weighted sum of margin, net and goods reaches an amount.
Apart from the roundings of tax and fees that sum is a straight line in the
goods price, so the search starts where the line says that no lower price can
do, and walks up the grid with all roundings done.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from decimal import Decimal

from pricing.errors import NoPossiblePrice
from pricing.markup import margin_of_markup, markup_of_margin
from pricing.money import RATE_STEP, ZERO, down, grid_ceiling
from pricing.price_book.selling import Policy
from pricing.price_grid import Grid, grid_of
from pricing.price_rules import (
    Rule,
    Trend,
    margin_rule,
    refusal,
    rules_of,
    target_margin_of,
    trend_of,
)
from pricing.sale import (
    CostFigures,
    FeeCharge,
    Order,
    Sale,
    SaleTerms,
    Taken,
    order_of,
    sale_at,
    sale_of,
)

__all__ = [
    "GIVEN",
    "HIGHEST_PRICE",
    "LEAST_SHARE",
    "CostFigures",
    "FeeCharge",
    "PriceDecision",
    "RuleCheck",
    "Sale",
    "SaleTerms",
    "decide_price",
    "discount_headroom",
    "given_price",
    "margin_of_markup",
    "markup_of_margin",
    "sale_at",
]

GIVEN = "given"
"""What binds a price that stands already, in the place of a rule."""

HIGHEST_PRICE = Decimal(1_000_000_000)
"""No piece is priced above this [currency]; a rule that asks more is refused."""

LEAST_SHARE = Decimal("0.001")
"""Share of the price a rule must leave for the costs, or it is refused [fraction]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleCheck:
    """One rule of the policy: its demand in words, and what it asks alone.

    Attributes:
        name: the rule.
        needed: the demand, with its arithmetic.
        least_unit: least price on the grid that meets this rule [currency].
    """

    name: str
    needed: str
    least_unit: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceDecision:
    """A price, what follows from it and why it is not lower.

    Attributes:
        sale: everything that follows from the price.
        bound_by: the first rule that fails one grid step lower, or ``rounding``
            where there is no lower price on the grid; ``given`` where no rule was
            asked.
        target_margin: the one in force at this quantity, or None.
        discount_headroom: see ``discount_headroom`` [fraction].
        rules: every rule of the policy; for a price that was given, every one that
            some price can meet.
    """

    sale: Sale
    bound_by: str
    target_margin: Decimal | None
    discount_headroom: Decimal
    rules: tuple[RuleCheck, ...]


def decide_price(
    policy: Policy, *, terms: SaleTerms, cost: CostFigures
) -> PriceDecision:
    """The smallest positive price k·step + offset that meets every rule.

    Rules, for the whole order: margin ≥ target × net; net ≥ cost × (1 + markup);
    net ≥ Σ cost line × multiplier; margin + labour ≥ hourly × attended hours;
    unit ≥ least price. All tax and fee roundings are done before comparing.

    Args:
        policy: the rules and the grid [currency].
        terms: channel, currency and quantity.
        cost: presented cost figures of one piece.

    Raises:
        NoPossiblePrice: a rule that leaves under ``LEAST_SHARE`` of the price
            for the costs, or asks for more than ``HIGHEST_PRICE``.
        InvalidInput: a grid that is not in whole minor units.
    """
    order = order_of(terms, cost)
    grid = grid_of(policy.rounding, terms.currency)
    trend = trend_of(order)
    rules = rules_of(policy, order)
    checks = tuple(_check(rule, order, grid, trend) for rule in rules)
    # A price that meets all the rules meets each, so it is no lower than any of
    # their own least prices: nothing is skipped by starting at the highest.
    start = max((check.least_unit for check in checks), default=grid.first)
    taken = _walk_up(rules, order, start=start, grid=grid)
    return PriceDecision(
        sale=sale_of(order, taken),
        bound_by=_bound_by(rules, order, unit=taken.unit, grid=grid),
        target_margin=target_margin_of(policy, terms.ordered),
        discount_headroom=_headroom(order, trend, taken.unit, policy.floor_margin),
        rules=checks,
    )


def given_price(
    unit: Decimal, policy: Policy, *, terms: SaleTerms, cost: CostFigures
) -> PriceDecision:
    """What follows from a price that stands already, whatever the rules ask.

    Args:
        unit: price of one piece as displayed [currency].
        policy: its rules say beside it what they would ask [currency].
        terms: channel, currency and quantity.
        cost: presented cost figures of one piece.

    Raises:
        InvalidInput: a unit price that is negative or no whole minor unit, or a
            grid that is not in whole minor units.
    """
    sale = sale_at(unit, terms=terms, cost=cost)
    order = order_of(terms, cost)
    grid, trend = grid_of(policy.rounding, terms.currency), trend_of(order)
    return PriceDecision(
        sale=sale,
        bound_by=GIVEN,
        target_margin=target_margin_of(policy, terms.ordered),
        discount_headroom=_headroom(order, trend, unit, policy.floor_margin),
        rules=tuple(_possible(rules_of(policy, order), order, grid, trend)),
    )


def _possible(
    rules: Iterable[Rule], order: Order, grid: Grid, trend: Trend
) -> Iterator[RuleCheck]:
    """The rules that some price can meet."""
    for rule in rules:
        with suppress(NoPossiblePrice):
            yield _check(rule, order, grid, trend)


def _check(rule: Rule, order: Order, grid: Grid, trend: Trend) -> RuleCheck:
    return RuleCheck(
        name=rule.name,
        needed=rule.needed,
        least_unit=_least_unit(rule, order, grid, trend),
    )


def _least_unit(rule: Rule, order: Order, grid: Grid, trend: Trend) -> Decimal:
    """Least grid price that meets one rule.

    Proof that no smaller grid price does. Let s be the rule's weighted sum less
    its amount, so that the rule holds where s ≥ 0. With G = quantity × price,
    s(G) = share·G + start + e, where e gathers the roundings. The tax is off by
    at most half a minor unit and enters s through net and through the fees taken
    on it; each fee is off by at most half a minor unit. ``Rule.line`` adds up
    those halves, each times its weight, as ``slack`` ≥ |e|. A price with
    share·G + start + slack < 0 therefore has s < 0. Since share > 0 these are
    all the prices under −(start + slack) ÷ (share × quantity), where the walk
    begins. The quotients here are rounded at the 34th digit, which moves that
    place by less than the thousandth of a minor unit that slack also holds.
    The walk ends, because s ≥ 0 wherever share·G + start ≥ slack.
    """
    share, start, slack = rule.line(trend)
    if share < LEAST_SHARE:
        raise refusal(rule, trend, share)
    lowest = -(start + slack) / (share * order.terms.quantity)
    unit = grid.at_least(lowest)
    if unit <= HIGHEST_PRICE:
        unit = _walk_up((rule,), order, start=unit, grid=grid).unit
    if unit > HIGHEST_PRICE:
        raise NoPossiblePrice(
            f"no price up to {HIGHEST_PRICE} meets {rule.name} ({rule.needed}); "
            f"check the cost, or lower {rule.name}",
            rule=rule.name,
        )
    return unit


def _walk_up(
    rules: Iterable[Rule], order: Order, *, start: Decimal, grid: Grid
) -> Taken:
    """The first price from ``start`` on at which every rule holds.

    A failing rule lacks some amount and gains at most ``steepest`` for each unit
    of goods, so it fails at every price nearer than amount ÷ steepest as well. (This
    needs tax and fee rates that are not negative, as in every price book.)
    """
    taken = order.taken(start)
    while (rule := _failing(rules, taken)) is not None:
        goods = rule.missing(taken) / rule.steepest
        taken = order.taken(grid.at_least(taken.unit + goods / order.terms.quantity))
    return taken


def _failing(rules: Iterable[Rule], taken: Taken) -> Rule | None:
    for rule in rules:
        if rule.missing(taken) > ZERO:
            return rule
    return None


def _bound_by(rules: Iterable[Rule], order: Order, *, unit: Decimal, grid: Grid) -> str:
    failing = None
    if unit > grid.first:
        failing = _failing(rules, order.taken(unit - grid.step))
    return "rounding" if failing is None else failing.name


def discount_headroom(
    unit: Decimal, *, floor_margin: Decimal, terms: SaleTerms, cost: CostFigures
) -> Decimal:
    """The largest discount that keeps the margin at its floor, rounded down to 0.0001.

    At this rate every price from ``unit`` down to unit × (1 − rate), whichever
    way that is rounded to the minor unit, has margin ≥ floor × net with all
    roundings done. Zero where ``unit`` itself is under the floor, and where
    floor and fees leave under ``LEAST_SHARE`` of the price for the costs.

    Args:
        unit: price of one piece before the discount [currency].
        floor_margin: the least margin as a share of net [fraction].
        terms: channel, currency and quantity.
        cost: presented cost figures of one piece.

    Returns:
        The rate [fraction], from 0 to 1.
    """
    order = order_of(terms, cost)
    return _headroom(order, trend_of(order), unit, floor_margin)


def _headroom(
    order: Order, trend: Trend, unit: Decimal, floor_margin: Decimal
) -> Decimal:
    rule = margin_rule("floor_margin", floor_margin)
    share, start, slack = rule.line(trend)
    if share < LEAST_SHARE or unit <= ZERO:
        return ZERO
    # The floor holds at every price where share × goods + start ≥ slack: from
    # ``sure`` upwards there is nothing to try. From there it goes down as far as
    # the spare margin lasts at the steepest fall, until one step more fails.
    quantity, minor = order.terms.quantity, order.minor
    sure = grid_ceiling((slack - start) / (share * quantity), minor, ZERO)
    lowest, taken = unit, order.taken(min(unit, max(sure, ZERO)))
    while lowest > ZERO and (missing := rule.missing(taken)) <= ZERO:
        spared = taken.unit + missing / (rule.steepest * quantity)
        lowest = max(ZERO, grid_ceiling(spared, minor, ZERO))
        taken = order.taken(max(ZERO, lowest - minor))
    return down((unit - lowest) / unit, RATE_STEP)
