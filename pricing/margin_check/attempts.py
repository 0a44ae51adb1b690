"""What the attempts of one line say of each stage."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from pricing.margin_check.actual import Attempt
from pricing.margin_check.outcome import StageCounts
from pricing.margin_check.plan import PlannedLine, PlannedStage
from pricing.money import ZERO

Route = tuple[PlannedStage, ...]


@dataclass(frozen=True, slots=True)
class Trail:
    """The way of one attempt along the route.

    Attributes:
        attempt: as it was logged.
        visits: to each stage, in route order [visits].
        redone: times it was sent back from each stage [visits]; all 0 where it does
            not tell its visits.
    """

    attempt: Attempt
    visits: tuple[int, ...]
    redone: tuple[int, ...]

    @property
    def told(self) -> bool:
        """Whether it tells how often it came to a stage."""
        return bool(self.attempt.visits)

    def planned_minutes(self, i: int, stage: PlannedStage) -> Decimal:
        """What stage ``i`` [position] was to take of it [min]."""
        if not self.visits[i]:
            return ZERO
        if self.told:
            return stage.minutes_per_visit * self.visits[i]
        return stage.minutes_per_try


def trail(attempt: Attempt, route: Route) -> Trail:
    """Where an attempt came along, and from where it was sent back.

    It came to every stage up to the one that scrapped it, once unless it says
    otherwise, and to any other that it names. Each time that a stage sends a piece
    back adds one visit to every stage from there to itself; told from the last
    stage to the first, the visits therefore say how often each one did.
    """
    last = _last_stage(attempt, route)
    visits = tuple(
        attempt.visits.get(stage.key, int(i <= last or stage.key in attempt.minutes))
        for i, stage in enumerate(route)
    )
    if not attempt.visits:
        return Trail(attempt, visits, (0,) * len(route))
    places = {stage.key: i for i, stage in enumerate(route)}
    redone = [0] * len(route)
    for i in reversed(range(len(route))):
        through = sum(
            redone[j]
            for j in range(i + 1, len(route))
            if places.get(route[j].redo_to or "", j) <= i
        )
        redone[i] = max(0, visits[i] - int(i <= last) - through)
    return Trail(attempt, visits, tuple(redone))


def _last_stage(attempt: Attempt, route: Route) -> int:
    """Position of the stage it left the route from."""
    keys = [stage.key for stage in route]
    if attempt.outcome == "good" or attempt.stage not in keys:
        return len(route) - 1
    return keys.index(attempt.stage)


@dataclass(frozen=True, slots=True, kw_only=True)
class StageWorked(StageCounts):
    """The minutes of one stage of a line, and what its attempts say.

    Attributes:
        stage: as planned.
        actual_minutes: of the whole line, what was not logged as planned [min].
        assumed: whether any of that was not logged.
    """

    stage: PlannedStage
    actual_minutes: Decimal
    assumed: bool

    @property
    def over_plan(self) -> Decimal:
        """Minutes over those planned for the line [min]."""
        return self.actual_minutes - self.stage.minutes


def missing_share(line: PlannedLine, attempts: Sequence[Attempt]) -> Decimal:
    """Share of a line's good pieces that no attempt tells of [fraction]."""
    good = sum(1 for attempt in attempts if attempt.outcome == "good")
    return Decimal(max(0, line.pieces - good)) / line.pieces


def stages_worked(
    line: PlannedLine, attempts: Sequence[Attempt]
) -> tuple[StageWorked, ...]:
    """What the attempts of a line say of its stages, in route order."""
    trails = [trail(attempt, line.stages) for attempt in attempts]
    missing = missing_share(line, attempts)
    return tuple(
        _worked(i, stage, trails, missing=missing)
        for i, stage in enumerate(line.stages)
    )


def _worked(
    i: int, stage: PlannedStage, trails: Sequence[Trail], *, missing: Decimal
) -> StageWorked:
    here = [each for each in trails if each.visits[i]]
    timed = [each for each in here if stage.key in each.attempt.minutes]
    untimed = [each for each in here if stage.key not in each.attempt.minutes]
    minutes = _sum(each.attempt.minutes[stage.key] for each in timed)
    filled = _sum(each.planned_minutes(i, stage) for each in untimed)
    logged = minutes + filled + stage.minutes * missing
    return StageWorked(
        stage=stage,
        actual_minutes=logged if timed else stage.minutes,
        assumed=not timed or bool(untimed) or bool(missing),
        tried=sum(each.visits[i] for each in here),
        failed=sum(1 for each in here if each.attempt.stage == stage.key),
        counted=sum(each.visits[i] for each in here if each.told),
        redone=sum(each.redone[i] for each in here),
        timed=len(timed),
        minutes=minutes,
        planned_minutes=_sum(each.planned_minutes(i, stage) for each in timed),
        difference_sq=_sum(_difference_sq(i, stage, each) for each in timed),
    )


def _difference_sq(i: int, stage: PlannedStage, trail_: Trail) -> Decimal:
    """(minutes − plan)², and no less than what untold visits make uncertain [min²].

    Visits of an attempt that comes here are geometric: their variance is v(v − 1).
    Ten rings none of which was sent back would otherwise look like ten exact
    measurements that the plan is wrong.
    """
    actual = trail_.attempt.minutes[stage.key]
    squared = (actual - trail_.planned_minutes(i, stage)) ** 2
    if trail_.told:
        return squared
    visits = stage.visits_per_try
    return max(squared, stage.minutes_per_visit**2 * visits * (visits - 1))


def _sum(values: Iterable[Decimal]) -> Decimal:
    return sum(values, ZERO)
