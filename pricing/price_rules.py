"""The rules of a policy, each in one form, and how its sum moves with the price.

A rule holds where on_margin × margin + on_net × net + on_goods × goods reaches an
amount, for the whole order and with all roundings done. One form lets one
search serve every rule.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from pricing.errors import NoPossiblePrice
from pricing.markup import exact_percent
from pricing.money import ONE, RATE_STEP, ZERO, grid_ceiling, half_up
from pricing.price_book.selling import Policy
from pricing.sale import Order, Taken


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """Net and margin as straight lines in the goods price, roundings left out.

    Attributes:
        net_share: net for one unit of goods [fraction].
        margin_share: margin for one unit of goods [fraction].
        margin_start: margin at a goods price of zero [currency].
        fees_share: fees for one unit of goods [fraction].
        net_tax_error, margin_tax_error: what the rounding of the tax on the
            goods, counted once, takes from net and from margin [fraction].
        fees: number of fees, each rounded once.
        minor: the minor unit [currency].
    """

    net_share: Decimal
    margin_share: Decimal
    margin_start: Decimal
    fees_share: Decimal
    net_tax_error: Decimal
    margin_tax_error: Decimal
    fees: int
    minor: Decimal


def trend_of(order: Order) -> Trend:
    """The straight lines under the sale of ``order``."""
    tax = order.terms.channel.tax
    net = ONE / order.tax_divisor
    gross = ONE if tax.inclusive else ONE + tax.rate
    error = ONE if tax.rate else ZERO
    net_error = error if tax.inclusive else ZERO
    # For each base: its share of goods, its start, its part in the tax rounding.
    # A tax rounded up by e takes e from an inclusive net and adds e to what the
    # buyer is charged where the tax comes on top.
    lines = {
        "charged": (gross, order.shipping_gross, net_error - error),
        "goods": (ONE, ZERO, ZERO),
        "net": (net, ZERO, net_error),
    }
    fees_share, margin_start, margin_error = ZERO, order.constant, net_error
    for fee in order.terms.channel.fees:
        share, start, part = lines[fee.on]
        fees_share += fee.rate * share
        margin_start -= fee.rate * start + fee.fixed
        margin_error -= fee.rate * part
    return Trend(
        net_share=net,
        margin_share=net - fees_share,
        margin_start=margin_start,
        fees_share=fees_share,
        net_tax_error=net_error,
        margin_tax_error=margin_error,
        fees=len(order.terms.channel.fees),
        minor=order.minor,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """on_margin × margin + on_net × net + on_goods × goods ≥ amount.

    Attributes:
        name: the rule's name in the policy.
        needed: the demand in words, with its arithmetic.
        on_margin, on_net, on_goods: the weights [fraction].
        amount: what the sum has to reach [currency].
    """

    name: str
    needed: str
    on_margin: Decimal = ZERO
    on_net: Decimal = ZERO
    on_goods: Decimal = ZERO
    amount: Decimal = ZERO

    def missing(self, taken: Taken) -> Decimal:
        """What the sum lacks, all roundings done [currency]; the rule holds at ≤ 0."""
        return (
            self.amount
            - self.on_margin * taken.margin
            - self.on_net * taken.net
            - self.on_goods * taken.goods
        )

    @property
    def steepest(self) -> Decimal:
        """The most the sum gains, roundings and all, for one unit of goods [fraction].

        Net gains no more than goods, since the rounded tax does not fall, and
        margin no more than net, since no rounded fee falls.
        """
        return self.on_margin + self.on_net + self.on_goods

    def line(self, trend: Trend) -> tuple[Decimal, Decimal, Decimal]:
        """The sum less the amount as share × goods + start, give or take slack.

        Slack is half a minor unit for every rounding, times its weight in the
        sum, and a thousandth of one for the 34th digit of the quotients.

        Returns:
            share [fraction], start and slack [currency].
        """
        share = (
            self.on_margin * trend.margin_share
            + self.on_net * trend.net_share
            + self.on_goods
        )
        tax_error = (
            self.on_margin * trend.margin_tax_error + self.on_net * trend.net_tax_error
        )
        halves = abs(tax_error) + abs(self.on_margin) * trend.fees
        slack = (halves * 500 + 1) * trend.minor / 1000
        return share, self.on_margin * trend.margin_start - self.amount, slack


def target_margin_of(policy: Policy, quantity: int) -> Decimal | None:
    """The target margin [fraction] in force at ``quantity`` [pieces], or None."""
    target = policy.target_margin
    for step in policy.quantity_breaks:
        if quantity >= step.from_quantity:
            target = step.target_margin
    return target


def margin_rule(name: str, rate: Decimal) -> Rule:
    """Margin at least ``rate`` [fraction] of net."""
    return Rule(
        name=name,
        needed=f"margin at least {exact_percent(rate)} of net",
        on_margin=ONE,
        on_net=-rate,
    )


def rules_of(policy: Policy, order: Order) -> tuple[Rule, ...]:
    """The rules the policy sets, in the order in which they are named as binding."""
    made = (
        _target_margin(policy, order),
        _markup(policy, order),
        _multipliers(policy, order),
        _min_hourly(policy, order),
        _min_price(policy, order),
    )
    return tuple(rule for rule in made if rule is not None)


def _target_margin(policy: Policy, order: Order) -> Rule | None:
    target = target_margin_of(policy, order.terms.ordered)
    return None if target is None else margin_rule("target_margin", target)


def _times(order: Order) -> str:
    quantity = order.terms.quantity
    return "" if quantity == 1 else f"{quantity} × "


def _reached(value: Decimal, order: Order) -> str:
    # Sums of presented figures are whole minor units, so they reach ``value`` just
    # when they reach the next whole one.
    return f"{grid_ceiling(value, order.minor, ZERO):f}"


def _markup(policy: Policy, order: Order) -> Rule | None:
    if policy.markup is None:
        return None
    needed = order.cost * (ONE + policy.markup)
    factor = f"(1 + {exact_percent(policy.markup)})"
    how = f"{_times(order)}{order.figures.per_piece:f} × {factor}"
    return Rule(
        name="markup",
        needed=f"net at least {how}, so {_reached(needed, order)}",
        on_net=ONE,
        amount=needed,
    )


def _multipliers(policy: Policy, order: Order) -> Rule | None:
    factors = policy.multipliers
    if factors is None:
        return None
    named, rest, total = [], ZERO, ZERO
    for kind, part in order.figures.by_kind.items():
        factor = factors.get(kind)
        if factor is None:
            rest += part
        else:
            named.append(f"{factor:f} × {kind} {part:f}")
            total += factor * part
    needed = (total + rest) * order.terms.quantity
    how = " + ".join([*named, f"the rest {rest:f}"])
    how = how if order.terms.quantity == 1 else f"{_times(order)}({how})"
    return Rule(
        name="multipliers",
        needed=f"net at least {how}, so {_reached(needed, order)}",
        on_net=ONE,
        amount=needed,
    )


def _min_hourly(policy: Policy, order: Order) -> Rule | None:
    hourly = policy.min_hourly
    if hourly is None:
        return None
    figures, quantity = order.figures, order.terms.quantity
    # A quotient by 60 of so few digits either ends within the 34 carried or lies
    # further from every whole minor unit than its last digit: no comparison turns.
    needed = hourly * figures.attended_minutes * quantity / 60
    how = f"{_times(order)}{figures.attended_minutes:f} min ÷ 60 × {hourly:f}"
    return Rule(
        name="min_hourly",
        needed=f"margin and labour at least {how}, so {_reached(needed, order)}",
        on_margin=ONE,
        amount=needed - figures.labour * quantity,
    )


def _min_price(policy: Policy, order: Order) -> Rule | None:
    least = policy.min_price
    if least is None:
        return None
    return Rule(
        name="min_price",
        needed=f"price at least {least:f} a piece",
        on_goods=ONE,
        amount=least * order.terms.quantity,
    )


def refusal(rule: Rule, trend: Trend, share: Decimal) -> NoPossiblePrice:
    """The error for a rule that leaves ``share`` [fraction] of the price for costs."""
    eaten = []
    if trend.net_share < ONE:
        eaten.append(f"tax takes {_share(ONE - trend.net_share)}")
    if rule.on_margin:
        eaten.append(f"fees take {_share(trend.fees_share)}")
    if rule.on_net < ZERO:
        asked = _share(-rule.on_net * trend.net_share)
        eaten.append(
            f"the margin asks {exact_percent(-rule.on_net)} of net, which is {asked}"
        )
    return NoPossiblePrice(
        f"no price can meet {rule.name}: of what is paid for the goods "
        f"{', '.join(eaten)}, and {_share(share)} is left for the costs; "
        f"lower {rule.name}, or sell where the fees are lower",
        rule=rule.name,
    )


def _share(rate: Decimal) -> str:
    return exact_percent(half_up(rate, RATE_STEP))
