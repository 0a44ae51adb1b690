"""What a window of jobs says of one stage, and what it leaves in doubt."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from pricing import money
from pricing.margin_check.outcome import COUNTS, StageCounts, StageOutcome
from pricing.money import ZERO
from pricing.price_book import Stage
from pricing.spoilage import spoilage


@dataclass(frozen=True, slots=True, kw_only=True)
class StageEvidence(StageCounts):
    """What a window of jobs says of one stage: sums of ``StageOutcome``.

    Attributes:
        key, title: of the stage.
    """

    key: str
    title: str

    @classmethod
    def gathered(cls, outcomes: Iterable[StageOutcome]) -> tuple[StageEvidence, ...]:
        """One for each stage, in the order they are first seen."""
        found: dict[str, StageEvidence] = {}
        for each in outcomes:
            so_far = found.get(each.key) or cls(key=each.key, title=each.title)
            found[each.key] = so_far.plus(each)
        return tuple(found.values())

    def plus(self, more: StageCounts) -> StageEvidence:
        """The same with the sums of ``more`` in it."""
        both = ((name, getattr(self, name), getattr(more, name)) for name in COUNTS)
        return replace(self, **{name: ours + theirs for name, ours, theirs in both})

    @property
    def by_standard(self) -> StandardsEvidence:
        """The same for every standard."""
        return StandardsEvidence(scrap=self, redo=self, minutes=self)

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


@dataclass(frozen=True, slots=True, kw_only=True)
class StandardsEvidence:
    """What says something of each standard of a stage.

    Once one of them is new, the jobs before say nothing more about it. They still do
    of the others, with all their visits: those that were not told are judged by how
    many came in all.
    """

    scrap: StageEvidence
    redo: StageEvidence
    minutes: StageEvidence

    @property
    def by_standard(self) -> StandardsEvidence:
        """Itself."""
        return self


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
