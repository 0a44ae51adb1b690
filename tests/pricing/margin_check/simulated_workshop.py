"""A workshop whose true rates and minutes are known, drawn from a seed.

Each ring is priced with the project's own estimate, its attempts are drawn from the
truth until one is good, and what was logged is checked against the plan.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

import numpy as np

from pricing.catalogue import catalogue_coin
from pricing.chance import estimated_chance
from pricing.estimate import prepare
from pricing.margin_check import (
    Attempt,
    CoinsUsed,
    JobActual,
    JobPlan,
    PlannedLine,
    PlannedStage,
    check_job,
)
from pricing.ring_size import us_size
from pricing.spot import Spot
from pricing.wish import Wish

COINS = tuple(map(catalogue_coin, ("us_dollar_1921_1935", "at_50s_1959_1973")))
SIZES = tuple(map(Decimal, ("7", "8.5", "9", "10", "11.5")))
HUNDREDTH = Decimal("0.01")


def chances(stage):
    """What the book says of a stage: the chance of scrap, and that of redo."""
    redo = estimated_chance(stage.redo.chance).value if stage.redo else Decimal(0)
    return estimated_chance(stage.scrap).value, redo


@dataclass(frozen=True)
class Truth:
    """What the bench is really like where it differs from the book it started with.

    Attributes:
        book: that book.
        scrap, redo: chances by stage; minutes: factors by stage.
        spread: coefficient of variation of the minutes of one visit.
    """

    book: object
    scrap: Mapping = field(default_factory=dict)
    redo: Mapping = field(default_factory=dict)
    minutes: Mapping = field(default_factory=dict)
    spread: float = 0.25

    def differs(self, kind):
        return set(getattr(self, kind))

    def exits(self):
        """Scrap, redo and the place of the way back, stage by stage."""
        keys = [stage.key for stage in self.book.stages]
        for stage in self.book.stages:
            scrap, redo = chances(stage)
            yield (
                float(self.scrap.get(stage.key, scrap)),
                float(self.redo.get(stage.key, redo)),
                keys.index(stage.redo.to if stage.redo else stage.key),
            )


class Bench:
    """One seed's rings, one after the other."""

    def __init__(self, truth, seed, *, tells="always"):
        self.truth, self.tells = truth, tells
        self.rng = np.random.default_rng(seed)
        self.exits = tuple(truth.exits())
        # ln of a factor with mean 1 and the wanted spread
        self.sigma = float(np.sqrt(np.log(1 + truth.spread**2)))
        self.spot = 27.5

    def ring(self, book):
        """One more ring, priced by ``book``: its plan and what was logged."""
        self.spot *= float(np.exp(self.rng.normal(0, 0.01)))
        coin = COINS[self.rng.integers(len(COINS))]
        wish = Wish(size=us_size(SIZES[self.rng.integers(len(SIZES))]))
        spot = Spot(price=Decimal(f"{self.spot:.4f}"), currency="EUR")
        priced = prepare(book, coin, wish).at(spot)
        # How long it really takes does not follow the book: the first one's minutes.
        work = prepare(self.truth.book, coin, wish).sheet.ingredients.work
        plan = plan_of(priced)
        return plan, self._logged(plan, [float(each.minutes) for each in work])

    def _logged(self, plan, minutes):
        attempts = [self._attempt(plan, minutes)]
        while attempts[-1].outcome == "scrapped":
            attempts.append(self._attempt(plan, minutes))
        off = Decimal(f"{self.rng.normal(0, 0.5):.2f}")
        cost = max(Decimal(0), plan.lines[0].coin_price + off)
        coins = CoinsUsed(count=len(attempts), unit_cost=cost)
        return JobActual(coins=(coins,), attempts=tuple(attempts))

    def _attempt(self, plan, minutes):
        stages = plan.lines[0].stages
        taken, visits = {}, {}
        at = 0
        while at < len(stages):
            key = stages[at].key
            mean = minutes[at] * self.truth.minutes.get(key, 1)
            drawn = mean * self.rng.lognormal(-(self.sigma**2) / 2, self.sigma)
            taken[key] = taken.get(key, 0) + drawn
            visits[key] = visits.get(key, 0) + 1
            scrap, redo, back = self.exits[at]
            luck = self.rng.random()
            if luck < scrap:
                return self._told("scrapped", key, taken, visits)
            at = back if luck < scrap + redo else at + 1
        return self._told("good", None, taken, visits)

    def _tells(self, visits):
        """Whether the maker writes down how often a piece came to its stages."""
        more = any(count > 1 for count in visits.values())
        return {"always": True, "where more than one": more, "never": False}[self.tells]

    def _told(self, outcome, stage, taken, visits):
        return Attempt(
            outcome=outcome,
            stage=stage,
            minutes={k: Decimal(f"{v:.2f}") for k, v in taken.items()},
            visits=visits if self._tells(visits) else {},
        )


def plan_of(priced):
    """The plan of an estimate, as a job keeps it."""
    pieces = priced.wish.quantity
    kinds = {k: v * pieces for k, v in priced.cost.by_kind.items()}
    sale, starts = priced.price.sale, priced.spoilage.starts_per_good

    def amount(*names):
        return sum((kinds.get(name, Decimal(0)) for name in names), Decimal(0))

    stages = tuple(
        _stage(work, chance, starts * pieces, priced)
        for work, chance in zip(priced.work, priced.spoilage.stages, strict=True)
    )
    line = PlannedLine(
        coin_key=priced.coin.key,
        coin_name=priced.coin.label,
        pieces=pieces,
        goods=sale.net + sale.tax,
        coins=starts * pieces,
        coin_amount=amount("coin"),
        recovery=-amount("recovery"),
        labour=amount("labour"),
        overhead=amount("overhead"),
        minutes=sum((each.minutes for each in stages), Decimal(0)),
        consumables_and_tools=amount("consumable", "tool"),
        other=amount("extra", "packaging", "after_sale"),
        stages=stages,
    )
    return JobPlan(
        currency=priced.currency,
        lines=(line,),
        sold_price=sale.net + sale.tax,
        shipping_charged=sale.shipping_net + sale.shipping_tax,
        tax=sale.tax_total,
        fees=sale.fees_total,
        shipping_paid=sale.shipping_paid,
        floor_margin=priced.policy.floor_margin,
    )


def _stage(work, chance, starts, priced):
    visits = chance.visits / chance.reached
    keys = [each.key for each in priced.spoilage.stages]
    return PlannedStage(
        key=work.key,
        title=work.title,
        minutes=starts * chance.visits * work.minutes,
        minutes_per_try=visits * work.minutes,
        scrap_chance=chance.scrap.value,
        redo_chance=chance.redo.value if chance.redo else None,
        redo_to=keys[chance.redo_to] if chance.redo else None,
        visits_per_try=visits,
    )


def checked(bench, book, rings):
    """Checks of so many more rings."""
    return [check_job(*bench.ring(book)) for _ in range(rings)]
