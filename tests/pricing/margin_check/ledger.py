"""A second reckoning of what a job made, in fractions and without any variances."""

from fractions import Fraction
from math import floor


def realised_margin(plan, actual):
    """What is left, exactly: all that came in less all that went out."""
    came_in = taken(plan, actual, "sold_price") + taken(
        plan, actual, "shipping_charged"
    )
    went_out = taken(plan, actual, "fees") + taken(plan, actual, "shipping_paid")
    went_out += measured(actual.tax, lambda: tax_inside(plan, came_in))
    lines = [Line(i, line, actual) for i, line in enumerate(plan.lines)]
    sold, used = actual.recovery_sold, actual.consumables_and_tools
    came_in += measured(sold, lambda: sum(each.recovery() for each in lines))
    went_out += measured(used, lambda: sum(each.consumables() for each in lines))
    return came_in - went_out - sum(each.cost(actual) for each in lines)


def measured(value, otherwise):
    return otherwise() if value is None else Fraction(value)


def tax_inside(plan, paid):
    """The plan's share of what was paid, to the nearest minor unit."""
    planned = Fraction(plan.sold_price) + Fraction(plan.shipping_charged)
    if not planned:
        return Fraction(plan.tax)
    step = Fraction(plan.currency.step)
    return floor(Fraction(plan.tax) * paid / planned / step + Fraction(1, 2)) * step


def taken(plan, actual, name):
    logged = getattr(actual, name)
    return Fraction(getattr(plan, name) if logged is None else logged)


class Line:
    """One line's coins and minutes."""

    def __init__(self, i, plan, actual):
        self.plan = plan
        self.attempts = [each for each in actual.attempts if each.line == i]
        good = sum(each.outcome == "good" for each in self.attempts)
        self.missing = Fraction(max(0, plan.pieces - good), plan.pieces)
        bought = [each for each in actual.coins if each.line == i]
        standard = Fraction(plan.coin_amount) / Fraction(plan.coins)
        self.coins = len(self.attempts) + Fraction(plan.coins) * self.missing
        self.paid = self.coins * standard
        if bought:
            self.coins = Fraction(sum(each.count for each in bought))
            self.paid = sum(each.count * Fraction(each.unit_cost) for each in bought)
        self.minutes = Fraction(plan.minutes) - sum(
            Fraction(stage.minutes) - self.stage_minutes(i, stage)
            for i, stage in enumerate(plan.stages)
        )

    def stage_minutes(self, place, stage):
        if not any(stage.key in each.minutes for each in self.attempts):
            return Fraction(stage.minutes)
        spent = Fraction(stage.minutes) * self.missing
        for each in self.attempts:
            if stage.key in each.minutes:
                spent += Fraction(each.minutes[stage.key])
            elif each.visits:
                visits = each.visits.get(stage.key, int(self.passed(each, place)))
                tries = visits / Fraction(stage.visits_per_try)
                spent += Fraction(stage.minutes_per_try) * tries
            elif self.passed(each, place):
                spent += Fraction(stage.minutes_per_try)
        return spent

    def passed(self, attempt, place):
        keys = [stage.key for stage in self.plan.stages]
        return attempt.stage is None or place <= keys.index(attempt.stage)

    def longer(self):
        planned = Fraction(self.plan.minutes)
        return self.minutes / planned if planned else Fraction(1)

    def recovery(self):
        return Fraction(self.plan.recovery) * self.coins / Fraction(self.plan.coins)

    def consumables(self):
        return Fraction(self.plan.consumables_and_tools) * self.longer()

    def cost(self, actual):
        """Coins, wages, overhead and the rest that does not change."""
        wages = Fraction(self.plan.labour) * self.longer()
        if actual.labour_rate is not None:
            wages = Fraction(actual.labour_rate) * self.minutes / 60
        overhead = Fraction(self.plan.overhead) * self.longer()
        return self.paid + wages + overhead + Fraction(self.plan.other)
