"""Whether the bench differs from the book, and how sure that is.

Scrap and redo are judged by the exact binomial test at p < 0.05, minutes by the t
interval of the mean difference from the plan. Under eight tries nothing is said but
how many it takes. (From eight on some outcome would be significant whatever the
chance: of none failed and all failed one always is.)

A stage is asked all three each week, so what counts is how often one that does not
differ is flagged at all. Counts are discrete, so their tests err in one to two weeks
of a hundred; minutes judged at 95 % would bring the three together to seven in a
hundred, and at 97 % keep them under six. Counted with a simulated workshop, see
tests/pricing/margin_check.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from pricing import money
from pricing.margin_check.intervals import (
    CONFIDENCE,
    Interval,
    clopper_pearson,
    exact_binomial_p,
    jeffreys,
    mean_interval,
    wilson,
)
from pricing.margin_check.stage_evidence import (
    StageEvidence,
    StandardsEvidence,
    visits_per_try,
)
from pricing.money import ONE, ZERO

__all__ = [
    "CONFIDENCE",
    "FEWEST",
    "SURE_OF_MINUTES",
    "Finding",
    "Interval",
    "StageEvidence",
    "StandardsEvidence",
    "TooFew",
    "clopper_pearson",
    "exact_binomial_p",
    "jeffreys",
    "judge_minutes",
    "judge_redo",
    "judge_scrap",
    "judge_stage",
    "mean_interval",
    "visits_per_try",
    "wilson",
]

Kind = Literal["scrap", "redo", "minutes"]

FEWEST = 8
"""Tries under which nothing is said."""
SURE_OF_MINUTES = Decimal("0.97")
"""Confidence at which minutes are said to differ: a stage is asked three things."""

_VERBS = {"scrap": "scrapped", "redo": "sent back"}


@dataclass(frozen=True, slots=True, kw_only=True)
class TooFew:
    """Nothing can be said yet: ``n`` tries of the ``needed`` [tries]."""

    kind: Kind
    n: int
    needed: int = FEWEST

    @property
    def words(self) -> str:
        """It said to a person."""
        return f"{self.n} of the {self.needed} tries it takes; too few to say"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """The bench differs from the book.

    Attributes:
        kind: in what.
        n: tries it rests on [tries].
        expected: by the book: a chance [fraction], or minutes an attempt [min].
        observed: at the bench, the same.
        interval: 95 % for the observed: of a chance by Clopper and Pearson, of
            minutes by Student's t.
        jeffreys: the interval the book's own counts have; None for minutes.
        p: of the exact test [fraction]; None for minutes.
    """

    kind: Kind
    n: int
    expected: Decimal
    observed: Decimal
    interval: Interval
    jeffreys: Interval | None = None
    p: Decimal | None = None

    @property
    def words(self) -> str:
        """The evidence in one line, for a person."""
        low, high = self.interval
        if self.p is None:
            return (
                f"{_minutes(self.observed)} min an attempt, the book has "
                f"{_minutes(self.expected)}; 95 % between {_minutes(low)} and "
                f"{_minutes(high)}, n = {self.n}"
            )
        return (
            f"{_percent(self.observed)} {_VERBS[self.kind]}, the book has "
            f"{_percent(self.expected)}; 95 % between {_percent(low)} and "
            f"{_percent(high)}, {_p_words(self.p)}, n = {self.n}"
        )


Judgement = Finding | TooFew | None


def judge_scrap(*, failed: int, tried: int, chance: Decimal) -> Judgement:
    """Whether a stage scraps more or fewer pieces than the book says.

    Args:
        failed: scrapped there [tries].
        tried: visits [tries].
        chance: of the book, the mean of its counts [fraction].

    Returns:
        A finding where p < 0.05; None where the bench may well be as the book says.
    """
    return _judge_chance("scrap", failed, tried, chance=chance)


def judge_redo(*, redone: int, counted: int, tried: int, chance: Decimal) -> Judgement:
    """Whether a stage sends more or fewer pieces back than the book says.

    Some write visits down only where there was more than one, so attempts that tell
    them may be the very ones that were sent back. More than the book are therefore
    told from all visits, and fewer only from those of attempts that tell them.

    Args:
        redone: sent back from there [tries].
        counted: visits of attempts that tell their visits [tries].
        tried: all visits, told or not [tries].
        chance: of the book, the mean of its counts [fraction].
    """
    every = max(tried, counted)
    if redone > chance * every:
        return _judge_chance("redo", redone, every, chance=chance)
    if redone < chance * counted or counted < FEWEST:
        return _judge_chance("redo", redone, counted, chance=chance)
    return None


def _judge_chance(kind: Kind, failed: int, tried: int, *, chance: Decimal) -> Judgement:
    if tried < FEWEST:
        return TooFew(kind=kind, n=tried)
    p = exact_binomial_p(failed, tried, chance=chance)
    if p >= float(ONE - CONFIDENCE):
        return None
    return Finding(
        kind=kind,
        n=tried,
        expected=chance,
        observed=money.chance(failed / tried),
        interval=clopper_pearson(failed, tried),
        jeffreys=jeffreys(failed, tried),
        p=money.chance(p),
    )


def judge_minutes(evidence: StageEvidence) -> Judgement:
    """Whether a stage takes longer or shorter than the book says.

    The differences from the plan, attempt by attempt, have a mean; the stage
    differs where its 97 % interval leaves zero out. The 95 % interval is shown.
    """
    n = evidence.timed
    if n < FEWEST:
        return TooFew(kind="minutes", n=n)
    over, squares = evidence.minutes - evidence.planned_minutes, evidence.difference_sq
    sure = mean_interval(n, over, squares, confidence=SURE_OF_MINUTES)
    if sure.low <= ZERO <= sure.high:
        return None
    low, high = mean_interval(n, over, squares)
    with money.arithmetic():
        expected = evidence.planned_minutes / n
        return Finding(
            kind="minutes",
            n=n,
            expected=expected,
            observed=evidence.minutes / n,
            interval=Interval(expected + low, expected + high),
        )


def judge_stage(
    evidence: StageEvidence | StandardsEvidence,
    *,
    scrap_chance: Decimal,
    redo_chance: Decimal | None,
) -> tuple[Finding | TooFew, ...]:
    """All that can be said of a stage; empty where it is as the book says.

    Args:
        evidence: of the window; apart where a standard is older than another.
        scrap_chance: of the book [fraction].
        redo_chance: of the book [fraction]; None: never.
    """
    found = evidence.by_standard
    judged = (
        judge_scrap(
            failed=found.scrap.failed, tried=found.scrap.tried, chance=scrap_chance
        ),
        judge_redo(
            redone=found.redo.redone,
            counted=found.redo.counted,
            tried=found.redo.tried,
            chance=redo_chance or ZERO,
        ),
        judge_minutes(found.minutes),
    )
    return tuple(each for each in judged if each is not None)


def _percent(chance: Decimal) -> str:
    return f"{money.shown(chance * 100, Decimal('0.1'))} %"


def _minutes(minutes: Decimal) -> str:
    return money.shown(minutes, money.MINUTE_STEP)


def _p_words(p: Decimal) -> str:
    if p < money.RATE_STEP:
        return f"p under {money.RATE_STEP:f}"
    return f"p = {money.shown(p, money.RATE_STEP)}"
