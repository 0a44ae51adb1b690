"""The exact parts of one line, before they are rounded."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from pricing.errors import Fault
from pricing.margin_check.actual import Attempt, CoinsUsed, JobActual
from pricing.margin_check.attempts import StageWorked, missing_share, stages_worked
from pricing.margin_check.plan import PlannedLine
from pricing.margin_check.variances import (
    efficiency_variance,
    price_variance,
    quantity_variance,
    rate_variance,
)
from pricing.money import ZERO


@dataclass(frozen=True, slots=True, kw_only=True)
class LineWorked:
    """What one line really took, what was not logged as planned.

    Attributes:
        plan: the line as planned.
        coins: put to work [coins].
        coin_amount: what they cost [currency].
        stages: minutes and counts, stage by stage.
        assumed: what was not logged, as paths from the line.
    """

    plan: PlannedLine
    coins: Decimal
    coin_amount: Decimal
    stages: tuple[StageWorked, ...]
    assumed: tuple[tuple[str, ...], ...]

    @property
    def minutes(self) -> Decimal:
        """Attended [min]."""
        return self.plan.minutes + sum((x.over_plan for x in self.stages), ZERO)

    def efficiency(self, stage: StageWorked) -> Decimal:
        """What longer or shorter work at a stage did to the margin [currency]."""
        return efficiency_variance(
            actual_hours=stage.actual_minutes / 60,
            standard_hours=stage.stage.minutes / 60,
            standard_rate=self.plan.labour_rate,
        )

    def parts(self, actual: JobActual) -> Mapping[str, Decimal]:
        """The parts that are the line's own, but labour efficiency [currency]."""
        plan, hours = self.plan, self.minutes / 60
        rate = plan.labour_rate if actual.labour_rate is None else actual.labour_rate
        used = self.minutes / plan.minutes if plan.minutes else Decimal(1)
        coins = self.coins / plan.coins if plan.coins else Decimal(1)
        found = {
            "metal_price": price_variance(
                actual_price=self.coin_amount / self.coins if self.coins else ZERO,
                standard_price=plan.coin_price,
                actual_quantity=self.coins,
            ),
            "spoilage": quantity_variance(
                actual_quantity=self.coins,
                standard_quantity=plan.coins,
                standard_price=plan.coin_price,
            ),
            "labour_rate": rate_variance(
                actual_rate=rate, standard_rate=plan.labour_rate, actual_hours=hours
            ),
            "overhead": efficiency_variance(
                actual_hours=hours,
                standard_hours=plan.minutes / 60,
                standard_rate=plan.overhead_rate,
            ),
        }
        # What is used up follows the minutes, and what comes back the coins, unless
        # they were measured; then they are shared out over the lines of the job.
        if actual.consumables_and_tools is None:
            found["consumables_and_tools"] = plan.consumables_and_tools * (1 - used)
        if actual.recovery_sold is None:
            found["recovery"] = plan.recovery * (coins - 1)
        return found


def line_worked(i: int, plan: PlannedLine, actual: JobActual) -> LineWorked:
    """What line ``i`` [position] really took."""
    attempts = [each for each in actual.attempts if each.line == i]
    bought = [each for each in actual.coins if each.line == i]
    coins, amount = _coins(plan, attempts, bought)
    stages = stages_worked(plan, attempts)
    return LineWorked(
        plan=plan,
        coins=coins,
        coin_amount=amount,
        stages=stages,
        assumed=tuple(_assumed(plan, attempts, bought, stages)),
    )


def _coins(
    plan: PlannedLine, attempts: Sequence[Attempt], bought: Sequence[CoinsUsed]
) -> tuple[Decimal, Decimal]:
    """Coins put to work and their cost [coins, currency].

    Without purchases every attempt took one coin at the standard price, and the
    pieces that no attempt tells of took as many as planned.
    """
    if bought:
        count = sum(each.count for each in bought)
        paid = (each.count * each.unit_cost for each in bought)
        return Decimal(count), sum(paid, ZERO)
    coins = len(attempts) + plan.coins * missing_share(plan, attempts)
    return coins, coins * plan.coin_price


def _assumed(
    plan: PlannedLine,
    attempts: Sequence[Attempt],
    bought: Sequence[CoinsUsed],
    stages: Sequence[StageWorked],
) -> Iterator[tuple[str, ...]]:
    if not bought:
        yield ("unit_cost",) if attempts else ("coins",)
    if attempts and missing_share(plan, attempts):
        yield ("attempts",)
    untimed = [each.stage.key for each in stages if each.assumed]
    if any(each.timed for each in stages):
        yield from (("minutes", key) for key in untimed)
    elif untimed:
        yield ("minutes",)


def readings(
    attempts: Sequence[Attempt], plan: PlannedLine
) -> tuple[tuple[Decimal, ...], tuple[Decimal, ...]]:
    """Scale readings of slug and bored metal over the model's [fraction]."""
    slugs = (each.slug_g for each in attempts)
    bored = (each.bored_g for each in attempts)
    return _over(slugs, plan.slug_g), _over(bored, plan.bored_g)


def _over(read: Iterator[Decimal | None], model: Decimal | None) -> tuple[Decimal, ...]:
    return tuple(mass / model for mass in read if mass is not None and model)


def dotted(*path: str | int) -> str:
    """A path the way a person writes it, such as ``lines[0].minutes.fold``."""
    return Fault(path, "").dotted
