"""One job, planned against realised, with a bridge whose parts add up exactly.

realised margin − planned margin = Σ parts. Every part is worked out in full
precision; the parts of a line, labour efficiency stage by stage, are then rounded
to the minor unit by largest remainder, a job is the sum of its lines and a week
the sum of its jobs. What falls once a job (price, fees, shipping, tax, and metal
sold or materials measured as a whole) is shared over the lines in whole minor
units. What was not logged is taken as planned and makes no difference; of a tax that
is the planned share of what was paid.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from types import MappingProxyType

from pricing import money
from pricing.margin_check.actual import MONEY, JobActual
from pricing.margin_check.line_bridge import (
    LineWorked,
    dotted,
    line_worked,
    readings,
)
from pricing.margin_check.outcome import (
    PARTS,
    JobCheck,
    LineCheck,
    StageOutcome,
    Totals,
    counts_of,
)
from pricing.margin_check.plan import JobPlan
from pricing.margin_check.soundness import refuse_unsound
from pricing.money import ZERO

__all__ = [
    "PARTS",
    "JobCheck",
    "LineCheck",
    "StageOutcome",
    "Totals",
    "check_job",
]

_MINUTES_STEP = Decimal("0.000001")


def check_job(plan: JobPlan, actual: JobActual) -> JobCheck:
    """What came of a job, and what made it differ from its plan.

    Args:
        plan: what was promised, in whole minor units [currency].
        actual: what was logged.

    Raises:
        InvalidInput: figures that cannot be, all of them listed by their paths.
    """
    refuse_unsound(plan, actual)
    with money.arithmetic():
        worked = [line_worked(i, x, actual) for i, x in enumerate(plan.lines)]
        return _job(plan, actual, worked, tuple(_lines(plan, actual, worked)))


def _lines(
    plan: JobPlan, actual: JobActual, worked: Sequence[LineWorked]
) -> Iterator[LineCheck]:
    whole = _shared_parts(plan, actual)
    goods = [line.goods for line in plan.lines]
    came_in = _shares(plan.net - plan.fees - plan.shipping_paid, goods, plan)
    for i, line in enumerate(worked):
        exact = {
            **{name: shares[i] for name, shares in whole.items()},
            **line.parts(actual),
        }
        parts, stages = _rounded(line, exact, plan)
        margin = came_in[i] - line.plan.cost
        attempts = [each for each in actual.attempts if each.line == i]
        slugs, bored = readings(attempts, line.plan)
        yield LineCheck(
            coin_key=line.plan.coin_key,
            coin_name=line.plan.coin_name,
            pieces=line.plan.pieces,
            coins_planned=line.plan.coins,
            coins_used=money.half_up(line.coins, money.CHANCE_STEP),
            planned_margin=margin,
            realised_margin=margin + sum(parts.values(), ZERO),
            parts=parts,
            stages=stages,
            slug_ratios=slugs,
            bored_ratios=bored,
        )


def _shared_parts(
    plan: JobPlan, actual: JobActual
) -> Mapping[str, tuple[Decimal, ...]]:
    """What falls once a job, shared over its lines in whole minor units [currency]."""
    goods = [line.goods for line in plan.lines]
    charged = _over(actual.shipping_charged, plan.shipping_charged)
    whole = {
        "price": (_over(actual.sold_price, plan.sold_price), goods),
        "fees": (-_over(actual.fees, plan.fees), goods),
        "shipping": (charged - _over(actual.shipping_paid, plan.shipping_paid), goods),
        "tax": (plan.tax - _tax(plan, actual), goods),
    }
    if actual.recovery_sold is not None:
        each = [line.recovery for line in plan.lines]
        whole["recovery"] = actual.recovery_sold - sum(each, ZERO), each
    if actual.consumables_and_tools is not None:
        each = [line.consumables_and_tools for line in plan.lines]
        whole["consumables_and_tools"] = (
            sum(each, ZERO) - actual.consumables_and_tools,
            each,
        )
    return {
        name: _shares(amount, weights, plan)
        for name, (amount, weights) in whole.items()
    }


def _over(actual: Decimal | None, planned: Decimal) -> Decimal:
    """Actual − planned; nothing where it was not logged."""
    return ZERO if actual is None else actual - planned


def _shares(
    whole: Decimal, weights: Sequence[Decimal], plan: JobPlan
) -> tuple[Decimal, ...]:
    """``whole`` shared by ``weights``, or by pieces where they are all nothing."""
    total = sum(weights, ZERO)
    if not total:
        weights = [Decimal(line.pieces) for line in plan.lines]
        total = sum(weights, ZERO)
    return money.share_out([whole * each / total for each in weights], plan.currency)


def _rounded(
    line: LineWorked, exact: Mapping[str, Decimal], plan: JobPlan
) -> tuple[Mapping[str, Decimal], tuple[StageOutcome, ...]]:
    """Parts and stages of a line in whole minor units, by largest remainder."""
    own = [name for name in PARTS if name != "labour_efficiency"]
    stages = [line.efficiency(stage) for stage in line.stages]
    rounded = money.share_out([exact[name] for name in own] + stages, plan.currency)
    by_stage = rounded[len(own) :]
    found = dict(zip(own, rounded, strict=False))
    found["labour_efficiency"] = sum(by_stage, ZERO)
    return MappingProxyType({name: found[name] for name in PARTS}), tuple(
        StageOutcome(
            key=each.stage.key,
            title=each.stage.title,
            labour_efficiency=amount,
            **counts_of(each)
            | {
                "planned_minutes": money.half_up(each.planned_minutes, _MINUTES_STEP),
                "difference_sq": money.half_up(each.difference_sq, _MINUTES_STEP),
            },
        )
        for each, amount in zip(line.stages, by_stage, strict=True)
    )


def _job(
    plan: JobPlan,
    actual: JobActual,
    worked: Sequence[LineWorked],
    lines: tuple[LineCheck, ...],
) -> JobCheck:
    parts = {name: sum((x.parts[name] for x in lines), ZERO) for name in PARTS}
    planned = Totals(revenue=plan.net, cost=plan.cost, margin=plan.margin)
    realised = _realised(plan, actual, sum(parts.values(), ZERO))
    minutes = money.minutes(sum((x.minutes for x in worked), ZERO))
    wages = sum((x.labour for x in plan.lines), ZERO)
    labour = wages - parts["labour_rate"] - parts["labour_efficiency"]
    under = _under_floor(plan, actual, realised)
    return JobCheck(
        lines=lines,
        planned=planned,
        realised=realised,
        parts=MappingProxyType(parts),
        minutes=minutes,
        planned_minutes=money.minutes(sum((x.minutes for x in plan.lines), ZERO)),
        labour=labour,
        hourly=(
            money.amount((realised.margin + labour) * 60 / minutes, plan.currency)
            if minutes
            else None
        ),
        under_floor=under,
        cause=_cause(plan, planned, parts) if under else None,
        assumed=tuple(_assumed(actual, worked)),
    )


def _realised(plan: JobPlan, actual: JobActual, difference: Decimal) -> Totals:
    sold, charged, tax = _money(plan, actual)
    revenue, margin = sold + charged - tax, plan.margin + difference
    return Totals(revenue=revenue, cost=revenue - margin, margin=margin)


def _money(plan: JobPlan, actual: JobActual) -> tuple[Decimal, Decimal, Decimal]:
    """Goods, shipping charged and the tax inside both [currency]."""
    return (*_paid(plan, actual), _tax(plan, actual))


def _paid(plan: JobPlan, actual: JobActual) -> tuple[Decimal, Decimal]:
    """What the buyer paid for goods and for sending them [currency]."""
    return (
        plan.sold_price + _over(actual.sold_price, plan.sold_price),
        plan.shipping_charged + _over(actual.shipping_charged, plan.shipping_charged),
    )


def _tax(plan: JobPlan, actual: JobActual) -> Decimal:
    """The tax inside what the buyer paid [currency].

    If it was not logged, the same share of what was paid as in the plan: who sells for
    less owes less.
    """
    if actual.tax is not None:
        return actual.tax
    planned = plan.sold_price + plan.shipping_charged
    if not planned:
        return plan.tax
    return money.amount(plan.tax * sum(_paid(plan, actual)) / planned, plan.currency)


def _under_floor(plan: JobPlan, actual: JobActual, made: Totals) -> bool:
    """Margin < floor × net of the goods; tax falls on goods and sending alike."""
    sold, charged, _ = _money(plan, actual)
    paid = sold + charged
    if not paid:
        return made.margin < ZERO
    return made.margin * paid < plan.floor_margin * made.revenue * sold


def _cause(plan: JobPlan, planned: Totals, parts: Mapping[str, Decimal]) -> str:
    worst = min(PARTS, key=lambda name: parts[name])
    as_planned = _under_floor(plan, JobActual(), planned)
    return "plan" if as_planned or parts[worst] >= ZERO else worst


def _assumed(actual: JobActual, worked: Sequence[LineWorked]) -> Iterator[str]:
    for name in MONEY:
        if getattr(actual, name) is None:
            yield name
    for i, line in enumerate(worked):
        yield from (dotted("lines", i, *path) for path in line.assumed)
