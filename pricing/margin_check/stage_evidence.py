"""What a window of jobs says of one stage, and what it leaves in doubt."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace
from decimal import Decimal

from pricing import money
from pricing.margin_check.outcome import StageOutcome
from pricing.money import ZERO
from pricing.price_book import Stage
from pricing.spoilage import spoilage


@dataclass(frozen=True, slots=True, kw_only=True)
class StageEvidence:
    """What a window of jobs says of one stage: sums of ``StageOutcome``.

    Attributes:
        key, title: of the stage.
        tried, failed, counted, redone, timed: as of ``StageOutcome``.
        minutes, planned_minutes: of the timed attempts [min].
        difference_sq: of the timed attempts [min²].
    """

    key: str
    title: str
    tried: int = 0
    failed: int = 0
    counted: int = 0
    redone: int = 0
    timed: int = 0
    minutes: Decimal = ZERO
    planned_minutes: Decimal = ZERO
    difference_sq: Decimal = ZERO

    @classmethod
    def gathered(cls, outcomes: Iterable[StageOutcome]) -> tuple[StageEvidence, ...]:
        """One for each stage, in the order they are first seen."""
        found: dict[str, StageEvidence] = {}
        summed = [field.name for field in fields(cls)][2:]
        for each in outcomes:
            so_far = found.get(each.key) or cls(key=each.key, title=each.title)
            added = {n: getattr(so_far, n) + getattr(each, n) for n in summed}
            found[each.key] = replace(so_far, **added)
        return tuple(found.values())

    def in_doubt(self, visits_per_try: Decimal) -> StageEvidence:
        """The same with the plan as near to the minutes as untold visits allow.

        An attempt that tells no visits is planned with as many as the book expects.
        Where only more than one is written down, it had one, and was to take as much
        less. Nobody knows which, so minutes between the two are as planned, and
        others are held against the nearer one.

        Args:
            visits_per_try: that the book expects of a piece that comes here [visits].
        """
        if not self.timed or not self.tried:
            return self
        with money.arithmetic():
            untold = Decimal(self.tried - min(self.counted, self.tried)) / self.tried
            least = self.planned_minutes * (1 - untold * (1 - 1 / visits_per_try))
            plan = max(least, min(self.minutes, self.planned_minutes))
            less = (self.planned_minutes - plan) / self.timed
            over = self.minutes - self.planned_minutes
            squares = self.difference_sq + less * (2 * over + less * self.timed)
        return replace(self, planned_minutes=plan, difference_sq=max(ZERO, squares))


def visits_per_try(stages: tuple[Stage, ...]) -> Mapping[str, Decimal]:
    """Visits that a piece which comes to a stage makes there [visits], by its key.

    Raises:
        InvalidInput: a route that cannot be, as ``pricing.spoilage``.
    """
    return {
        each.key: each.visits / each.reached
        for each in spoilage(stages).stages
        if each.reached
    }
