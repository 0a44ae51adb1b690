"""Bench times that the log proposes; see ``learning``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from pricing import money
from pricing.margin_check.evidence import FEWEST, StageEvidence
from pricing.margin_check.proposal import Proposal
from pricing.money import ONE, ZERO
from pricing.price_book import Stage

PRIOR_SD = Decimal("0.15")
"""How far a standard of the book is usually off, as a share of it."""

_SD_RANGE = Decimal("0.05"), Decimal("0.50")
_STAGES_FOR_SD = 5
_PER_DRIVER_STEP = Decimal("0.001")


def prior_sd(evidence: Iterable[StageEvidence]) -> Decimal:
    """How far standards are off, by what all stages together show [share].

    τ² = mean of (ratio − 1)² less its own sampling variance, between 0.05 and 0.50;
    0.15 where fewer than five stages were timed often enough.
    """
    ratios = [_ratio(each) for each in evidence if _enough(each)]
    if len(ratios) < _STAGES_FOR_SD:
        return PRIOR_SD
    with money.arithmetic():
        excess = sum(((ratio - 1) ** 2 - var for ratio, var in ratios), ZERO)
        spread = max(ZERO, excess / len(ratios)).sqrt()
    return min(max(spread, _SD_RANGE[0]), _SD_RANGE[1])


def propose_minutes(
    stage: Stage, evidence: StageEvidence, *, prior_sd: Decimal = PRIOR_SD
) -> Proposal | None:
    """New minutes for a stage: all its times by one factor.

    factor = 1 + Z · (ratio − 1), with Z = τ² ÷ (τ² + σ²) of the ratio of minutes to
    plan. A stage that has no minutes in the book gets the mean of the bench.

    Args:
        stage: as the book has it.
        evidence: of a window in which it was planned so.
        prior_sd: τ, how far the book is usually off [share].

    Returns:
        None under eight timed attempts, or where no figure would change.
    """
    if evidence.timed < FEWEST:
        return None
    with money.arithmetic():
        if not _enough(evidence):
            minutes = money.minutes(evidence.minutes / evidence.timed)
            return _minutes_proposal(
                stage, evidence, {"minutes": minutes}, how="none planned, the mean"
            )
        ratio, variance = _ratio(evidence)
        credibility = prior_sd**2 / (prior_sd**2 + variance)
        factor = ONE + credibility * (ratio - 1)
        how = (
            f"{money.trimmed(ratio)} of plan over {evidence.timed} attempts, at "
            f"credibility {money.trimmed(credibility)}: × {money.trimmed(factor)}"
        )
        return _minutes_proposal(stage, evidence, _scaled(stage, factor), how=how)


def _enough(evidence: StageEvidence) -> bool:
    return evidence.timed >= FEWEST and evidence.planned_minutes > ZERO


def _ratio(evidence: StageEvidence) -> tuple[Decimal, Decimal]:
    """Minutes over planned minutes, and the sampling variance of that [fraction]."""
    n, planned = evidence.timed, evidence.planned_minutes
    with money.arithmetic():
        over = evidence.minutes - planned
        squares = max(ZERO, evidence.difference_sq - over * over / n)
        return evidence.minutes / planned, squares / (n - 1) * n / planned**2


def _scaled(stage: Stage, factor: Decimal) -> dict[str, Any]:
    """All times of a stage by ``factor``, as far as they are not nothing."""
    scaled: dict[str, Any] = {
        name: money.minutes(getattr(stage, name) * factor)
        for name in ("setup_minutes", "minutes")
        if getattr(stage, name)
    }
    if stage.minutes_per:
        scaled["minutes_per"] = {
            driver: money.half_up(each * factor, _PER_DRIVER_STEP)
            for driver, each in stage.minutes_per.items()
        }
    return scaled


def _minutes_proposal(
    stage: Stage, evidence: StageEvidence, new: dict[str, Any], *, how: str
) -> Proposal | None:
    before = {name: getattr(stage, name) for name in new}
    if all(before[name] == value for name, value in new.items()):
        return None
    return Proposal(
        path=("stages", stage.key, "minutes"),
        current=_minutes_words(before),
        proposed=_minutes_words(new),
        n=evidence.timed,
        how=how,
        sets={name: _written(value) for name, value in new.items()},
    )


def _minutes_words(times: Mapping[str, Any]) -> str:
    """Such as ``2 + 0.4 × land_mm, set-up 3``."""
    per = times.get("minutes_per", {})
    parts = [money.trimmed(times["minutes"])] if "minutes" in times else []
    parts += [f"{money.trimmed(each)} × {driver}" for driver, each in per.items()]
    words = " + ".join(parts)
    if "setup_minutes" not in times:
        return words
    setup = f"set-up {money.trimmed(times['setup_minutes'])}"
    return f"{words}, {setup}" if words else setup


def _written(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {name: _written(each) for name, each in value.items()}
    return money.trimmed(value)
