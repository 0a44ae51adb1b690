"""Jobs drawn from a seed, with all that may be logged or left out."""

import random
from decimal import Decimal

from pricing.margin_check import (
    Attempt,
    CoinsUsed,
    JobActual,
    JobPlan,
    PlannedLine,
    PlannedStage,
)
from pricing.money import currency

KEYS = ("punch", "anneal", "fold", "bore", "polish")
CODES = ("EUR", "JPY", "KWD")


class Draw:
    """Figures from one seed, in one currency."""

    def __init__(self, seed, code="EUR"):
        self.rng = random.Random(seed)  # noqa: S311 - repeatable, nothing secret
        self.unit = currency(code)

    def amount(self, most):
        return self.rng.randint(0, most * 100) * self.unit.step

    def figure(self, most, step="0.01"):
        return self.rng.randint(0, int(most / Decimal(step))) * Decimal(step)

    def maybe(self, value):
        return value if self.rng.randrange(2) else None

    def stages(self, count, pieces):
        for i, key in enumerate(KEYS[:count]):
            visits = 1 + self.figure(Decimal("0.3"))
            each = self.figure(20)
            yield PlannedStage(
                key=key,
                title=key,
                minutes=each * pieces * (1 + self.figure(Decimal("0.2"))),
                minutes_per_try=each,
                redo_chance=self.maybe(Decimal("0.05")),
                redo_to=self.maybe(KEYS[self.rng.randint(0, i)]),
                visits_per_try=visits,
            )

    def line(self):
        pieces = self.rng.randint(1, 4)
        stages = tuple(self.stages(self.rng.randint(0, len(KEYS)), pieces))
        minutes = sum((each.minutes for each in stages), Decimal(0))
        return PlannedLine(
            coin_key="any",
            coin_name="Any coin",
            pieces=pieces,
            goods=self.amount(300),
            coins=pieces * (1 + self.figure(1, "0.000001")),
            coin_amount=self.amount(90),
            recovery=self.amount(12),
            labour=self.amount(80) if minutes else Decimal(0),
            overhead=self.amount(30) if minutes else Decimal(0),
            minutes=minutes,
            consumables_and_tools=self.amount(9),
            other=self.amount(8),
            slug_g=self.maybe(Decimal("4.1")),
            stages=stages,
        )

    def plan(self):
        lines = tuple(self.line() for _ in range(self.rng.randint(1, 3)))
        sold = sum((line.goods for line in lines), Decimal(0))
        return JobPlan(
            currency=self.unit,
            lines=lines,
            sold_price=sold,
            shipping_charged=self.amount(9),
            tax=min(sold, self.amount(60)),
            fees=self.amount(9),
            shipping_paid=self.amount(9),
            floor_margin=self.figure(1) / 2,
        )

    def attempts(self, i, line):
        keys = [stage.key for stage in line.stages]
        for _ in range(self.rng.choice((0, 0, line.pieces, line.pieces + 1))):
            scrapped = bool(keys) and self.rng.randrange(4) == 0
            logged = [key for key in keys if self.rng.randrange(2)]
            yield Attempt(
                line=i,
                outcome="scrapped" if scrapped else "good",
                stage=self.rng.choice(keys) if scrapped else None,
                minutes={key: self.figure(30) for key in logged},
                visits={
                    key: self.rng.randint(1, 3)
                    for key in keys
                    if self.rng.randrange(3) == 0
                },
                slug_g=self.maybe(Decimal("4.3")),
            )

    def actual(self, plan):
        attempts = [
            each for i, line in enumerate(plan.lines) for each in self.attempts(i, line)
        ]
        coins = [
            CoinsUsed(
                line=i,
                count=max(1, sum(each.line == i for each in attempts)),
                unit_cost=self.figure(60, "0.0001"),
            )
            for i in range(len(plan.lines))
            if self.rng.randrange(2)
        ]
        return JobActual(
            sold_price=self.maybe(plan.tax + self.amount(400)),
            shipping_charged=self.maybe(self.amount(12)),
            tax=self.maybe(plan.tax / 2 if plan.tax % 2 == 0 else plan.tax),
            fees=self.maybe(self.amount(15)),
            shipping_paid=self.maybe(self.amount(15)),
            recovery_sold=self.maybe(self.amount(20)),
            labour_rate=self.maybe(self.figure(60)),
            consumables_and_tools=self.maybe(self.amount(20)),
            coins=tuple(coins),
            attempts=tuple(attempts),
        )


def random_job(seed, code="EUR"):
    """A plan and what was logged of it."""
    draw = Draw(seed, code)
    plan = draw.plan()
    return plan, draw.actual(plan)


def random_week(seed):
    """Jobs of one week, none to six, in one currency."""
    draw = random.Random(seed)  # noqa: S311 - repeatable, nothing secret
    code = draw.choice(CODES)
    return [random_job(f"{seed}/{i}", code) for i in range(draw.randint(0, 6))]
