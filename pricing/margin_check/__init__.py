"""What was planned against what came: the bridge, the evidence, and what to learn.

``check_job`` compares one job with its plan, ``judge_stage`` says where the bench
differs from the book, and the proposals of ``learning`` bring the book to the bench.
"""

from pricing.margin_check.actual import Attempt, CoinsUsed, JobActual
from pricing.margin_check.bridge import (
    PARTS,
    JobCheck,
    LineCheck,
    StageOutcome,
    Totals,
    check_job,
)
from pricing.margin_check.evidence import (
    Finding,
    StageEvidence,
    TooFew,
    judge_minutes,
    judge_redo,
    judge_scrap,
    judge_stage,
    visits_per_try,
)
from pricing.margin_check.plan import JobPlan, PlannedLine, PlannedStage

__all__ = [
    "PARTS",
    "Attempt",
    "CoinsUsed",
    "Finding",
    "JobActual",
    "JobCheck",
    "JobPlan",
    "LineCheck",
    "PlannedLine",
    "PlannedStage",
    "StageEvidence",
    "StageOutcome",
    "TooFew",
    "Totals",
    "check_job",
    "judge_minutes",
    "judge_redo",
    "judge_scrap",
    "judge_stage",
    "visits_per_try",
]
