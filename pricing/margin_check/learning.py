"""What the bench teaches the price book: new standards, drawn towards the old ones.

Few data move a standard little, many move it far. Chances: the book's counts are a
Beta prior, weighted so that it counts for 50 tries at the most [2], to which the
bench's counts are added [1]; a given rate counts for 20 tries. Minutes: one factor
a stage, drawn towards 1 as a normal mean is towards its prior [1]; how far the book
is usually off (15 %, or what all stages together show) against how much the
attempts scatter is the credibility of the bench [3]. Scale readings: likewise,
drawn towards the calibration in force.

Propose where a stage is flagged, so that no standard moves by mere luck. Evidence
may be used once: after a proposal was accepted, only jobs planned with the new
standard say anything about it. The ones before are in the book already, and their
minutes were measured against another plan.

References:
    [1] A. Gelman et al., "Bayesian Data Analysis", ch. 2: conjugate priors of a
        binomial chance and of a normal mean (from memory).
    [2] J. G. Ibrahim and M.-H. Chen, "Power prior distributions for regression
        models", Statistical Science 15 (2000): data of before at a weight under
        one, so that the bench can still move the book (from memory).
    [3] H. Bühlmann, "Experience rating and credibility", ASTIN Bulletin 4 (1967):
        Z = τ² ÷ (τ² + σ² ÷ n) (from memory). The spread between stages is taken
        by the method of moments.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Literal

from pricing import money
from pricing.margin_check.chance_learning import (
    MOST_BOOK_TRIES,
    RATE_TRIES,
    propose_redo,
    propose_scrap,
)
from pricing.margin_check.evidence import (
    Finding,
    Judgement,
    StageEvidence,
    StandardsEvidence,
)
from pricing.margin_check.minutes_learning import (
    PRIOR_SD,
    prior_sd,
    propose_minutes,
)
from pricing.margin_check.proposal import Proposal, apply_proposals
from pricing.money import ZERO
from pricing.price_book import Calibration, Stage

__all__ = [
    "MOST_BOOK_TRIES",
    "PRIOR_SD",
    "RATE_TRIES",
    "Proposal",
    "Removed",
    "apply_proposals",
    "prior_sd",
    "propose_calibration",
    "propose_minutes",
    "propose_redo",
    "propose_scrap",
    "propose_stage",
]

Removed = Literal["slug", "bored"]

_READINGS = 3
_READING_SD = Decimal("0.02")
_CALIBRATED = Decimal("0.5"), Decimal(2)
_FACTOR_STEP = Decimal("0.001")


def propose_stage(
    stage: Stage,
    evidence: StageEvidence | StandardsEvidence,
    judged: Iterable[Judgement],
    *,
    prior_sd: Decimal = PRIOR_SD,
) -> tuple[Proposal, ...]:
    """New standards for what a stage was found to differ in, and for nothing else.

    Args:
        stage: as the book has it.
        evidence: of a window in which it was planned so; apart where a standard is
            older than another.
        judged: what ``judge_stage`` said of it.
        prior_sd: how far the book's minutes are usually off [share].
    """
    found = {each.kind for each in judged if isinstance(each, Finding)}
    seen = evidence.by_standard
    proposals = {
        "scrap": propose_scrap(stage, seen.scrap),
        "redo": propose_redo(stage, seen.redo),
        "minutes": propose_minutes(stage, seen.minutes, prior_sd=prior_sd),
    }
    return tuple(x for kind, x in proposals.items() if x is not None and kind in found)


def propose_calibration(
    current: Calibration, removed: Removed, ratios: Sequence[Decimal]
) -> Proposal | None:
    """A new factor of one coin for the metal that is ``removed``.

    factor = current + Z · (mean − current), with Z = τ² ÷ (τ² + s² ÷ n).

    Args:
        current: in force.
        removed: which removal.
        ratios: each scale reading over the model's mass without calibration
            [fraction].

    Returns:
        None under three readings, or where the factor stays.
    """
    n = len(ratios)
    if n < _READINGS or not current.coin:
        return None
    before: Decimal = getattr(current, removed)
    with money.arithmetic():
        mean = sum(ratios, ZERO) / n
        spread = sum(((each - mean) ** 2 for each in ratios), ZERO) / (n - 1)
        variance = max(spread, _READING_SD**2) / n
        credibility = PRIOR_SD**2 / (PRIOR_SD**2 + variance)
        drawn = before + credibility * (mean - before)
    factor = money.half_up(
        min(max(drawn, _CALIBRATED[0]), _CALIBRATED[1]), _FACTOR_STEP
    )
    if factor == before:
        return None
    return Proposal(
        path=("calibrations", current.coin, removed),
        current=money.trimmed(before),
        proposed=money.trimmed(factor),
        n=n,
        how=f"the scale showed {money.trimmed(mean)} of the model's mass, at "
        f"credibility {money.trimmed(credibility)}",
        sets={removed: money.trimmed(factor)},
    )
